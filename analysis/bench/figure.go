package bench

import (
	"math"
	"strconv"
)

// place is the power of ten of the one digit an uncertainty shows.
func place(u float64) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return 0
	}
	p := int(math.Floor(math.Log10(u)))
	if math.Ceil(u/math.Pow10(p)-1e-9) >= 10 {
		p++
	}
	return min(max(p, -1), 3) // nobody pours or hears finer than a tenth
}

func fixed(x float64, place int) string {
	if place >= 0 {
		unit := math.Pow10(place)
		x, place = math.Round(x/unit)*unit, 0
	}
	s := strconv.FormatFloat(x, 'f', -place, 64)
	if v, _ := strconv.ParseFloat(s, 64); v == 0 && s[0] == '-' {
		return s[1:]
	}
	return s
}

// give writes a value no finer than its uncertainty, and that, rounded up to
// one digit.
func give(x, u float64, unit string) string {
	p := place(u)
	band := math.Ceil(u/math.Pow10(p)-1e-9) * math.Pow10(p)
	return fixed(x, p) + unit + " ±" + fixed(band, p)
}

// whole writes cents or millilitres where a whole number will do.
func whole(x float64) string { return fixed(x, 0) }
