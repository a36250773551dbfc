package webview

import "math"

// Decimal places on the wire: finer than any uncertainty the ear reaches, and
// few enough that the last bits of another machine's arithmetic do not show.
const (
	placesHz      = 6
	placesCents   = 6
	placesDB      = 3
	placesSeconds = 6
	placesShare   = 4
)

// round returns x to so many decimal places; 0 where x is not finite, since
// JSON has no word for that.
func round[T ~float64](x T, places int) float64 {
	if !finite(x) {
		return 0
	}
	p := math.Pow10(places)
	r := math.Round(float64(x)*p) / p
	if !finite(r) {
		return float64(x) // too large for the places to matter
	}
	return r + 0 // -0 reads oddly
}

// known is round for a value that may be unknown: nil where ok is false or x
// is not finite.
func known[T ~float64](x T, places int, ok bool) *float64 {
	if !ok || !finite(x) {
		return nil
	}
	r := round(x, places)
	return &r
}

func finite[T ~float64](x T) bool {
	return !math.IsNaN(float64(x)) && !math.IsInf(float64(x), 0)
}
