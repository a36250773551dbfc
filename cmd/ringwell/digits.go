package main

import (
	"math"
	"strconv"
)

// An uncertainty on screen is one standard deviation, as on the page: two times
// in three the truth lies within it. It is rounded up to one digit, never
// claimed smaller than it is, and a value carries no digit beyond it.

// place returns the power of ten of the one digit that an uncertainty u shows:
// -1 for 0.3, 0 for 4, 1 for 30. u must be positive and finite.
func place(u float64) int {
	p := int(math.Floor(math.Log10(u)))
	// 0.96 is shown as 1, and that digit stands one place higher. A last bit
	// of rounding in u is no reason to go up.
	if math.Ceil(u/math.Pow10(p)-1e-9) >= 10 {
		p++
	}
	return p
}

// digits writes x as far as the uncertainty u carries, in tens or hundreds
// where it carries no further. Where u is not known (not positive or not
// finite), coarse is taken in its place.
func digits(x, u, coarse float64) string {
	return fixed(x, place(orCoarse(u, coarse)))
}

// plusMinus writes an uncertainty, rounded up to one digit; "" where it is not
// known.
func plusMinus(u float64) string {
	if !known(u) {
		return ""
	}
	p := place(u)
	unit := math.Pow10(p)
	return "±" + fixed(math.Ceil(u/unit-1e-9)*unit, p)
}

func fixed(x float64, place int) string {
	if place >= 0 {
		unit := math.Pow10(place)
		x, place = math.Round(x/unit)*unit, 0
	}
	s := strconv.FormatFloat(x, 'f', -place, 64)
	if zero, _ := strconv.ParseFloat(s, 64); zero == 0 && s[0] == '-' {
		return s[1:]
	}
	return s
}

func known(u float64) bool { return u > 0 && !math.IsInf(u, 0) }

func orCoarse(u, coarse float64) float64 {
	if known(u) {
		return u
	}
	return coarse
}
