package partial

import "math"

// run is how many samples the table of one wave serves.
const run = 64

// wave is a table of z^n, n = 0..run-1: with it no product waits for the one
// before, and a sample costs two.
type wave struct {
	re, im [run]float64
	next   complex128 // z^run
}

func (v *wave) set(w, d float64) {
	z, p := expi(d, w), complex128(1)
	for i := range run {
		v.re[i], v.im[i] = real(p), imag(p)
		p *= z
	}
	v.next = expi(d*run, w*run)
}

// add adds Re(c·z^n) to dst until its power has come down to least.
func (v *wave) add(dst []float64, c complex128, least float64) {
	for len(dst) >= run {
		if abs2(c) < least {
			return
		}
		cr, ci := real(c), imag(c)
		s := (*[run]float64)(dst)
		for i := range run {
			s[i] += cr*v.re[i] - ci*v.im[i]
		}
		dst = dst[run:]
		c *= v.next
	}
	cr, ci := real(c), imag(c)
	for i := range dst {
		dst[i] += cr*v.re[i] - ci*v.im[i]
	}
}

// faint is the power at which a wave is left out of whitened sound: 60 dB
// under the noise.
const faint = 1e-6

// subtract takes Re(c·z^n) out of whitened sound.
func subtract(dst []float64, w, d float64, c complex128) {
	var v wave
	v.set(w, d)
	v.add(dst, -c, faint)
}

// inaudible is the power at which a wave is left out of raw sound: -200 dB of
// full scale, far under what 24 bits round away.
const inaudible = 1e-20

// Render adds to dst the sound that ring predicts for the samples from,
// from+1, ... after the onset. Samples before the onset (n < 0) get nothing.
func Render(dst []float64, from int, ring []Component) {
	if from < 0 {
		if -from >= len(dst) {
			return
		}
		dst, from = dst[-from:], 0
	}
	var v wave
	for _, c := range ring {
		amp := c.Amp
		if from > 0 {
			if c.Decay*float64(from) > 500 { // exp of it is next to nought
				continue
			}
			s, k := math.Sincos(c.Omega * float64(from))
			g := math.Exp(-c.Decay * float64(from))
			amp *= complex(g*k, g*s)
		}
		if abs2(amp) < inaudible {
			continue
		}
		v.set(c.Omega, c.Decay)
		v.add(dst, amp, inaudible)
	}
}
