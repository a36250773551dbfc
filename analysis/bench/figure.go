package bench

import (
	"math"

	"ringwell/analysis"
)

// place is the power of ten of the one digit an uncertainty shows; 0 where it is
// not known. Nobody pours or hears finer than a tenth.
func place(u float64) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return 0
	}
	return min(max(analysis.Place(u), -1), 3)
}

// give writes a value no finer than its uncertainty, and that, rounded up to
// one digit.
func give(x, u float64, unit string) string {
	p := place(u)
	return analysis.Fixed(x, p) + unit + " ±" + analysis.Fixed(analysis.RoundUp(u, p), p)
}

// whole writes cents or millilitres where a whole number will do.
func whole(x float64) string { return analysis.Fixed(x, 0) }
