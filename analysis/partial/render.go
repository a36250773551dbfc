package partial

import "math"

// Render adds to dst the sound that ring predicts for the samples from,
// from+1, ... after the onset. Samples before the onset (n < 0) get nothing.
func Render(dst []float64, from int, ring []Component) {
	if from < 0 {
		if -from >= len(dst) {
			return
		}
		dst, from = dst[-from:], 0
	}
	for _, c := range ring {
		renderOne(dst, from, c)
	}
}

// renderOne adds one component by the recursion z^(n+1) = z·z^n, started anew
// every 1024 samples: rounding then stays below 1e-12 of the amplitude.
func renderOne(dst []float64, from int, c Component) {
	const run = 1024
	e := math.Exp(-c.Decay)
	s1, c1 := math.Sincos(c.Omega)
	zr, zi := e*c1, e*s1
	for at := 0; at < len(dst); at += run {
		n := float64(from + at)
		g := math.Exp(-c.Decay * n)
		if g < 1e-12 { // 240 dB down: no sound has that range
			return
		}
		s, k := math.Sincos(c.Omega * n)
		ur := g * (real(c.Amp)*k - imag(c.Amp)*s)
		ui := g * (real(c.Amp)*s + imag(c.Amp)*k)
		end := min(at+run, len(dst))
		for i := at; i < end; i++ {
			dst[i] += ur
			ur, ui = ur*zr-ui*zi, ur*zi+ui*zr
		}
	}
}
