package clock

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ringwell/analysis"
)

// tone is what a card whose clock runs ppm fast hears of a steady sine.
func tone(rate, hz, ppm, seconds, noise float64, r *rand.Rand) []float64 {
	x := make([]float64, int(rate*seconds))
	step := 2 * math.Pi * hz / (rate * (1 + ppm*1e-6))
	for i := range x {
		x[i] = 0.1*math.Sin(step*float64(i)+1) + noise*r.NormFloat64()
	}
	return x
}

func read(t *testing.T, rate, hz float64, x []float64, block int) (Reading, error) {
	t.Helper()
	m, err := New(analysis.Rate(rate), analysis.Hz(hz))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(x); i += block {
		m.Step(analysis.Block{Start: int64(i), Samples: x[i:min(len(x), i+block)]})
	}
	return m.Reading(0)
}

func TestKnownErrorIsFound(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ rate, hz, ppm, noise float64 }{
		{48000, 1000, 0, 0.001},
		{48000, 1000, 37.5, 0.01},
		{44100, 440, -51, 0.01},
		{8000, 100, 12, 0.003},
		{96000, 10000, -3.25, 0.01},
		{48000, 1000, 940, 0.003},
	} {
		got, err := read(t, c.rate, c.hz, tone(c.rate, c.hz, c.ppm, 15, c.noise, r), 480)
		if err != nil {
			t.Errorf("%+v: %v", c, err)
			continue
		}
		if d := math.Abs(got.PPM - c.ppm); d > 4*got.Sigma+1e-6 {
			t.Errorf("%+v: got %.5f ppm ±%.5f, want %g within four sigma", c, got.PPM, got.Sigma, c.ppm)
		}
	}
}

// The Cramér-Rao bound of a tone's frequency (Rife & Boorstyn, IEEE Trans. Inf.
// Theory 20, 1974; real tone, amplitude and phase unknown; from memory):
// sd(f) = fs/2π · sqrt(12/(η N(N²-1))), η = A²/2σ². The frames' window costs
// some of it: Blackman-Harris has an equivalent noise bandwidth of 2.0 bins
// (Harris, Proc. IEEE 66, 1978, table I), so sqrt(2.0) in the deviation.
func TestSigmaIsTrueAndNearTheBound(t *testing.T) {
	const rate, hz, seconds, noise, trials = 8000, 1000, 12, 0.02, 200
	r := rand.New(rand.NewPCG(3, 4))
	within, squares, sigmas := 0, 0.0, 0.0
	for range trials {
		ppm := 100 * (2*r.Float64() - 1)
		got, err := read(t, rate, hz, tone(rate, hz, ppm, seconds, noise, r), 4096)
		if err != nil {
			t.Fatal(err)
		}
		d := got.PPM - ppm
		squares += d * d / trials
		sigmas += got.Sigma / trials
		if math.Abs(d) <= 2*got.Sigma {
			within++
		}
	}
	n := float64(rate * seconds)
	eta := 0.1 * 0.1 / 2 / (noise * noise)
	bound := rate / (2 * math.Pi) * math.Sqrt(12/(eta*n*(n*n-1))) / hz * 1e6
	if rms := math.Sqrt(squares); rms > 1.6*bound {
		t.Errorf("rms error %.5f ppm, want at most 1.6 times the bound, %.5f ppm", rms, bound)
	}
	if share := float64(within) / trials; share < 0.92 {
		t.Errorf("%.3f of the readings within two sigma (mean sigma %.5f ppm), want 0.92 or more", share, sigmas)
	}
}

func TestBlocksAndHolesDoNotMatter(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	x := tone(48000, 1000, 25, 12, 0.005, r)
	want, err := read(t, 48000, 1000, x, 4096)
	if err != nil {
		t.Fatal(err)
	}
	for _, block := range []int{1, 64, 480} {
		if got, err := read(t, 48000, 1000, x, block); err != nil || got != want {
			t.Errorf("blocks of %d: got %+v, %v, want %+v", block, got, err, want)
		}
	}
	m, _ := New(48000, 1000)
	m.Step(analysis.Block{Samples: x[:200000]})
	m.Step(analysis.Block{Start: 231111, Lost: 31111, Samples: x[231111:]})
	if got, err := m.Reading(0); err != nil || math.Abs(got.PPM-25) > 4*got.Sigma+0.01 {
		t.Errorf("with a hole: got %+v, %v, want 25 ppm", got, err)
	}
}

func TestReferenceCounts(t *testing.T) {
	x := tone(48000, 1000, 10, 12, 0.001, rand.New(rand.NewPCG(7, 8)))
	m, _ := New(48000, 1000)
	m.Step(analysis.Block{Samples: x})
	if got, err := m.Reading(5); err != nil || got.Sigma < 5 {
		t.Errorf("a reference of ±5 ppm: got %+v, %v, want a sigma of 5 ppm or more", got, err)
	}
}

func TestApply(t *testing.T) {
	if got := (Reading{PPM: 100}).Apply(48000); math.Abs(float64(got)-48004.8) > 1e-9 {
		t.Errorf("48000 at +100 ppm: got %v, want 48004.8", got)
	}
}

func TestRefusals(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	white := make([]float64, 15*48000)
	for i := range white {
		white[i] = 0.1 * r.NormFloat64()
	}
	glide := make([]float64, 15*48000)
	for i := range glide {
		s := float64(i) / 48000
		glide[i] = 0.1 * math.Sin(2*math.Pi*(1000*s+0.02*s*s))
	}
	for _, c := range []struct {
		what string
		x    []float64
		want string
	}{
		{"half a second of tone", tone(48000, 1000, 0, 0.5, 0, r), "ten seconds"},
		{"silence", make([]float64, 15*48000), "ten seconds"},
		{"noise alone", white, "stand out"},
		{"a glide of 20 ppm a second", glide, "hold still"},
		{"another note", tone(48000, 1100, 0, 15, 0.001, r), "stand out"},
	} {
		got, err := read(t, 48000, 1000, c.x, 480)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %+v, %v, want an error with %q", c.what, got, err, c.want)
		}
	}
	for _, hz := range []float64{0, 49, 20000, math.NaN(), math.Inf(1)} {
		if _, err := New(48000, analysis.Hz(hz)); err == nil {
			t.Errorf("reference %g Hz at 48 kHz: want an error", hz)
		}
	}
}
