package match

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"

	"ringwell/analysis"
)

// Curves are a sound to look at.
type Curves struct {
	Frequency []analysis.Hz // of Spectrum, evenly apart in pitch
	Spectrum  []float64     // dB, the loudest 0
	Time      []float64     // of Decay, seconds
	Decay     []float64     // dB of each stretch's power, the loudest 0
	Loudness  float64       // LUFS of the loudest 0.4 s; -Inf: silence
}

// How fine the curves are: fine enough for a screen.
const (
	curvePoints  = 600
	lowestHz     = 40.0
	stretch      = 0.02 // seconds
	longestCurve = 8.0
	faintest     = -120.0
)

// Look works out the curves of a sound from its onset on, of at most 8 s. The
// spectrum is that of the whole under a Hann window's falling half, so that
// the beginning counts most, as it does to the ear.
func Look(sound []float64, rate analysis.Rate) Curves {
	sound = sound[:min(len(sound), int(longestCurve*float64(rate)))]
	var c Curves
	n := 1
	for n < len(sound) {
		n *= 2
	}
	if len(sound) < 2 {
		return Curves{Loudness: math.Inf(-1)}
	}
	w := make([]float64, 2*len(sound))
	for i := range w {
		w[i] = 1
	}
	w = window.Hann(w)[len(sound):]
	x := make([]float64, n)
	for i, s := range sound {
		x[i] = s * w[i]
	}
	bins := fourier.NewFFT(n).Coefficients(nil, x)
	top := math.Min(20000, float64(rate)/2)
	ratio := math.Pow(top/lowestHz, 1/float64(curvePoints))
	at := func(f float64) int { return int(f * float64(n) / float64(rate)) }
	for k := range curvePoints {
		f := lowestHz * math.Pow(ratio, float64(k))
		loudest := 0.0
		for b := at(f); b <= min(max(at(f), at(f*ratio)-1), len(bins)-1); b++ {
			loudest = max(loudest, cmplx.Abs(bins[b]))
		}
		c.Frequency = append(c.Frequency, analysis.Hz(f*math.Sqrt(ratio)))
		c.Spectrum = append(c.Spectrum, 20*math.Log10(loudest))
	}
	step := max(1, int(stretch*float64(rate)))
	for from := 0; from+step <= len(sound); from += step {
		power := 0.0
		for _, s := range sound[from : from+step] {
			power += s * s
		}
		c.Time = append(c.Time, (float64(from)+float64(step)/2)/float64(rate))
		c.Decay = append(c.Decay, 10*math.Log10(power/float64(step)))
	}
	normalise(c.Spectrum)
	normalise(c.Decay)
	c.Loudness = Loudness(sound, rate)
	return c
}

// normalise puts the loudest at 0 dB, and nothing below the faintest.
func normalise(db []float64) {
	top := math.Inf(-1)
	for _, x := range db {
		top = max(top, x)
	}
	for i, x := range db {
		db[i] = max(faintest, x-top)
		if math.IsNaN(db[i]) { // silence throughout
			db[i] = faintest
		}
	}
}

// Loudness is that of the loudest 0.4 s of one channel in LUFS: momentary
// loudness, ITU-R BS.1770-4, without its gating, which is for programmes. -Inf
// for silence.
func Loudness(sound []float64, rate analysis.Rate) float64 {
	shelf, pass := weighting(float64(rate))
	y := make([]float64, len(sound))
	for i, s := range sound {
		y[i] = pass.step(shelf.step(s))
	}
	n := max(1, min(len(y), int(0.4*float64(rate))))
	sum, most := 0.0, 0.0
	for i := range y {
		sum += y[i] * y[i]
		if i >= n {
			sum -= y[i-n] * y[i-n]
		}
		most = max(most, sum)
	}
	return -0.691 + 10*math.Log10(most/float64(n))
}

// biquad is a second-order filter, direct form II transposed.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

func (f *biquad) step(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// weighting are the two filters of BS.1770-4, Annex 1, which prints them for 48
// kHz only, at any rate: the analogue filters behind them, by the bilinear
// transform. The figures were solved for so that at 48 kHz the printed ones come
// out, which the test holds them against (from memory of what is commonly used
// for that, checked by that test).
func weighting(rate float64) (shelf, pass biquad) {
	k := math.Tan(math.Pi * 1681.974450955533 / rate)
	const q, gain = 0.7071752369554196, 3.999843853973347
	vh := math.Pow(10, gain/20)
	vb := math.Pow(vh, 0.4996667741545416)
	a0 := 1 + k/q + k*k
	shelf = biquad{b0: (vh + vb*k/q + k*k) / a0, b1: 2 * (k*k - vh) / a0, b2: (vh - vb*k/q + k*k) / a0,
		a1: 2 * (k*k - 1) / a0, a2: (1 - k/q + k*k) / a0}
	k = math.Tan(math.Pi * 38.13547087602444 / rate)
	const qp = 0.5003270373238773
	a0 = 1 + k/qp + k*k
	pass = biquad{b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/qp + k*k) / a0}
	return shelf, pass
}
