package instrument

import (
	"math"

	"ringwell/analysis"
)

// Aim is where a player wants an object to lie. The zero Aim is no aim: then
// an object only has a place and a name.
type Aim struct {
	Key       *int           // one note to aim at; nil: whichever is nearest
	Bend      analysis.Cents // how far beside the note, on purpose
	Tolerance analysis.Cents // how near is near enough; 0: no word on that
}

// Is reports whether there is an aim at all.
func (a Aim) Is() bool { return a.Key != nil || a.Bend != 0 || a.Tolerance > 0 }

// Landing is where a frequency lies among the notes of an instrument. An
// object is never wrong: it lies where it lies.
type Landing struct {
	Instrument string
	Key        int         // MIDI note number; -1: nothing landed
	Note       string      // its label, sounding
	Written    string      // as written for the instrument, where that differs; else ""
	Target     analysis.Hz // the note's frequency, before the bend; of several, the nearest

	// Cents is how far the frequency lies above the bent target; negative is
	// below.
	Cents analysis.Cents

	// Inside: the note is one of the instrument's. Otherwise the scale is
	// thought to go on, so that everything has a name, and Edge says which note
	// of the instrument is nearest and EdgeCents how far f lies above that.
	Inside    bool
	Edge      string
	EdgeCents analysis.Cents

	Aimed  bool // there was an aim
	Within bool // there was a tolerance, and |Cents| is at most that
}

// beyond is how far past its outermost target a frequency is still said to lie
// at that note: half a semitone, as between any two neighbours.
const beyond analysis.Cents = 50

// Land tells where f lies. With aim.Key it is measured from that note, and
// otherwise from the note that is nearest once every note is bent; midway
// between two the lower one is taken. Above and below the instrument, and
// where no note has a target, the equal-tempered note on the instrument's
// reference is named and Inside is false. A frequency that is not positive and
// finite lands nowhere: Key is -1.
func (in Instrument) Land(f analysis.Hz, aim Aim) Landing {
	out := Landing{Instrument: in.Name, Key: -1, Aimed: aim.Is()}
	if !(f > 0) || math.IsInf(float64(f), 0) {
		return out
	}
	unbent := f.Shift(-aim.Bend)
	if aim.Key != nil {
		out.at(in, in.keyed(*aim.Key, unbent), f)
	} else {
		out.at(in, in.nearest(unbent), f)
	}
	if !out.Inside {
		if edge := in.among(in.Notes, unbent); edge.ok {
			out.Edge, out.EdgeCents = edge.note.Label, f.Above(edge.target)
		}
	}
	out.Cents = unbent.Above(out.Target)
	if w := in.Written(out.Key); w != "" && in.Transpose != 0 {
		out.Written = w
	}
	out.Within = aim.Tolerance > 0 && math.Abs(float64(out.Cents)) <= float64(aim.Tolerance)
	return out
}

// place is a note and that one of its targets which is meant.
type place struct {
	note   Note
	target analysis.Hz
	inside bool // the note is one of the instrument's
	ok     bool
}

func (l *Landing) at(in Instrument, p place, f analysis.Hz) {
	l.Key, l.Note, l.Target, l.Inside = p.note.Key, p.note.Label, p.target, p.inside
}

// keyed is the place of one key: of the note's targets the nearest to f, and
// in equal temperament where the instrument has none for it.
func (in Instrument) keyed(key int, f analysis.Hz) place {
	if n, ok := in.Note(key); ok {
		if p := in.among([]Note{n}, f); p.ok {
			return p
		}
	}
	return in.tempered(key)
}

// nearest is the place in the instrument that is nearest to f, or the
// equal-tempered one where f lies above or below all of them.
func (in Instrument) nearest(f analysis.Hz) place {
	p := in.among(in.Notes, f)
	low, high := in.reach()
	if !p.ok || f.Above(low) < -beyond || f.Above(high) > beyond {
		key, _ := Nearest(f, in.Reference)
		return in.tempered(key)
	}
	return p
}

// reach returns the lowest and the highest target; both 0 where there is none.
func (in Instrument) reach() (low, high analysis.Hz) {
	for _, n := range in.Notes {
		for _, t := range n.Targets {
			if low == 0 || t < low {
				low = t
			}
			high = max(high, t)
		}
	}
	return low, high
}

func (in Instrument) tempered(key int) place {
	return place{note: Note{Key: key, Label: Label(key)}, target: Frequency(key, in.Reference), ok: true}
}

func (in Instrument) among(notes []Note, f analysis.Hz) place {
	best := place{}
	least := math.Inf(1)
	for _, n := range notes {
		for _, t := range n.Targets {
			d := math.Abs(float64(f.Above(t)))
			// Midway the lower place stays; rounding must not decide that.
			const tie = 1e-9
			if d < least-tie || (d < least+tie && best.ok && t < best.target) {
				best, least = place{note: n, target: t, inside: true, ok: true}, d
			}
		}
	}
	return best
}
