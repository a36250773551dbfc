package onset

import (
	"math"

	"ringwell/analysis"
	"ringwell/analysis/fourier"
)

const (
	frameSeconds = 0.0107 // length of a frame: short enough for 3 ms, long enough for 100 Hz
	hopSeconds   = 0.0027
	bandCount    = 20
	lowest       = 90.0    // Hz: below lie rumble and handling
	highest      = 16000.0 // Hz
)

// bands turns frames of sound into energies of log-spaced bands.
type bands struct {
	fft    *fourier.Real
	window []float64 // periodic Hann
	frame  []float64
	bins   []complex128
	edge   [bandCount + 1]int // band k holds bins edge[k]..edge[k+1]-1
}

func newBands(rate analysis.Rate) *bands {
	n := frameLength(rate)
	b := &bands{
		fft:    fourier.New(n),
		window: make([]float64, n),
		frame:  make([]float64, n),
		bins:   make([]complex128, n/2+1),
	}
	for i := range b.window {
		b.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	// Each band has a bin of its own, however narrow it would be.
	low := math.Log(lowest)
	high := math.Log(min(highest, 0.45*float64(rate)))
	for k := range b.edge {
		f := math.Exp(low + (high-low)*float64(k)/bandCount)
		b.edge[k] = int(math.Round(f * float64(n) / float64(rate)))
		if k == 0 {
			b.edge[k] = max(b.edge[k], 1)
		} else {
			b.edge[k] = max(b.edge[k], b.edge[k-1]+1)
		}
	}
	for k := range b.edge {
		b.edge[k] = min(b.edge[k], n/2+1)
	}
	return b
}

// frameLength is the power of two nearest to frameSeconds, and at least 64 so
// that every band can have a bin.
func frameLength(rate analysis.Rate) int {
	return max(64, 1<<int(math.Round(math.Log2(frameSeconds*float64(rate)))))
}

// energies writes the energy of each band of the frame x into dst. White noise
// of variance v gives v·gain for a band of one bin.
func (b *bands) energies(dst *[bandCount]float64, x []float64) {
	for i, w := range b.window {
		b.frame[i] = x[i] * w
	}
	b.fft.Coefficients(b.bins, b.frame)
	for k := range dst {
		e := 0.0
		for _, c := range b.bins[b.edge[k]:b.edge[k+1]] {
			e += real(c)*real(c) + imag(c)*imag(c)
		}
		dst[k] = e
	}
}

// gain is what white noise of variance 1 reads in one bin: the energy of the
// window, 3/8 of its length for Hann.
func (b *bands) gain() float64 { return 0.375 * float64(len(b.window)) }
