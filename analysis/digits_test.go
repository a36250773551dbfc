package analysis

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

func TestPlaceAndFixed(t *testing.T) {
	for _, c := range []struct {
		x, u  float64
		place int
		value string
		band  float64
	}{
		{12.3456, 0.3, -1, "12.3", 0.3},
		{12.3456, 0.31, -1, "12.3", 0.4},      // never smaller than it is
		{12.3456, 0.1 + 0.2, -1, "12.3", 0.3}, // 0.30000000000000004 is 0.3
		{12.3456, 0.096, -1, "12.3", 0.1},     // shows as 0.1
		{12.3456, 9.1, 1, "10", 10},
		{1234.56, 30, 1, "1230", 30},
		{-0.04, 0.3, -1, "0.0", 0.3}, // no -0.0
		{-4, 30, 1, "0", 30},         // no -0
	} {
		if got := Place(c.u); got != c.place {
			t.Errorf("Place(%g): got %d, wanted %d", c.u, got, c.place)
		}
		if got := Fixed(c.x, c.place); got != c.value {
			t.Errorf("Fixed(%g, %d): got %q, wanted %q", c.x, c.place, got, c.value)
		}
		if got := RoundUp(c.u, c.place); math.Abs(got-c.band) > 1e-9*c.band {
			t.Errorf("RoundUp(%g, %d): got %g, wanted %g", c.u, c.place, got, c.band)
		}
	}
}

// What is written is off by half of the last digit at most, and that digit is
// no finer than the uncertainty.
func TestFixedClaimsNoMore(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 5000 {
		u, x := math.Pow(10, rng.Float64()*8-5), (rng.Float64()-0.5)*10000
		p := Place(u)
		band, unit := RoundUp(u, p), math.Pow10(p)
		shown, err := strconv.ParseFloat(Fixed(x, p), 64)
		if err != nil || math.Abs(shown-x) > unit/2*(1+1e-6) || unit > band*(1+1e-8) || band < u*(1-1e-8) || band > 2*u*(1+1e-8) {
			t.Fatalf("%g with an uncertainty of %g: got %q and a band of %g", x, u, Fixed(x, p), band)
		}
	}
}
