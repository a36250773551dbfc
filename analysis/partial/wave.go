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

// addTwo does for two waves what add does for one, in a pass that reads and
// writes the sound but once: it costs hardly more than one.
func addTwo(dst []float64, v *wave, c complex128, w *wave, e complex128, least float64) {
	for len(dst) >= run && abs2(c) >= least && abs2(e) >= least {
		cr, ci, er, ei := real(c), imag(c), real(e), imag(e)
		s := (*[run]float64)(dst)
		for i := range run {
			s[i] += (cr*v.re[i] - ci*v.im[i]) + (er*w.re[i] - ei*w.im[i])
		}
		dst = dst[run:]
		c *= v.next
		e *= w.next
	}
	v.add(dst, c, least)
	w.add(dst, e, least)
}

// chord adds waves to dst two by two.
type chord struct {
	dst   []float64
	least float64 // power below which a wave is left out
	v     [2]wave
	c     complex128 // of the first, which waits for a second
	half  bool
}

// add adds Re(c·z^n) to dst, at the latest with end.
func (h *chord) add(w, d float64, c complex128) {
	if !h.half {
		h.v[0].set(w, d)
		h.c, h.half = c, true
		return
	}
	h.v[1].set(w, d)
	addTwo(h.dst, &h.v[0], h.c, &h.v[1], c, h.least)
	h.half = false
}

func (h *chord) end() {
	if h.half {
		h.v[0].add(h.dst, h.c, h.least)
		h.half = false
	}
}

// faint is the power at which a wave is left out of whitened sound: 60 dB
// under the noise.
const faint = 1e-6

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
	h := chord{dst: dst, least: inaudible}
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
		h.add(c.Omega, c.Decay, amp)
	}
	h.end()
}
