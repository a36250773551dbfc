package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// TestEndOfARingIsNoBackground: a second in which something still sinks is not
// learned; one that is as quiet as before, or steadily louder, is.
func TestEndOfARingIsNoBackground(t *testing.T) {
	const rate = analysis.Rate(44100)
	rng := rand.New(rand.NewPCG(3, 1))
	second := func(noise, ring, t60 float64) []float64 {
		x := make([]float64, int(rate))
		for i := range x {
			s := float64(i) / float64(rate)
			x[i] = noise*rng.NormFloat64() + ring*math.Exp(-analysis.LnThousand*s/t60)*math.Sin(2*math.Pi*880*s)
		}
		return x
	}
	b := newBackground(rate)
	b.take(second(1e-4, 0, 1))
	for _, c := range []struct {
		name        string
		noise, ring float64
		t60         float64
		want        bool
	}{
		{"the same noise", 1e-4, 0, 1, false},
		{"noise four times as loud", 4e-4, 0, 1, false},
		{"a ring of 1 s", 1e-4, 0.01, 1, true},
		{"a ring of 20 s", 1e-4, 0.01, 20, true},
	} {
		if got := b.rings(second(c.noise, c.ring, c.t60)); got != c.want {
			t.Errorf("%s: got ring %v, wanted %v", c.name, got, c.want)
		}
	}
}
