package pitch

import (
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// difference computes YIN's difference function (eq. 6)
//
//	d(τ) = Σ_{j<W} (x[j] - x[j+τ])²,  τ = 0..T
//
// as energy(0) + energy(τ) - 2·correlation(τ) (eq. 7); the correlation goes
// through one FFT at least W+T long, so that nothing wraps round.
type difference struct {
	window, lags int // W and T, samples
	fft          *fourier.FFT
	padded       []float64
	head, whole  []complex128
}

func newDifference(window, lags int) *difference {
	// gonum is quickest at powers of two; three quarters of one is next.
	n := 1 << bits.Len(uint(window+lags-1))
	if n >= 8 && window+lags <= n/4*3 {
		n = n / 4 * 3
	}
	return &difference{
		window: window,
		lags:   lags,
		fft:    fourier.NewFFT(n),
		padded: make([]float64, n),
		head:   make([]complex128, n/2+1),
		whole:  make([]complex128, n/2+1),
	}
}

// frame is how many samples of x into needs.
func (f *difference) frame() int { return f.window + f.lags }

// into fills d, of length lags+1, from x, of length frame(). It returns the
// energy of the first window samples.
func (f *difference) into(d, x []float64) (energy float64) {
	n := len(f.padded)
	copy(f.padded, x[:f.window])
	clear(f.padded[f.window:])
	f.fft.Coefficients(f.head, f.padded)
	copy(f.padded, x)
	clear(f.padded[f.frame():])
	f.fft.Coefficients(f.whole, f.padded)
	for k, h := range f.head {
		w := f.whole[k]
		f.head[k] = complex(real(h)*real(w)+imag(h)*imag(w), real(h)*imag(w)-imag(h)*real(w))
	}
	f.fft.Sequence(f.padded, f.head)

	for _, v := range x[:f.window] {
		energy += v * v
	}
	shifted := energy
	for lag := range d {
		if lag > 0 {
			in, out := x[lag+f.window-1], x[lag-1]
			shifted += in*in - out*out
		}
		// Rounding can push a perfect match a hair below zero.
		d[lag] = max(0, energy+shifted-2*f.padded[lag]/float64(n))
	}
	d[0] = 0
	return energy
}

// normalise fills dd with the cumulative mean normalised difference (eq. 8):
// dd[0] = 1, dd[τ] = d[τ] / ((1/τ) Σ_{1..τ} d). A silent frame gives 1
// throughout: nothing repeats in it.
func normalise(dd, d []float64) {
	dd[0] = 1
	sum := 0.0
	for lag := 1; lag < len(d); lag++ {
		sum += d[lag]
		if sum > 0 {
			dd[lag] = d[lag] * float64(lag) / sum
		} else {
			dd[lag] = 1
		}
	}
}
