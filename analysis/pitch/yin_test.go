package pitch

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"ringwell/analysis"
)

// slowDifference is equation 6 as printed.
func slowDifference(x []float64, window, lags int) []float64 {
	d := make([]float64, lags+1)
	for lag := range d {
		for j := range window {
			v := x[j] - x[j+lag]
			d[lag] += v * v
		}
	}
	return d
}

func noise(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	return x
}

// harmonic is a sum of harmonics of f with the amplitudes given, phases spread.
func harmonic(rate, f float64, n int, amps ...float64) []float64 {
	x := make([]float64, n)
	for h, a := range amps {
		for i := range x {
			x[i] += a * math.Sin(2*math.Pi*f*float64(h+1)*float64(i)/rate+float64(h*h))
		}
	}
	return x
}

func TestDifferenceAgreesWithTextbook(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ window, lags int }{{400, 200}, {960, 961}, {7, 3}, {64, 300}} {
		f := newDifference(c.window, c.lags)
		x := noise(r, f.frame())
		fast := make([]float64, c.lags+1)
		f.into(fast, x)
		for lag, slow := range slowDifference(x, c.window, c.lags) {
			if math.Abs(fast[lag]-slow) > 1e-9*float64(c.window) {
				t.Fatalf("window %d, lag %d: got %g, wanted %g", c.window, lag, fast[lag], slow)
			}
		}
	}
}

// Worked values of a 200 Hz sine at 8000 Hz with W = 400, from equations 6 and
// 8 in closed form: half a period away every pair differs by twice the sine,
// d(20) = Σ 4 sin² = 800; a period away by nothing. d'(20) = 800/(1/20 Σ d).
func TestWorkedValues(t *testing.T) {
	f := newDifference(400, 60)
	x := make([]float64, f.frame())
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 200 * float64(i) / 8000)
	}
	d := make([]float64, 61)
	f.into(d, x)
	dd := make([]float64, 61)
	normalise(dd, d)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"d(20)", d[20], 800}, {"d(40)", d[40], 0},
		{"d'(0)", dd[0], 1}, {"d'(20)", dd[20], 1.904762}, {"d'(40)", dd[40], 0},
	} {
		if math.Abs(c.got-c.want) > 5e-7 {
			t.Errorf("%s: got %.7f, wanted %.7f", c.what, c.got, c.want)
		}
	}
}

func run(rate float64, o Options, x []float64) []Estimate {
	tr := New(analysis.Rate(rate), o)
	var out []Estimate
	for i := 0; i+tr.Hop() <= len(x); i += tr.Hop() {
		if e, ok := tr.Step(x[i : i+tr.Hop()]); ok {
			out = append(out, e)
		}
	}
	return out
}

func TestTrackerFindsHarmonicSounds(t *testing.T) {
	for _, c := range []struct {
		name string
		f    float64
		amps []float64
		most float64 // cents: error of a parabola over few samples a period
	}{
		{"low bottle", 87.3, []float64{1, .1}, 2},
		{"bottle", 220, []float64{1, .05, .02}, 2},
		{"string", 196, []float64{.6, 1, .5, .4, .3, .2}, 2},
		{"weak fundamental", 130, []float64{.05, .5, 1, .7}, 2},
		{"no fundamental", 150, []float64{0, 1, 1, 1}, 2},
		{"rubbed glass", 1046.5, []float64{1, .1}, 4},
		{"high glass", 2500, []float64{1}, 20},
	} {
		es := run(48000, Options{}, harmonic(48000, c.f, 24000, c.amps...))
		if len(es) < 40 {
			t.Fatalf("%s: only %d estimates of half a second", c.name, len(es))
		}
		for _, e := range es {
			if off := math.Abs(float64(e.Frequency.Above(analysis.Hz(c.f)))); !(off < c.most) || e.Aperiodicity > 0.1 {
				t.Errorf("%s: %.2f Hz at sample %d: got %.3f Hz (%.2f cents off), aperiodicity %.3f", c.name, c.f, e.At, e.Frequency, off, e.Aperiodicity)
				break
			}
		}
	}
}

// A chirp shows where in time an estimate belongs: its frequency must be that
// of the chirp at At. 1 cent a sample's worth: the glide is 200 cents a second,
// 8 ms of it is 1.6 cents.
func TestEstimateBelongsToItsTime(t *testing.T) {
	const rate, f0, centsPerSecond = 48000.0, 300.0, 200.0
	x := make([]float64, 48000)
	at := func(i float64) float64 { return f0 * math.Exp2(centsPerSecond*i/rate/1200) }
	phase := 0.0
	for i := range x {
		x[i] = math.Sin(phase) + .3*math.Sin(2*phase)
		phase += 2 * math.Pi * at(float64(i)+.5) / rate
	}
	for _, e := range run(rate, Options{}, x) {
		if off := math.Abs(float64(e.Frequency.Above(analysis.Hz(at(float64(e.At)))))); off > 1 {
			t.Fatalf("at sample %d: got %.3f Hz, wanted %.3f Hz", e.At, e.Frequency, at(float64(e.At)))
		}
	}
}

func TestNoPitchWhereNothingRepeats(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, e := range run(48000, Options{}, noise(r, 96000)) {
		if e.Aperiodicity < 0.3 {
			t.Errorf("white noise at sample %d: aperiodicity %.3f, wanted over 0.3", e.At, e.Aperiodicity)
		}
	}
	for _, e := range run(48000, Options{}, make([]float64, 24000)) {
		if e.Frequency != 0 || e.Aperiodicity != 1 {
			t.Fatalf("silence: got %+v, wanted no frequency and aperiodicity 1", e)
		}
	}
}

func TestBadSamplesGiveNoPitchAndPass(t *testing.T) {
	x := harmonic(48000, 220, 96000, 1)
	x[30000], x[30001], x[30002] = math.NaN(), math.Inf(1), 1e300
	last := Estimate{}
	for _, e := range run(48000, Options{}, x) {
		if math.IsNaN(float64(e.Frequency)) || math.IsNaN(e.Aperiodicity) || math.IsNaN(e.RMS) {
			t.Fatalf("NaN came out: %+v", e)
		}
		last = e
	}
	if off := last.Frequency.Above(220); math.Abs(float64(off)) > 2 {
		t.Errorf("after bad samples: got %.3f Hz, wanted 220 Hz", last.Frequency)
	}
}

// Step 6 mends single frames: 2 ms of rubbish throw the frames they fall in,
// and the frames around put them right.
func TestBestLocalEstimateMendsAFrame(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 0))
	x := harmonic(48000, 180, 48000, 1, .5, .3)
	for i := 20000; i < 20100; i++ {
		x[i] += 3 * r.NormFloat64()
	}
	before, after := 0, 0
	tr := New(48000, Options{})
	for i := 0; i+tr.Hop() <= len(x); i += tr.Hop() {
		e, ok := tr.Step(x[i : i+tr.Hop()])
		if !ok {
			continue
		}
		if math.Abs(float64(e.Frequency.Above(180))) > 50 {
			after++
		}
		f := tr.frames[(tr.count-1)%int64(len(tr.frames))]
		if math.Abs(float64(analysis.Hz(tr.rate/f.lagged).Above(180))) > 50 {
			before++
		}
	}
	if before == 0 || after > 0 {
		t.Errorf("frames off by more than 50 cents: %d before step 6, %d after; wanted some, and none", before, after)
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	tr := New(48000, Options{})
	x := harmonic(48000, 220, 48000, 1, .3)
	i := 0
	if n := testing.AllocsPerRun(50, func() {
		tr.Step(x[i : i+tr.Hop()])
		i += tr.Hop()
	}); n != 0 {
		t.Errorf("Step allocated %g times, wanted 0", n)
	}
}

func TestDelayIsKept(t *testing.T) {
	for _, o := range []Options{{}, {Low: 80, Hop: 5 * time.Millisecond}, {Low: 40, Hop: 30 * time.Millisecond}} {
		tr := New(44100, o)
		given := int64(0)
		x := harmonic(44100, 220, 44100, 1)
		for i := 0; i+tr.Hop() <= len(x); i += tr.Hop() {
			e, ok := tr.Step(x[i : i+tr.Hop()])
			given += int64(tr.Hop())
			if !ok {
				continue
			}
			// At lies half a lag after the middle of the window; the longest
			// lag is the window.
			back := given - e.At
			if longest := int64((tr.diff.window/2 + 1) * tr.thin.factor); back > int64(tr.Delay()) || back < int64(tr.Delay())-longest {
				t.Fatalf("%+v: estimate %d samples back, Delay says %d", o, back, tr.Delay())
			}
		}
	}
}

func BenchmarkStep(b *testing.B) {
	tr := New(48000, Options{})
	x := harmonic(48000, 220, 480*100, 1, .3, .2)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		k := i % 100 * 480
		tr.Step(x[k : k+480])
	}
}

// A tone far above High must not come back as one it folds onto.
func TestNothingFolds(t *testing.T) {
	for _, rate := range []float64{44100, 48000, 96000} {
		for _, f := range []float64{200, 440, 1500, 2900} {
			thin := newDecimator(rate, 3000, 0)
			if thin.factor == 1 {
				t.Fatalf("%g Hz: not decimated, nothing to test", rate)
			}
			above := rate/float64(thin.factor) - f
			worst := 0.0
			for _, e := range run(rate, Options{}, harmonic(rate, above, int(rate), 1)) {
				worst = max(worst, e.RMS)
			}
			if db := 20 * math.Log10(worst/math.Sqrt(.5)); db > -60 {
				t.Errorf("rate %g: %g Hz folds onto %g Hz at %.1f dB, wanted under -60 dB", rate, above, f, db)
			}
		}
	}
}
