package listen

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestWhereInAHopDoesNotMatter: a recorded strike after a second of quiet room is
// one strike, at the same place and of the same pitch within its standard
// deviation, wherever in a hop it falls.
func TestWhereInAHopDoesNotMatter(t *testing.T) {
	for _, name := range []string{"glock_c6.wav", "kalimba_g3.wav", "celesta_c4.wav", "vibes_a3.wav"} {
		r := openRecording(t, "strikes", name)
		var first struct{ onset, hz float64 }
		for i, off := range []int{0, 33, 512, 3001} {
			rng := rand.New(rand.NewPCG(3, 3))
			lead := int(r.rate) + off
			x := make([]float64, lead+len(r.x))
			for i := range x {
				x[i] = 1e-4 * rng.NormFloat64()
			}
			for i, v := range r.x {
				x[lead+i] += v
			}
			all := lastOnes(hearAll(r.rate, x, 480, Options{LSB: lsb16}))
			if len(all) != 1 || all[0].Heard == nil {
				t.Errorf("%s after %d samples: got %d strikes, wanted one with a pitch: %+v", name, lead, len(all), all)
				continue
			}
			s := all[0]
			onset, hz := r.rate.Seconds(s.Onset-int64(lead)), float64(s.Heard.Frequency)
			if i == 0 {
				first.onset, first.hz = onset, hz
				continue
			}
			if off := 1200 * math.Log2(hz/first.hz); math.Abs(onset-first.onset) > 0.003 || math.Abs(off) > max(0.3, float64(s.Heard.Sigma)) {
				t.Errorf("%s after %d samples: got %.4f s and %.2f Hz (sigma %.2f c), wanted %.4f s and %.2f Hz as after a second", name, lead, onset, hz, s.Heard.Sigma, first.onset, first.hz)
			}
		}
	}
}
