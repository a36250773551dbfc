package bench

import "ringwell/analysis"

// Told says by its sound whether a vessel was struck or blown; ok is false where
// the strike says neither (a knock). What is blown repeats itself for as long
// as the breath lasts, and the ear follows its period; what is struck rings
// down in partials of its own.
func Told(s analysis.Strike) (w Way, ok bool) {
	if s.Heard == nil {
		return "", false
	}
	if s.Heard.Basis == analysis.Periodic {
		return Blown, true
	}
	return Struck, true
}
