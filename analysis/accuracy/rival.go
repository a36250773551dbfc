package accuracy

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// strongest is what a plain analyser says of a strike: the frequency in Hz of
// the strongest peak of half a second from 6 ms after the onset on, seen
// through a Blackman window, zero-padded to 2^17 and refined by a parabola
// through the decibels; 40 Hz and more are looked at.
func strongest(t Take, onset float64) float64 {
	from := int((onset + contact) * float64(t.Rate))
	to := min(len(t.Samples), from+int(.5*float64(t.Rate)))
	if to-from < 256 {
		return math.NaN()
	}
	const n = 1 << 17
	x := make([]float64, n)
	copy(x, t.Samples[from:to])
	window.Blackman(x[:min(n, to-from)])
	c := fourier.NewFFT(n).Coefficients(nil, x)
	db := func(k int) float64 { return math.Log(math.Hypot(real(c[k]), imag(c[k])) + 1e-300) }
	hz := float64(t.Rate) / n
	best := max(1, int(40/hz))
	for k := best; k < n/2; k++ {
		if db(k) > db(best) {
			best = k
		}
	}
	l, m, h := db(best-1), db(best), db(best+1)
	shift := 0.0
	if bend := l - 2*m + h; bend < 0 {
		shift = (l - h) / (2 * bend)
	}
	return (float64(best) + shift) * hz
}
