package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// Mains hum that sounds from the first sample on is the background of what is
// struck later, not a part of it.
func TestHumFromTheStartIsNoPartial(t *testing.T) {
	const rate = analysis.Rate(48000)
	modes := [][3]float64{{750.7, .23, 1}, {1757.2, .11, .24}, {2177.7, .22, .13}, {3264.1, .18, .12}} // Hz, s, amplitude
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 17))
		x := make([]float64, int(3.7*float64(rate)))
		f, phase := 50.0+10*float64(seed%2), 6*rng.Float64()
		for i := range x {
			x[i] = 0.006 * rng.NormFloat64()
			for h := 1.0; h < 10; h += 2 {
				x[i] += 0.06 / h * math.Sin(2*math.Pi*f*h*float64(i)/float64(rate)+phase*h)
			}
		}
		from := int(1.22 * float64(rate))
		for i := from; i < len(x); i++ {
			s := float64(i-from) / float64(rate)
			if s < 0.004 {
				x[i] += 0.15 * math.Exp(-s/0.0013) * rng.NormFloat64()
			}
			for _, m := range modes {
				x[i] += 0.3 * m[2] * math.Exp(-analysis.LnThousand*s/m[1]) * math.Sin(2*math.Pi*m[0]*s)
			}
		}
		found := false
		for _, s := range lastOnes(hearAll(rate, x, 480, Options{NewID: numbered()})) {
			if s.Stage == analysis.Withdrawn || s.Heard == nil {
				continue
			}
			if math.Abs(float64(s.Onset-int64(from))) > 0.003*float64(rate) {
				t.Errorf("seed %d: hum of %.0f Hz: got a pitch of %.1f Hz at sample %d, wanted none but that of sample %d", seed, f, s.Heard.Frequency, s.Onset, from)
				continue
			}
			found = true
			if math.Abs(float64(s.Heard.Frequency)-750.7) > 2 {
				t.Errorf("seed %d: hum of %.0f Hz: heard %.1f Hz, wanted 750.7 Hz", seed, f, s.Heard.Frequency)
			}
			for _, p := range s.Partials {
				if h := math.Round(float64(p.Frequency) / f); h < 10 && math.Abs(float64(p.Frequency)-h*f) < 0.5 {
					t.Errorf("seed %d: hum of %.0f Hz: told as a partial at %.2f Hz, %.1f dB", seed, f, p.Frequency, p.Level)
				}
			}
		}
		if !found {
			t.Errorf("seed %d: hum of %.0f Hz: the strike at 1.22 s has no pitch, wanted 750.7 Hz", seed, f)
		}
	}
}
