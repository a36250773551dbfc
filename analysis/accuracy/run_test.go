package accuracy

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

func small(w io.Writer, seed uint64) *bench { return &bench{w: w, seed: seed, scale: 0.01} }

// One seed, one table: on one core and on several, and again.
func TestSameSeedSameTable(t *testing.T) {
	table := func(seed uint64, cores int) string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		var out bytes.Buffer
		b := small(&out, seed)
		b.clipped()
		b.knocks()
		return out.String()
	}
	want := table(1, 1)
	if got := table(1, 3); got != want {
		t.Errorf("seed 1 on three cores: got\n%s\nwant as on one\n%s", got, want)
	}
	if got := table(2, 3); got == want {
		t.Errorf("seed 2 gave the table of seed 1:\n%s", got)
	}
}

// failing fails once it has taken so many bytes.
type failing struct{ left int }

var errFull = errors.New("full")

func (f *failing) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestWritersErrorComesBack(t *testing.T) {
	for _, left := range []int{0, 200} {
		b := small(&failing{left}, 1)
		b.knocks()
		if !errors.Is(b.err, errFull) {
			t.Errorf("a writer full after %d bytes: got error %v, want its own", left, b.err)
		}
	}
}

// The estimator stands on the bound for one partial, and its sigmas are true.
// 120 strikes: the root mean square of normal deviates lies within 0.80 and
// 1.20 in all but two cases of a thousand.
func TestOnePartialStandsOnTheBound(t *testing.T) {
	b := &bench{w: io.Discard, seed: 3}
	s := b.cell("test/single", 120, func(e *partial.Estimator, r *rand.Rand, label string, s *score) {
		k := strike(object{"one", []mode{{logUniform(r, 200, 6000), 0.5, 1}}}, "white", 30, 0.5, r)
		s.judge(k, read(e, k), label)
	})
	if s.missed+s.spurious > 0 || s.detectable != 120 {
		t.Errorf("120 partials: got %d detectable, %d missed, %d invented", s.detectable, s.missed, s.spurious)
	}
	for what, v := range map[string]float64{"frequency": rms(s.freq), "T60": rms(s.ring)} {
		if v < 0.8 || v > 1.2 {
			t.Errorf("%s: got root mean square %.2f times the bound, want 1 ± 0.2", what, v)
		}
	}
	if in := ratio(s.insideF, s.countF); in < 0.88 {
		t.Errorf("within two sigma: got %.2f, want 0.95 or nearly", in)
	}
}

// power of x in a band, by the spectrum of the whole of it.
func bandPower(x []float64, lo, hi float64) float64 {
	c := fourier.NewFFT(len(x)).Coefficients(nil, x)
	var p float64
	for k, v := range c {
		if f := float64(k) * float64(rate) / float64(len(x)); f >= lo && f < hi {
			p += (real(v)*real(v) + imag(v)*imag(v)) * 2 / float64(len(x)) / float64(len(x))
		}
	}
	return p
}

func TestBackgroundsAreWhatTheySay(t *testing.T) {
	const n = 1 << 18
	of := func(kind string) []float64 { return background(kind, n, rand.New(rand.NewPCG(4, 4))) }
	db := func(a, b float64) float64 { return 10 * math.Log10(a/b) }
	for _, kind := range []string{"white", "pink", "babble"} {
		if p := bandPower(of(kind), 0, 1e9); math.Abs(p-1) > 0.05 {
			t.Errorf("%s: got power %.3f, want 1", kind, p)
		}
	}
	// Pink: as much in each octave.
	if d := db(bandPower(of("pink"), 400, 800), bandPower(of("pink"), 3200, 6400)); math.Abs(d) > 0.7 {
		t.Errorf("pink: the octave from 400 Hz is %.2f dB over that from 3200 Hz, want 0", d)
	}
	if d := db(bandPower(of("rumble"), 10, 120), bandPower(of("white"), 0, 1e9)); math.Abs(d-25) > 2 {
		t.Errorf("rumble: got %.1f dB over the white part, want 25", d)
	}
	hum := of("hum")
	if d := max(db(bandPower(hum, 49, 51), 50), db(bandPower(hum, 59, 61), 50)); math.Abs(d) > 1 {
		t.Errorf("hum: the first harmonic lies %.2f dB from an amplitude of 10", d)
	}
}

func TestStrikeKeepsItsSNR(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	k := strike(object{"one", []mode{{1000, 1, 1}}}, "white", 20, 1, r)
	noise := bandPower(k.before[:1<<16], 0, 1e9)
	if got := 10 * math.Log10(full*full/2/noise); math.Abs(got-20) > 0.2 {
		t.Errorf("white at 20 dB: got %.2f dB", got)
	}
	if k.noise[0]*k.noise[0]/noise < 0.97 || k.noise[0]*k.noise[0]/noise > 1.03 {
		t.Errorf("noise at the partial: got deviation %.4g, want %.4g", k.noise[0], math.Sqrt(noise))
	}
}

// A mode found, a mode missed and a partial invented are counted as such.
func TestScoreCounts(t *testing.T) {
	k := strike(object{"two", []mode{{500, 1, 1}, {1500, 1, 0.5}}}, "white", 40, 1, rand.New(rand.NewPCG(7, 7)))
	var s score
	s.judge(k, partial.Reading{Partials: []analysis.Partial{
		{Frequency: 500.001, Sigma: 1, T60: 1.001, SigmaT60: 0.01},
		{Frequency: 2222, Sigma: 1, T60: 1, SigmaT60: 0.01},
	}}, "made up")
	if s.detectable != 2 || s.missed != 1 || s.spurious != 1 || s.insideF != 1 || s.insideT != 1 || len(s.failed) != 1 {
		t.Errorf("one found, one missed, one invented: got %+v", s)
	}
}

// Every section writes its rows.
func TestTableHasItsRows(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	var out bytes.Buffer
	b := small(&out, 1)
	b.haste()
	b.stopped()
	b.soon()
	b.rolled()
	b.moved()
	b.overloaded()
	b.reached()
	for _, want := range []string{"1760", "no hand", "bound ±1 c", "within ±5 c of its final", "told as one", "is left alone", "remarked", "<= 20 ms", "<= 0.1 c"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("table lacks %q:\n%s", want, out.String())
		}
	}
	if strings.Contains(out.String(), "NaN") {
		t.Errorf("table has NaN:\n%s", out.String())
	}
}
