// Package partial resolves the ring of a struck object into damped sinusoids,
// each with its frequency, level, ring time and their uncertainty.
package partial

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"ringwell/analysis"
)

// Estimator reads one strike at a time. It keeps its buffers from strike to
// strike and is for one goroutine.
type Estimator struct {
	rate analysis.Rate
	take Take
	fft  map[int]*fourier.FFT
}

// New returns an estimator for sound of the given rate.
func New(rate analysis.Rate) *Estimator {
	return &Estimator{rate: rate, fft: map[int]*fourier.FFT{}}
}

// Begin starts a new strike. It keeps no reference to the slices of t beyond
// the last Grow of that strike.
func (e *Estimator) Begin(t Take) { e.take = t }

// Grow reads the strike anew from all of its sound so far: sound[0] is the
// onset sample, earlier rings taken out.
func (e *Estimator) Grow(sound []float64) Reading {
	fs := float64(e.rate)
	r := Reading{N: len(sound)}
	r.RiseMS, r.FirstDB = rise(sound, e.rate)
	skip := int(0.006 * fs)
	n := len(sound) - skip
	if n < int(0.012*fs) {
		return r
	}
	x := sound[skip:]
	size := 1
	for size < 2*n {
		size *= 2
	}
	plan := e.fft[size]
	if plan == nil {
		plan = fourier.NewFFT(size)
		e.fft[size] = plan
	}
	buf := make([]float64, size)
	half := n / 2
	for i := range n {
		if v := x[i]; v == v && math.Abs(v) < 1e6 {
			buf[i] = v * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)))
		}
	}
	spec := plan.Coefficients(nil, buf)
	lo, hi := int(60/fs*float64(size)), int(min(18000, 0.42*fs)/fs*float64(size))
	mag := make([]float64, len(spec))
	var top float64
	for k := range spec {
		mag[k] = cmplx.Abs(spec[k])
		if k >= lo && k < hi {
			top = max(top, mag[k])
		}
	}
	floor := slices.Clone(mag[lo:hi])
	slices.Sort(floor)
	noise := floor[len(floor)/2]
	type peak struct {
		k int
		m float64
	}
	var peaks []peak
	for k := lo + 4; k < hi-4; k++ {
		if mag[k] > 8*noise && mag[k] > top*0.01 && mag[k] == slices.Max(mag[k-4:k+5]) {
			peaks = append(peaks, peak{k, mag[k]})
		}
	}
	slices.SortFunc(peaks, func(a, b peak) int { return cmp.Compare(b.m, a.m) })
	peaks = peaks[:min(len(peaks), 20)]
	var loudest float64
	for _, p := range peaks {
		a, b, c := math.Log(mag[p.k-1]), math.Log(mag[p.k]), math.Log(mag[p.k+1])
		w := 2 * math.Pi * (float64(p.k) + 0.5*(a-c)/(a-2*b+c)) / float64(size)
		u, v := dtft(x[:half], w), dtft(x[half:2*half], w)
		d := math.Log(max(cmplx.Abs(u), 1e-30)/max(cmplx.Abs(v), 1e-30)) / float64(half)
		d = min(max(d, 0.02/float64(n)), 0.01)
		amp := u * complex(2*2*d/(1-math.Exp(-2*d*float64(half)))/2, 0)
		amp *= cmplx.Exp(complex(d, -w) * complex(float64(skip), 0))
		r.Ring = append(r.Ring, Component{w, d, amp})
		loudest = max(loudest, cmplx.Abs(amp))
	}
	for _, c := range r.Ring {
		f := c.Omega * fs / 2 / math.Pi
		t60 := analysis.LnThousand / c.Decay / fs
		if c.Decay*float64(n) < 0.1 {
			t60 = 0
		}
		r.Partials = append(r.Partials, analysis.Partial{
			Frequency: analysis.Hz(f), Sigma: analysis.Cents(analysis.CentsPerNeper * 0.05 * fs / float64(n) / f),
			Level: 20 * math.Log10(cmplx.Abs(c.Amp)/loudest), SigmaLevel: 2, T60: t60, SigmaT60: t60 * 0.3,
		})
	}
	slices.SortFunc(r.Partials, func(a, b analysis.Partial) int { return cmp.Compare(a.Frequency, b.Frequency) })
	early := min(n, int(0.1*fs))
	rest := make([]float64, early)
	Render(rest, skip, r.Ring)
	var total, left float64
	for i := range rest {
		total += x[i] * x[i]
		left += (x[i] - rest[i]) * (x[i] - rest[i])
	}
	if total > 0 {
		r.Explained = min(max(1-left/total, 0), 1)
	}
	r.Pitched = len(r.Partials) > 0 && r.Explained > 0.4 && r.FirstDB > -2 && r.RiseMS <= 40
	return r
}

func dtft(x []float64, w float64) complex128 {
	var re, im float64
	for i, v := range x {
		s, c := math.Sincos(w * float64(i))
		re += v * c
		im -= v * s
	}
	return complex(re, im)
}

// rise returns where the loudest 8 ms of the first 320 ms begin, in ms after
// the onset, and the loudest of the first three 8 ms against them, in dB.
func rise(sound []float64, rate analysis.Rate) (ms, firstDB float64) {
	b := int(0.008 * float64(rate))
	var best, first float64
	for k := 0; k < 40 && (k+1)*b <= len(sound); k++ {
		var e float64
		for _, v := range sound[k*b : (k+1)*b] {
			e += v * v
		}
		if e > best {
			best, ms = e, float64(8*k)
		}
		if k < 3 {
			first = max(first, e)
		}
	}
	if best <= 0 {
		return 0, 0
	}
	return ms, 10 * math.Log10(max(first, 1e-20)/best)
}
