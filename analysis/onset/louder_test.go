package onset

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A strike soon after a knock that fills all bands is found, though no rise can
// then be twice as strong: it is four times as loud and more.
func TestLouderSoonAfterAKnock(t *testing.T) {
	const rate = 48000
	for _, gap := range []float64{0.020, 0.030, 0.045} { // s
		r := rand.New(rand.NewPCG(3, uint64(gap*1000)))
		x := make([]float64, rate*3/2)
		for i := range x {
			x[i] = 1e-4 * r.NormFloat64()
		}
		knock := rate / 2
		for i := range 2400 {
			x[knock+i] += 0.03 * math.Exp(-float64(i)/300) * r.NormFloat64()
		}
		strike := knock + int(gap*rate)
		for i := range len(x) - strike {
			s := float64(i) / rate
			x[strike+i] += 0.2 * math.Exp(-4*s) * (math.Sin(2*math.Pi*440*s) + 0.5*math.Sin(2*math.Pi*1212*s))
		}
		f := New(rate, 0)
		var last Event
		for i := 0; i+f.Hop() <= len(x); i += f.Hop() {
			if e, found := f.Step(x[i : i+f.Hop()]); found {
				last = e
			}
		}
		if off := float64(last.At-int64(strike)) / rate * 1000; math.Abs(off) > 5 {
			t.Errorf("a strike %.0f ms after a knock 16 dB under it: got the last event %.1f ms from the strike (%+v), wanted within 5 ms", gap*1000, off, last)
		}
	}
}
