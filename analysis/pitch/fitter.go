package pitch

import (
	"math"

	"gonum.org/v1/gonum/floats"

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
	longest   int
	waves     waves
	even, odd half
	amps      []float64
}

// NewFitter returns a Fitter for sound at rate, with at most this many
// harmonics, for pieces of at most longest samples.
func NewFitter(rate analysis.Rate, harmonics, longest int) *Fitter {
	h := max(1, harmonics)
	longest = max(2, longest)
	return &Fitter{
		rate:      float64(rate),
		harmonics: h,
		longest:   longest,
		waves:     newWaves(h, longest/2),
		even:      newHalf(0, h, longest/2),
		odd:       newHalf(1, h, longest/2),
		amps:      make([]float64, h),
	}
}

// Steps of Fit. A Gauss-Newton step is kept only if more is explained than
// before, else halved; from a YIN period three or four steps do.
const (
	mostSteps   = 12
	mostHalving = 6
)

// Fit fits sound around the frequency guess, which has to be near enough that
// the second harmonic stays in step over the sound: within about rate/(8·len)
// Hz. YIN's is. An odd sample at the end is left out. It allocates nothing. ok
// is false if the sound is shorter than three periods or longer than the
// Fitter was made for, or silent, or not finite, or if guess is not a
// frequency under half the rate.
func (f *Fitter) Fit(sound []float64, guess analysis.Hz) (fit Fit, ok bool) {
	n := len(sound) &^ 1
	w := 2 * math.Pi * float64(guess) / f.rate
	if n > f.longest || !(w > 0) || !(w < math.Pi) || float64(n)*w < 3*2*math.Pi {
		return Fit{}, false
	}
	most := max(1, min(f.harmonics, int(0.9*math.Pi/w)))
	total := variance(sound[:n])
	if !(total > 0) || math.IsInf(total, 0) {
		return Fit{}, false
	}
	f.even.load(sound[:n], +1)
	f.odd.load(sound[:n], -1)
	// Few harmonics first: the capture range shrinks as 1/H.
	var left, slopes float64
	for _, h := range [...]int{min(2, most), most} {
		w, left, slopes = f.climb(n, w, h)
	}
	if !(slopes > 0) || !(left >= 0) || !(w > 0) || !(w < math.Pi) {
		return Fit{}, false
	}
	noise := left / max(1, float64(n-2*most-2))
	sigma := math.Sqrt(max(noise/slopes, f.batched(n)/(slopes*slopes)))
	for h := 1; h <= most; h++ {
		f.amps[h-1] = math.Hypot(f.even.coef[h], f.odd.coef[h])
	}
	return Fit{
		Frequency:  analysis.Hz(w * f.rate / (2 * math.Pi)),
		Sigma:      analysis.Cents(analysis.CentsPerNeper * sigma / w),
		Explained:  max(0, 1-left/total),
		Amplitudes: f.amps[:most],
		SigmaAmp:   math.Sqrt(2 * noise / float64(n)),
	}, true
}

// climb takes Gauss-Newton steps from w with h harmonics. It returns where it
// comes to rest, the residue's sum of squares there, and the Fisher
// information of w at unit noise.
func (f *Fitter) climb(n int, w float64, h int) (at, left, slopes float64) {
	left = f.solve(n, w, h)
	for range mostSteps {
		slopes = f.tangent(h)
		if !(slopes > 0) {
			break
		}
		// Beyond half a turn at the ends the linearisation means nothing.
		far := math.Pi / float64(n)
		step := max(-far, min(far, f.gradient()/slopes))
		// A step under a thousandth of the sigma is not worth its sums.
		if step*step*slopes < 1e-6*left/float64(n) {
			break
		}
		now := f.solve(n, w+step, h)
		for k := 0; !(now < left) && k < mostHalving; k++ {
			step /= 2
			now = f.solve(n, w+step, h)
		}
		if !(now < left) {
			left = f.solve(n, w, h)
			slopes = f.tangent(h)
			break
		}
		w, left = w+step, now
	}
	return w, left, slopes
}

// solve finds mean and harmonics at w and leaves the residues; it returns
// their sum of squares.
func (f *Fitter) solve(n int, w float64, h int) float64 {
	f.waves.fill(n, w, h)
	return f.even.solve(f.waves, h) + f.odd.solve(f.waves, h)
}

// tangent leaves how the model changes with w, less what the harmonics can
// take up themselves, and returns its sum of squares.
func (f *Fitter) tangent(h int) float64 {
	// d/dω of a·cos(hωt) + b·sin(hωt) is ht·(b·cos(hωt) - a·sin(hωt)): odd
	// from the sines, even from the cosines.
	return f.even.tangent(f.waves, -1, f.even.coef, h) + f.odd.tangent(f.waves, +1, f.odd.coef, h)
}

func (f *Fitter) gradient() float64 {
	return 2 * (floats.Dot(f.even.slope, f.even.residue) + floats.Dot(f.odd.slope, f.odd.residue))
}

// batches is how many pieces batched cuts the sound into: few enough that a
// piece outlasts the noise's memory, enough to tell a variance. Even.
const batches = 10

// batched is the variance of the score Σ slope·residue from the spread of its
// parts over the sound (batch means). Breath noise is coloured and sits on the
// harmonics, and pitch wavers: both show here, not in the residue's power.
// The fit bends towards what the outer pieces say, so their residues come out
// small; dividing by 1 - leverage of a straight line through the pieces' phases
// makes up for it (the HC3 estimator of MacKinnon & White, J. Econometrics 29
// (1985) 305-325, from memory, unchecked).
func (f *Fitter) batched(n int) float64 {
	const spread = batches * (batches*batches - 1) / 12.0 // Σ away²
	m := n / 2
	sum := 0.0
	for b := range batches / 2 {
		after, before := 0.0, 0.0
		for i := 2 * b * m / batches; i < 2*(b+1)*m/batches; i++ {
			after += (f.even.slope[i] + f.odd.slope[i]) * (f.even.residue[i] + f.odd.residue[i])
			before += (f.even.slope[i] - f.odd.slope[i]) * (f.even.residue[i] - f.odd.residue[i])
		}
		away := float64(b) + 0.5
		free := 1 - 1.0/batches - away*away/spread
		sum += (after*after + before*before) / (free * free)
	}
	return sum
}

// variance is the sum of squares about the mean.
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
