package bench

import (
	"math"

	"ringwell/analysis"
)

// The limits were found by trial on the recordings of testdata and on seeded
// sounds (package trial): at half of inharmonic a breath's uneven harmonics
// count as modes, at twice of it the third mode of a straight bar does not.
const (
	inharmonic  = 0.12  // from a whole multiple of what is heard
	cluster     = 0.1   // about it: a wavering tone comes out as several partials
	countsFrom  = -30.0 // dB: fainter partials say nothing
	highestTold = 12.0  // times what is heard: above, no ratio is far from a whole one
	steadyDecay = 0.03  // of a T60 known so well, that it is a decay
	crowd       = 8     // partials about what is heard: breath, and no near pair
	breath      = 0.5   // s
	roughDecay  = 0.1   // the same for a T60 shorter than any breath
	longest     = 40.0  // s: longer is no ring
)

// Told says by its sound whether a vessel was struck or blown; ok is false where
// the strike says neither (a knock). What is blown repeats itself for as long
// as the breath lasts: the ear follows its period, or at least its partials
// stand like whole multiples and none of them rings down steadily. What is
// struck has modes that do not, or rings down.
func Told(s analysis.Strike) (w Way, ok bool) {
	if s.Heard == nil {
		return "", false
	}
	if s.Heard.Basis == analysis.Periodic {
		return Blown, true
	}
	ground, about, odd := -1, 0, false
	for i, p := range s.Partials {
		ratio := float64(p.Frequency / s.Heard.Frequency)
		if p.Level < countsFrom || ratio > highestTold {
			continue
		}
		if math.Abs(ratio-1) <= cluster {
			about++
			if ground < 0 || p.Level > s.Partials[ground].Level {
				ground = i
			}
			continue
		}
		odd = odd || math.Abs(ratio-math.Round(ratio)) > inharmonic
	}
	switch {
	case about >= crowd:
		return Blown, true
	case odd, ground < 0: // modes of a wall, or a strike note
		return Struck, true
	}
	known := steadyDecay
	if s.Partials[ground].T60 < breath {
		known = roughDecay // no breath is over so soon
	}
	if p := s.Partials[ground]; p.T60 > 0 && p.T60 < longest && p.SigmaT60 < known*p.T60 {
		return Struck, true
	}
	return Blown, true
}
