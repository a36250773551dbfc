package wanted

import (
	"math"
	"slices"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// What a line may say.
const (
	LowestHz     analysis.Hz    = 20
	HighestHz    analysis.Hz    = 20000
	MostBend     analysis.Cents = 100 // either way: beyond lies another note
	LeastWithin  analysis.Cents = 0.5 // finer than two strikes of one object agree
	MostWithin   analysis.Cents = 100
	MostCount                   = 99
	MostPlaces                  = 200
	longestLine                 = 200 // runes
	quarterCents analysis.Cents = 50
)

// Spec is what one line says.
type Spec struct {
	Label     string         // the note as it is spelt, "F#5", "Fis5"; "" where a frequency is wanted
	Key       int            // its MIDI note number
	Quarters  int            // quarter-tones beside it: -3, -1, 0, 1 or 3
	Frequency analysis.Hz    // where Label is ""
	Bend      analysis.Cents // beside all that, on purpose
	Tolerance analysis.Cents // 0: not said
	Kind      analysis.Kind  // Unknown: any
	Count     int            // 1 or more
}

// Place is one line of the list and what has been found for it.
type Place struct {
	ID string // of this place, for as long as it is on the list
	Spec
	Ticked bool     // the player says it is done
	Fills  []Fill   // what was found, at most Count
	Above  []string // lines before it that are no place: comments, empty ones, unreadable ones
}

// Fill is an object that was found for a place, by the strike it was known by.
type Fill struct {
	Strike   string // its ID
	Heard    analysis.Hz
	Sigma    analysis.Cents // statistical only
	ClockPPM float64        // one sigma of the input's clock
	Kind     analysis.Kind  // what the player said was in the hand
	Name     string         // what the player called it; "" for nothing
	Found    time.Time      // UTC
}

// List is what is wanted, in the order of the lines.
type List struct {
	Places []Place
	Below  []string // lines after the last place that are none
	Next   int      // number of the next place's ID
}

// open reports whether more are to be found.
func (p *Place) open() bool { return !p.Ticked && len(p.Fills) < p.Count }

// Open reports whether more are to be found for the place.
func (p Place) Open() bool { return p.open() }

// within is the place's tolerance in cents, usual where it does not say.
func (p *Place) within(usual analysis.Cents) analysis.Cents {
	if p.Tolerance > 0 {
		return p.Tolerance
	}
	return usual
}

// bent is how far from its note a place lies in cents.
func (s *Spec) bent() analysis.Cents { return s.Bend + quarterCents*analysis.Cents(s.Quarters) }

// Target returns where the place lies among the notes of in: the bent
// frequency. Of a note with several targets it is the lowest.
func (s Spec) Target(in instrument.Instrument) analysis.Hz {
	f := s.Frequency
	if s.Label != "" {
		f = instrument.Frequency(s.Key, in.Reference)
		if n, ok := in.Note(s.Key); ok && len(n.Targets) > 0 {
			f = n.Targets[0]
		}
	}
	return f.Shift(s.bent())
}

// Away returns how far f lies above the place in cents: of several targets of
// its note the nearest counts. f must be positive.
func (s Spec) Away(f analysis.Hz, in instrument.Instrument) analysis.Cents {
	away := f.Above(s.Target(in))
	if n, ok := in.Note(s.Key); ok && s.Label != "" && len(n.Targets) > 1 {
		for _, t := range n.Targets[1:] {
			if d := f.Above(t.Shift(s.bent())); math.Abs(float64(d)) < math.Abs(float64(away)) {
				away = d
			}
		}
	}
	return away
}

// Find returns the index of the place with the ID, -1 for none.
func (l *List) Find(id string) int {
	return slices.IndexFunc(l.Places, func(p Place) bool { return p.ID == id })
}

// Clone returns a list that shares nothing with l.
func (l List) Clone() List {
	l.Places = slices.Clone(l.Places)
	for i := range l.Places {
		l.Places[i].Fills = slices.Clone(l.Places[i].Fills)
		l.Places[i].Above = slices.Clone(l.Places[i].Above)
	}
	l.Below = slices.Clone(l.Below)
	return l
}
