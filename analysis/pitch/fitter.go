package pitch

import (
	"math"

	"ringwell/analysis"
)

// Fit is a harmonic sound as least squares sees it.
type Fit struct {
	Frequency  analysis.Hz    // of the fundamental, in the middle of the sound given
	Sigma      analysis.Cents // one standard deviation
	Explained  float64        // share of the power (about the mean) that the harmonics explain, 0..1
	Amplitudes []float64      // of harmonics 1, 2, ..., in the unit of the samples; owned by the Fitter, valid until its next Fit
	SigmaAmp   float64        // one standard deviation of each amplitude
}

// Fitter refines a period found to a frequency: least squares of a sum of
// harmonics h·f, h = 1..H, each with its own amplitude and phase, with f found
// by Gauss-Newton steps. For white noise this is the maximum likelihood
// estimate. It holds where f and the amplitudes stand still over the sound
// given; use 40 to 200 ms. One goroutine uses it.
type Fitter struct {
	rate      float64
	harmonics int

	cos, sin       []float64 // coefficients of harmonics 0..H (0: the mean)
	gc, gs         []float64 // the slope's projection on the harmonics
	sums           []float64 // Σ cos(m·ω·t), m = 0..2H
	gramC, gramS   square
	amps           []float64
	slope, residue []float64
}

// NewFitter returns a Fitter for sound at rate, with at most this many
// harmonics, for pieces of at most longest samples.
func NewFitter(rate analysis.Rate, harmonics, longest int) *Fitter {
	h := max(1, harmonics)
	return &Fitter{
		rate:      float64(rate),
		harmonics: h,
		cos:       make([]float64, h+1),
		sin:       make([]float64, h+1),
		gc:        make([]float64, h+1),
		gs:        make([]float64, h+1),
		sums:      make([]float64, 2*h+1),
		gramC:     newSquare(h + 1),
		gramS:     newSquare(h + 1),
		amps:      make([]float64, h),
		slope:     make([]float64, longest),
		residue:   make([]float64, longest),
	}
}

// Steps of Fit. A Gauss-Newton step is kept only if more is explained than
// before, else halved; from a YIN period four or five steps do.
const (
	mostSteps   = 12
	mostHalving = 6
)

// Fit fits sound around the frequency guess, which must be within about half
// a hertz per second⁻¹ of the sound's length (YIN's is). It allocates nothing.
// ok is false if the sound is shorter than three periods or longer than the
// Fitter was made for, or holds nothing or no finite numbers.
func (f *Fitter) Fit(sound []float64, guess analysis.Hz) (fit Fit, ok bool) {
	n := len(sound)
	w := 2 * math.Pi * float64(guess) / f.rate
	if n > len(f.slope) || !(w > 0) || float64(n)*w < 3*2*math.Pi {
		return Fit{}, false
	}
	most := min(f.harmonics, int(0.9*math.Pi/w))
	total := variance(sound)
	if most < 1 || !(total > 0) || math.IsInf(total, 0) {
		return Fit{}, false
	}
	// Few harmonics first: the capture range shrinks as 1/H.
	for _, h := range [...]int{min(2, most), most} {
		w = f.climb(sound, w, h)
	}
	left := f.solve(sound, w, most)
	slopes := f.tangent(sound, w, most)
	if !(slopes > 0) || !(left >= 0) {
		return Fit{}, false
	}
	free := max(1, float64(n-2*most-2))
	noise := left / free
	sigma := math.Sqrt(max(noise/slopes, f.batched(n)/(slopes*slopes)))
	for h := 1; h <= most; h++ {
		f.amps[h-1] = math.Hypot(f.cos[h], f.sin[h])
	}
	return Fit{
		Frequency:  analysis.Hz(w * f.rate / (2 * math.Pi)),
		Sigma:      analysis.Cents(analysis.CentsPerNeper * sigma / w),
		Explained:  max(0, 1-left/total),
		Amplitudes: f.amps[:most],
		SigmaAmp:   math.Sqrt(2 * noise / float64(n)),
	}, true
}

// climb takes Gauss-Newton steps from w with h harmonics and returns where it
// comes to rest.
func (f *Fitter) climb(sound []float64, w float64, h int) float64 {
	left := f.solve(sound, w, h)
	for range mostSteps {
		slopes := f.tangent(sound, w, h)
		if !(slopes > 0) {
			return w
		}
		gradient := 0.0
		for i, g := range f.slope[:len(sound)] {
			gradient += g * f.residue[i]
		}
		step := gradient / slopes
		// Beyond half a turn at the ends the linearisation means nothing.
		far := math.Pi / float64(len(sound))
		step = max(-far, min(far, step))
		better := false
		for range mostHalving {
			now := f.solve(sound, w+step, h)
			if now < left {
				better = true
				w += step
				// A gain under a millionth of one sample's noise moves w by
				// under a thousandth of its sigma.
				done := left-now < 1e-6*now/float64(len(sound))
				left = now
				if done {
					return w
				}
				break
			}
			step /= 2
		}
		if !better {
			f.solve(sound, w, h)
			return w
		}
	}
	return w
}

// solve finds mean and harmonics at w and leaves the residue; it returns the
// residue's sum of squares. Time runs from the middle of the sound, which
// makes cosines and sines orthogonal to each other.
func (f *Fitter) solve(sound []float64, w float64, h int) float64 {
	f.gram(len(sound), w, h)
	f.project(f.cos, f.sin, sound, w, h)
	f.gramC.solve(f.cos[:h+1], 0)
	f.gramS.solve(f.sin[:h+1], 1)
	left := 0.0
	f.walk(len(sound), w, func(i int, c, s float64) {
		y := f.cos[0]
		hc, hs := c, s
		for k := 1; k <= h; k++ {
			y += f.cos[k]*hc + f.sin[k]*hs
			hc, hs = hc*c-hs*s, hc*s+hs*c
		}
		f.residue[i] = sound[i] - y
		left += f.residue[i] * f.residue[i]
	})
	return left
}

// tangent leaves in slope how the model changes with w, less what the
// harmonics can take up themselves, and returns its sum of squares: the
// Fisher information of w at unit noise.
func (f *Fitter) tangent(sound []float64, w float64, h int) float64 {
	n := len(sound)
	mid := float64(n-1) / 2
	f.walk(n, w, func(i int, c, s float64) {
		g := 0.0
		hc, hs := c, s
		for k := 1; k <= h; k++ {
			g += float64(k) * (f.sin[k]*hc - f.cos[k]*hs)
			hc, hs = hc*c-hs*s, hc*s+hs*c
		}
		f.slope[i] = g * (float64(i) - mid)
	})
	f.project(f.gc, f.gs, f.slope[:n], w, h)
	f.gramC.solve(f.gc[:h+1], 0)
	f.gramS.solve(f.gs[:h+1], 1)
	sum := 0.0
	f.walk(n, w, func(i int, c, s float64) {
		y := f.gc[0]
		hc, hs := c, s
		for k := 1; k <= h; k++ {
			y += f.gc[k]*hc + f.gs[k]*hs
			hc, hs = hc*c-hs*s, hc*s+hs*c
		}
		f.slope[i] -= y
		sum += f.slope[i] * f.slope[i]
	})
	return sum
}

// batches is how many pieces batched cuts the sound into: few enough that a
// piece outlasts the noise's memory, enough to tell a variance.
const batches = 10

// batched is the variance of the score Σ slope·residue from the spread of its
// parts over the sound (batch means). Breath noise is coloured and sits on the
// harmonics, and pitch wavers: both show here, not in the residue's power.
// The fit bends towards what the outer pieces say, so their residues come out
// small; dividing by 1 - leverage of a straight line through the pieces' phases
// makes up for it (the HC3 estimator of MacKinnon & White, J. Econometrics 29
// (1985) 305-325, from memory, unchecked).
func (f *Fitter) batched(n int) float64 {
	const middle = (batches - 1) / 2.0
	const spread = batches * (batches*batches - 1) / 12.0 // Σ (b - middle)²
	sum := 0.0
	for b := range batches {
		part := 0.0
		for i := b * n / batches; i < (b+1)*n/batches; i++ {
			part += f.slope[i] * f.residue[i]
		}
		away := float64(b) - middle
		part /= 1 - 1.0/batches - away*away/spread
		sum += part * part
	}
	return sum
}

// walk calls visit for each of n samples with the cosine and sine of w·t, t
// from the middle.
func (f *Fitter) walk(n int, w float64, visit func(i int, c, s float64)) {
	rs, rc := math.Sincos(w)
	mid := float64(n-1) / 2
	var c, s float64
	for i := range n {
		if i%256 == 0 { // the recurrence loses a few ulps a step
			s, c = math.Sincos(w * (float64(i) - mid))
		}
		visit(i, c, s)
		c, s = c*rc-s*rs, c*rs+s*rc
	}
}

// project fills cos and sin with the inner products of y with the harmonics.
func (f *Fitter) project(cos, sin, y []float64, w float64, h int) {
	clear(cos)
	clear(sin)
	f.walk(len(y), w, func(i int, c, s float64) {
		v := y[i]
		cos[0] += v
		hc, hs := c, s
		for k := 1; k <= h; k++ {
			cos[k] += v * hc
			sin[k] += v * hs
			hc, hs = hc*c-hs*s, hc*s+hs*c
		}
	})
}

// gram factors the normal matrices: with t symmetric about 0,
// Σ cos(jt)cos(kt) = ½[S(j-k) + S(j+k)] and Σ sin sin = ½[S(j-k) - S(j+k)],
// S(m) = Σ cos(m·w·t) = sin(m·w·n/2)/sin(m·w/2).
func (f *Fitter) gram(n int, w float64, h int) {
	for m := range 2*h + 1 {
		f.sums[m] = float64(n)
		if d := math.Sin(float64(m) * w / 2); m > 0 && d != 0 {
			f.sums[m] = math.Sin(float64(m)*w*float64(n)/2) / d
		}
	}
	for j := 0; j <= h; j++ {
		for k := 0; k <= j; k++ {
			f.gramC.set(j, k, (f.sums[j-k]+f.sums[j+k])/2)
			f.gramS.set(j, k, (f.sums[j-k]-f.sums[j+k])/2)
		}
	}
	f.gramC.factor(0, h+1)
	f.gramS.factor(1, h+1)
}

func variance(x []float64) float64 {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	sum := 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum
}
