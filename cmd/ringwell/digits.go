package main

import (
	"math"

	"ringwell/analysis"
)

// An uncertainty on screen is one standard deviation, as on the page: two times
// in three the truth lies within it. It is rounded up to one digit, never
// claimed smaller than it is, and a value carries no digit beyond it.

// digits writes x as far as the uncertainty u carries, in tens or hundreds
// where it carries no further. Where u is not known (not positive or not
// finite), coarse is taken in its place.
func digits(x, u, coarse float64) string {
	return analysis.Fixed(x, analysis.Place(orCoarse(u, coarse)))
}

// plusMinus writes an uncertainty, rounded up to one digit; "" where it is not
// known.
func plusMinus(u float64) string {
	if !known(u) {
		return ""
	}
	p := analysis.Place(u)
	return "±" + analysis.Fixed(analysis.RoundUp(u, p), p)
}

func known(u float64) bool { return u > 0 && !math.IsInf(u, 0) }

func orCoarse(u, coarse float64) float64 {
	if known(u) {
		return u
	}
	return coarse
}
