package partial

import (
	"math"
	"testing"
)

// The bound of one undamped real tone in white noise, unknown amplitude and
// phase: sd(f) = (fs/2π)·√(12/(η·N·(N²-1))), η = (A²/2)/σ² (D. C. Rife &
// R. R. Boorstyn, IEEE Trans. Inf. Theory 20, 1974: their complex tone has 6
// in place of 12 and A²/σ²; formula from memory, unchecked; the figures below
// were computed from it apart from this code).
func TestBoundsOfAnUndampedTone(t *testing.T) {
	const fs = 48000
	for _, c := range []struct {
		n      int
		snr    float64 // dB
		wantHz float64
	}{
		{1024, 0, 0.8076111},
		{4096, 20, 1.009513e-2},
		{4800, 20, 7.957747e-3},
		{48000, 0, 2.516461e-3},
	} {
		sigma := math.Sqrt(0.5) * math.Pow(10, -c.snr/20)
		// 10 kHz: far from 0 and half the rate, where a real tone meets itself.
		b := Bounds([]Component{{Omega: 2 * math.Pi * 10007 / fs, Decay: 1e-12, Amp: 1}}, 0, c.n, []float64{sigma})
		got := b[0].Omega * fs / (2 * math.Pi)
		if math.Abs(got/c.wantHz-1) > 1e-3 {
			t.Errorf("N %d, SNR %g dB: got %.6g Hz, want %.6g", c.n, c.snr, got, c.wantHz)
		}
	}
}

// One damped tone heard to its end: sd(ω) = sd(d) = √(8d³/SNR) rad and neper a
// sample (integrals of n²·exp(-2dn), computed by hand).
func TestBoundsOfAWholeDecay(t *testing.T) {
	const d, sigma = 3e-4, 0.01
	snr := 1 / (2 * sigma * sigma)
	want := math.Sqrt(8 * d * d * d / snr)
	b := Bounds([]Component{{Omega: 0.7, Decay: d, Amp: 1}}, 0, 100000, []float64{sigma})[0]
	for name, got := range map[string]float64{"ω": b.Omega, "d": b.Decay} {
		if math.Abs(got/want-1) > 2e-3 {
			t.Errorf("sd(%s): got %.5g, want %.5g", name, got, want)
		}
	}
}

// A second wave at the same place leaves nothing known; it must not give NaN.
func TestBoundsOfTwins(t *testing.T) {
	c := Component{Omega: 0.5, Decay: 1e-3, Amp: 1}
	for _, b := range Bounds([]Component{c, c}, 10, 1000, []float64{1, 1}) {
		if math.IsNaN(b.Omega) || b.Omega < 1 {
			t.Errorf("twins: got sd(ω) %g, want very large", b.Omega)
		}
	}
}
