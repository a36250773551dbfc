package hearing

import (
	"math"

	"ringwell/analysis"
)

// prior is what is known of a sound once the player has said what is in the
// hand.
type prior struct {
	// trust says how far a run of harmonics counts as evidence for a pitch
	// that is not the lowest tone.
	trust float64
	// beside lists where a thing of this kind has tones that are no harmonics
	// of the pitch heard, as ratios to it: they are accounted for.
	beside []float64
	// under says how much more than usual a lower tone speaks against a pitch.
	under float64
	// upTo is the highest harmonic that counts.
	upTo int
}

// priorOf gives the prior of each kind. Strike notes are known from bells and
// tubes; bars, glasses, bottles, plates and pots are named after their lowest
// lasting mode by every text on them, kettledrums after their lowest ringing
// one although it and the next stand like 2 : 3 : 4 (Rossing, Science of
// Percussion Instruments, from memory, unchecked); a run of three in one of
// those is chance. A bell's hum, tierce and quint lie at 1/2, 6/5 and 3/2 of
// the strike note (Terhardt & Seewann 1984). The trust in bells is our choice.
func priorOf(kind analysis.Kind) prior {
	switch kind {
	case analysis.Bar, analysis.Glass, analysis.Bottle, analysis.Plate, analysis.Drum:
		return prior{trust: 0, under: 1.5, upTo: harmonics}
	case analysis.Bell:
		return prior{trust: 1.5, under: 1, beside: []float64{0.5, 1.2, 1.5}, upTo: 4}
	}
	return prior{trust: 1, under: 1, upTo: harmonics}
}

// has reports whether a tone at f is one of those that go with a pitch h.
func (p prior) has(f, h float64) bool {
	for _, r := range p.beside {
		if math.Abs(f/(h*r)-1) < mistuned {
			return true
		}
	}
	return false
}
