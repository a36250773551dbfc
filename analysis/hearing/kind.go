package hearing

import (
	"slices"

	"ringwell/analysis"
)

// prior is what is known of a sound once the player has said what is in the
// hand.
type prior struct {
	// runs says whether a run of harmonics counts as evidence for a pitch that
	// is not the lowest tone.
	runs bool
	// patterns are what it may be, each as likely beforehand; none is the
	// probability that it is nothing of the sort.
	patterns   []pattern
	each, none float64
}

// ordinary is the probability, before a sound is heard, that it follows none
// of the patterns asked for: of found objects our guess is half. Tried 0.3: of
// bells with a sharp prime a third fewer are missed; 0.8: twice as many; of
// recordings one more or less.
const ordinary = 0.5

// priorOf gives the prior of each kind. Strike notes are known from bells and
// tubes; bars, glasses, bottles, plates and pots are named after their lowest
// lasting mode by every text on them, kettledrums after their lowest ringing
// one although it and the next stand like 2 : 3 : 4 (Rossing, Science of
// Percussion Instruments, from memory, unchecked); a run of three in one of
// those is chance.
func priorOf(kind analysis.Kind) prior {
	p := prior{runs: true, none: 1}
	switch kind {
	case analysis.Bar, analysis.Glass, analysis.Bottle, analysis.Plate, analysis.Drum:
		p.runs = false
	}
	for _, q := range patterns() {
		if kind == analysis.Unknown || slices.Contains(q.kinds, kind) {
			if kind != analysis.Unknown {
				q.needs = nil // the player has seen it
			}
			p.patterns = append(p.patterns, q)
		}
	}
	if n := len(p.patterns); n > 0 {
		p.none = ordinary
		p.each = (1 - ordinary) / float64(n)
	}
	return p
}
