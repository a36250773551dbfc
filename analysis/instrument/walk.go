package instrument

import (
	"fmt"
	"math"
	"slices"

	"ringwell/analysis"
)

// Walk measures a real instrument: it is struck note after note, upwards, and
// each strike is taken for the note at hand.
//
// An instrument that is in its usual places is recognised: a strike nearest to
// the note at hand is taken, one nearest to the note just taken is a repeat and
// is averaged with it, and any other is passed over. On a prepared one every
// strike is taken as it comes, with several pitches or none.
type Walk struct {
	Base     Instrument
	Prepared bool
	Notes    []WalkNote // as Base.Notes
	At       int        // index of the note at hand; len(Notes): all are done
	Notice   string     // on the last strike, where it was passed over
	last     int        // index of the note last taken; -1: none
}

// WalkNote is what was measured of one note.
type WalkNote struct {
	Key      int
	Label    string
	Strikes  int
	Skipped  bool
	Targets  []analysis.Hz // mean over the strikes, in pitch
	Partials []analysis.Partial
}

// NewWalk begins at the lowest note.
func NewWalk(base Instrument, prepared bool) *Walk {
	w := &Walk{Base: base, Prepared: prepared, last: -1}
	for _, n := range base.Notes {
		w.Notes = append(w.Notes, WalkNote{Key: n.Key, Label: n.Label})
	}
	return w
}

// secondCounts is the share of listeners from which on a prepared string's
// second pitch is one of its places. Chosen.
const secondCounts = 0.25

// farOff is how far a strike may lie from every note, in cents, and still be
// one of the instrument's.
const farOff = 150

// Hear takes a strike for a note, or says in Notice why not.
func (w *Walk) Hear(s analysis.Strike) bool {
	w.Notice = ""
	i := w.At
	if !w.Prepared {
		if s.Heard == nil {
			w.Notice = "No pitch was heard. Strike the note again, or skip it."
			return false
		}
		near := w.nearest(s.Heard.Frequency)
		switch {
		case near < 0:
			w.Notice = fmt.Sprintf("That lies far from every note of the %s.", w.Base.Name)
			return false
		case near == w.At:
		case near == w.last:
			w.add(near, s)
			return true
		default:
			w.Notice = fmt.Sprintf("That was near %s; %s.", w.Notes[near].Label, w.atHand())
			return false
		}
	}
	if i >= len(w.Notes) {
		w.Notice = w.atHand()
		return false
	}
	w.add(i, s)
	w.last, w.At = i, i+1
	return true
}

func (w *Walk) atHand() string {
	if w.At >= len(w.Notes) {
		return "all notes are done"
	}
	return w.Notes[w.At].Label + " is at hand"
}

// nearest is the note nearest to a frequency; -1 where none is near.
func (w *Walk) nearest(f analysis.Hz) int {
	best, off := -1, float64(farOff)
	for i, n := range w.Base.Notes {
		for _, t := range n.Targets {
			if d := math.Abs(float64(f.Above(t))); d <= off {
				best, off = i, d
			}
		}
	}
	return best
}

func (w *Walk) add(i int, s analysis.Strike) {
	n := &w.Notes[i]
	var places []analysis.Hz
	if s.Heard != nil {
		places = append(places, s.Heard.Frequency)
		if w.Prepared && s.Second != nil && s.Second.Likelihood >= secondCounts {
			places = append(places, s.Second.Frequency)
		}
	}
	slices.Sort(places)
	if n.Strikes > 0 && len(places) == len(n.Targets) {
		for k, f := range places {
			n.Targets[k] = n.Targets[k].Shift(f.Above(n.Targets[k]) / analysis.Cents(n.Strikes+1))
		}
		n.Strikes++
	} else {
		n.Targets, n.Strikes = places, 1
	}
	n.Skipped, n.Partials = false, s.Partials
}

// Skip leaves the note at hand as it usually is and goes on.
func (w *Walk) Skip() {
	if w.At < len(w.Notes) {
		w.Notes[w.At].Skipped = w.Notes[w.At].Strikes == 0
		w.At++
	}
	w.last, w.Notice = -1, ""
}

// Back makes the note before the one at hand.
func (w *Walk) Back() {
	w.At = max(0, w.At-1)
	w.last, w.Notice = -1, ""
}

// Again forgets what was measured of the note last taken, or else of the note at
// hand, and has it at hand.
func (w *Walk) Again() {
	if w.last >= 0 {
		w.At = w.last
	}
	if w.At < len(w.Notes) {
		n := &w.Notes[w.At]
		*n = WalkNote{Key: n.Key, Label: n.Label}
	}
	w.last, w.Notice = -1, ""
}

// To makes a note of the instrument the one at hand.
func (w *Walk) To(key int) error {
	for i, n := range w.Notes {
		if n.Key == key {
			w.At, w.last, w.Notice = i, -1, ""
			return nil
		}
	}
	return fmt.Errorf("the %s has no MIDI note %d", w.Base.Name, key)
}

// Measured returns how many notes were struck.
func (w *Walk) Measured() (n int) {
	for i := range w.Notes {
		if w.Notes[i].Strikes > 0 {
			n++
		}
	}
	return n
}

// Measured makes an instrument of notes that were measured: where they lie does
// not move with the reference pitch. Notes that were not struck stay where base
// has them.
func Measured(name string, base Instrument, notes map[int][]analysis.Hz) Instrument {
	in := base
	in.Name, in.Source, in.Notes = name, "measured note by note", slices.Clone(base.Notes)
	for i, n := range in.Notes {
		if targets, ok := notes[n.Key]; ok {
			in.Notes[i].Targets, in.Notes[i].Fixed = targets, true
		}
	}
	return in
}
