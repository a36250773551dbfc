package partial

import (
	"math"
	"testing"
)

// A short plank under a ventilation 5 dB below its blow: what is heard raw is
// mostly the ventilation, and the ring is there all the same.
func TestRingUnderRumble(t *testing.T) {
	const fs = 48000
	for seed := range uint64(6) {
		m := makeStrike(seed, fs, 0.3, 0.3*math.Sqrt(0.5)*math.Pow(10, -31.0/20), mode{515.7, 0.23, 0}, mode{1539.6, 0.1, -12.5}, mode{3127.2, 0.13, -13.3})
		all := append(append([]float64{}, m.before...), m.sound...)
		// 30 to 70 Hz in lines a third of a hertz apart: as uneven in time as noise.
		low := makeStrike(seed+50, fs, 0.01, 1, mode{100, 1, 0}).before
		a := math.Pow(10, 25.0/20) * m.sigma * math.Sqrt(2.0/120)
		for k := range 120 {
			w, p := 2*math.Pi*(30+float64(k)/3)/fs, 3*low[k]
			for i := range all {
				all[i] += a * math.Sin(w*float64(i)+p)
			}
		}
		copy(m.before, all)
		copy(m.sound, all[len(m.before):])
		r := m.read()
		if !r.Pitched {
			t.Errorf("seed %d: three partials under rumble: got pitched %v (explained to %.2f), wanted a ring", seed, r.Pitched, r.Explained)
		}
	}
}
