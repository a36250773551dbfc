package pitch

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

func TestFitIsExactWithoutNoise(t *testing.T) {
	f := NewFitter(48000, 12, 9600)
	for _, c := range []struct{ hz, off float64 }{{87.31, 1.002}, {220, .998}, {233.71, 1.004}, {1046.5, 1.001}, {3000, .9995}} {
		x := harmonic(48000, c.hz, 4800, 1, .4, 0, .2)
		for i := range x {
			x[i] += 0.1 // an offset is not part of the tone
		}
		fit, ok := f.Fit(x, analysis.Hz(c.hz*c.off))
		if off := float64(fit.Frequency.Above(analysis.Hz(c.hz))); !ok || math.Abs(off) > 1e-5 || fit.Explained < 1-1e-9 {
			t.Errorf("%.2f Hz from %.2f Hz: got %.6f Hz (%.2g cents off), explained %.9f, ok %v", c.hz, c.hz*c.off, fit.Frequency, off, fit.Explained, ok)
			continue
		}
		for h, want := range []float64{1, .4, 0, .2} {
			if got := fit.Amplitudes[h]; math.Abs(got-want) > 1e-6 {
				t.Errorf("%.2f Hz, harmonic %d: got amplitude %.8f, wanted %g", c.hz, h+1, got, want)
			}
		}
	}
}

// Cramér-Rao bound of one real sinusoid in white noise, amplitude and phase
// unknown: var(ω) >= 12/(η N (N²-1)), η = (A²/2)/σ². Rife & Boorstyn, IEEE
// Trans. Inf. Theory 20 (1974) 591-598, from memory, unchecked; for harmonics
// η becomes Σ h² η_h.
func TestFitReachesTheBound(t *testing.T) {
	const n, trials = 4096, 400
	amps := []float64{1, .5, .25}
	for _, snr := range []float64{0, 20, 40} {
		r := rand.New(rand.NewPCG(7, uint64(snr)))
		sd := math.Sqrt(.5 * math.Pow(10, -snr/10))
		eta := 0.0
		for h, a := range amps {
			eta += float64((h+1)*(h+1)) * a * a / 2 / (sd * sd)
		}
		bound := analysis.CentsPerNeper * math.Sqrt(12/(eta*n*(n*n-1))) / (2 * math.Pi * 300 / 48000)
		f := NewFitter(48000, 3, n)
		sum, covered := 0.0, 0
		for range trials {
			x := harmonic(48000, 300, n, amps...)
			for i := range x {
				x[i] += sd * r.NormFloat64()
			}
			fit, ok := f.Fit(x, 300.3)
			if !ok {
				t.Fatal("no fit")
			}
			off := float64(fit.Frequency.Above(300))
			sum += off * off
			if math.Abs(off) < 2*float64(fit.Sigma) {
				covered++
			}
		}
		// 400 trials tell an rms to 3.5 %: 10 % is three of those.
		if ratio := math.Sqrt(sum/trials) / bound; ratio < .9 || ratio > 1.1 {
			t.Errorf("SNR %g dB: rms error %.3f of the bound, wanted 0.9 to 1.1", snr, ratio)
		}
		t.Logf("SNR %g dB: rms error %.3f of the bound, ±2 sigma held %.3f", snr, math.Sqrt(sum/trials)/bound, float64(covered)/trials)
		if share := float64(covered) / trials; share < .92 {
			t.Errorf("SNR %g dB: ±2 sigma held the truth %.3f of the time, wanted 0.92 or more", snr, share)
		}
	}
}

// Breath noise has the colour of the bottle: most of it lies on the tone. The
// stated sigma must know that; one from the residue's power alone would be
// several times too small.
func TestSigmaKnowsColouredNoise(t *testing.T) {
	const n, trials = 9600, 300
	r := rand.New(rand.NewPCG(9, 1))
	f := NewFitter(48000, 4, n)
	covered, white := 0, 0
	pole := math.Exp(-math.Pi * 60 / 48000) // 60 Hz wide
	for range trials {
		x := harmonic(48000, 233, n, 1, .1)
		a, b := 0.0, 0.0
		for i := -4000; i < n; i++ {
			a, b = r.NormFloat64()*.003+2*pole*math.Cos(2*math.Pi*240/48000)*a-pole*pole*b, a
			if i >= 0 {
				x[i] += a
			}
		}
		fit, ok := f.Fit(x, 233.2)
		if !ok {
			t.Fatal("no fit")
		}
		off := math.Abs(float64(fit.Frequency.Above(233)))
		if off < 2*float64(fit.Sigma) {
			covered++
		}
		left, slopes := f.climbed()
		if off < 2*analysis.CentsPerNeper*math.Sqrt(left/n/slopes)/(2*math.Pi*233/48000) {
			white++
		}
	}
	t.Logf("±2 sigma held the truth %.3f of the time; from the residue's power alone it would have been %.3f", float64(covered)/trials, float64(white)/trials)
	// Ten pieces make a t distribution of about eight degrees, which leaves
	// 0.08 outside ±2 sigma; 0.02 is one standard deviation of 300 trials.
	if share := float64(covered) / trials; share < .88 {
		t.Errorf("±2 sigma held the truth %.3f of the time, wanted 0.88 or more", share)
	}
	if share := float64(white) / trials; share > .6 {
		t.Errorf("sigma from the residue's power held the truth %.3f of the time: the case is too easy to show anything", share)
	}
}

// climbed returns the residue's power and the information of the last fit.
func (f *Fitter) climbed() (left, slopes float64) {
	for _, p := range []half{f.even, f.odd} {
		for i := range p.residue {
			left += 2 * p.residue[i] * p.residue[i]
			slopes += 2 * p.slope[i] * p.slope[i]
		}
	}
	return left, slopes
}

func TestFitRefuses(t *testing.T) {
	f := NewFitter(48000, 8, 4800)
	nan := harmonic(48000, 220, 4000, 1)
	nan[100] = math.NaN()
	for _, c := range []struct {
		why   string
		sound []float64
		guess analysis.Hz
	}{
		{"shorter than three periods", harmonic(48000, 100, 1000, 1), 100},
		{"longer than the fitter", harmonic(48000, 220, 5000, 1), 220},
		{"silence", make([]float64, 4000), 220},
		{"no guess", harmonic(48000, 220, 4000, 1), 0},
		{"guess not a number", harmonic(48000, 220, 4000, 1), analysis.Hz(math.NaN())},
		{"a sample not a number", nan, 220},
		{"guess above half the rate", harmonic(48000, 220, 4000, 1), 30000},
	} {
		if fit, ok := f.Fit(c.sound, c.guess); ok {
			t.Errorf("%s: got %+v, wanted no fit", c.why, fit)
		}
	}
}

func TestFitAllocatesNothing(t *testing.T) {
	f := NewFitter(48000, 12, 4800)
	x := harmonic(48000, 220, 4800, 1, .3, .1)
	if n := testing.AllocsPerRun(20, func() { f.Fit(x, 220.4) }); n != 0 {
		t.Errorf("Fit allocated %g times, wanted 0", n)
	}
}

func FuzzTrackAndFit(f *testing.F) {
	f.Add(uint64(1), 220.0, 1.0, 0.1)
	f.Add(uint64(2), 0.0, math.MaxFloat64, math.Inf(1))
	f.Add(uint64(3), math.NaN(), 1e-300, 0.0)
	f.Fuzz(func(t *testing.T, seed uint64, hz, amp, dirt float64) {
		r := rand.New(rand.NewPCG(seed, 0))
		x := make([]float64, 9600)
		for i := range x {
			x[i] = amp*math.Sin(2*math.Pi*hz*float64(i)/48000) + dirt*r.NormFloat64()
		}
		for _, e := range run(48000, Options{}, x) {
			if v := float64(e.Frequency); math.IsNaN(v) || math.IsInf(v, 0) || v < 0 || math.IsNaN(e.Aperiodicity) || math.IsNaN(e.RMS) {
				t.Fatalf("given %g Hz, %g, %g: got %+v", hz, amp, dirt, e)
			}
		}
		fit, ok := NewFitter(48000, 5, 9600).Fit(x, analysis.Hz(hz))
		if v := float64(fit.Frequency + analysis.Hz(fit.Sigma)); ok && (math.IsNaN(v) || math.IsInf(v, 0) || fit.Frequency <= 0) {
			t.Fatalf("given %g Hz, %g, %g: got %+v", hz, amp, dirt, fit)
		}
	})
}

func BenchmarkFit100ms(b *testing.B) {
	f := NewFitter(48000, 12, 4800)
	x := harmonic(48000, 220, 4800, 1, .3, .1)
	b.ReportAllocs()
	for b.Loop() {
		f.Fit(x, 220.4)
	}
}
