package analysis

import (
	"math"
	"strconv"
)

// Place returns the power of ten of the one digit that an uncertainty u shows,
// rounded up: -1 for 0.3, 0 for 4, 1 for 30. u must be positive and finite.
func Place(u float64) int {
	p := int(math.Floor(math.Log10(u)))
	// 0.96 is shown as 1, and that digit stands one place higher.
	if RoundUp(u, p) >= 10*math.Pow10(p) {
		p++
	}
	return p
}

// RoundUp returns u rounded up to a whole multiple of a power of ten: an
// uncertainty is never claimed smaller than it is.
func RoundUp(u float64, place int) float64 {
	// A last bit of rounding in u is no reason to go up.
	return math.Ceil(u/math.Pow10(place)-1e-9) * math.Pow10(place)
}

// Fixed writes x as far as a power of ten and no further, in whole tens or
// hundreds where it is above 0, and never "-0".
func Fixed(x float64, place int) string {
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
