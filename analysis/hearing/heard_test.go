package hearing

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"ringwell/analysis"
)

// wrong counts how often n objects of a family are heard grossly wrong with
// the kind said and not said.
func wrong(f family, n int) (unknown, known int) {
	r := rand.New(rand.NewPCG(7, 7))
	for range n {
		c := f.make(r)
		for _, k := range []struct {
			kind  analysis.Kind
			count *int
		}{{analysis.Unknown, &unknown}, {f.kind, &known}} {
			heard, _ := Heard(c.partials, k.kind)
			if heard == nil || math.Abs(1200*math.Log2(float64(heard.Frequency)/c.hz)) >= c.within {
				*k.count++
			}
		}
	}
	return unknown, known
}

// Fresh objects, not those of the fit. The limits (percent, kind not told and
// told) were set a little above what was reached, so that no change makes a
// family worse unseen.
func TestFamilies(t *testing.T) {
	limits := map[string][2]float64{
		"metal bar": {1, 1}, "wooden plank": {3, 1}, "bar struck off its middle": {5, 3},
		"bar tuned 1:4:10": {0, 0}, "bar tuned 1:3:6": {0, 0}, "glass or bowl": {3, 1},
		"thick bowl": {8, 1}, "struck bottle": {1, 1}, "tile or pot": {4, 1}, "handbell": {1, 1},
		"church bell": {10, 4}, "bell with a sharp prime": {65, 20}, "tubular bell": {21, 15},
		"string": {3, 3}, "weak fundamental": {3, 3}, "missing fundamental": {0, 0},
		"steel drum": {1, 5}, "timpani": {76, 5}, "tine": {0, 0}, "loud upper mode": {1, 1},
	}
	for _, f := range families() {
		u, k := wrong(f, 300)
		t.Logf("%-26s wrong of 300: %3d not told, %3d told %s", f.name, u, k, f.kind)
		l, ok := limits[f.name]
		if !ok {
			t.Errorf("%s: no limit is set", f.name)
		}
		if float64(u) > l[0]*3 || float64(k) > l[1]*3 {
			t.Errorf("%s: wrong %.1f %% not told and %.1f %% told, wanted at most %.1f %% and %.1f %%", f.name, float64(u)/3, float64(k)/3, l[0], l[1])
		}
	}
}

// Every real strike whose pitch was measured by two other methods, kind not
// told; testdata/reference/README.md. The families they belong to are in the
// fit: TestLeaveOneFamilyOut judges them without.
func TestRecordings(t *testing.T) {
	for _, r := range recordings(t) {
		if !r.Listed {
			continue
		}
		heard, second := Heard(r.partials(), analysis.Unknown)
		if heard == nil {
			t.Errorf("%s: got no pitch, wanted %.2f Hz", r.Name, r.HeardHz)
			continue
		}
		if !r.SingleAnswer {
			if second == nil || heard.Likelihood > 0.85 {
				t.Errorf("%s: listeners would split; got %.2f Hz with likelihood %.2f, second %v", r.Name, heard.Frequency, heard.Likelihood, second)
			}
			continue
		}
		if off := math.Abs(float64(heard.Frequency.Above(analysis.Hz(r.HeardHz)))); off > r.gross() {
			t.Errorf("%s: got %.2f Hz, likelihood %.2f; wanted %.2f Hz within %.0f cents", r.Name, heard.Frequency, heard.Likelihood, r.HeardHz, r.gross())
		}
	}
}

// The synthetic strikes of testdata/strikes-exact, from their exact partials.
func TestExactStrikes(t *testing.T) {
	files, err := filepath.Glob("../../testdata/strikes-exact/*.json")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		var scene struct {
			Strikes []struct {
				Object  string `json:"object"`
				Pitched bool   `json:"pitched"`
				Heard   struct {
					Hz float64 `json:"frequency_hz"`
				} `json:"heard"`
				Partials []struct {
					Hz    float64 `json:"frequency_hz"`
					Level float64 `json:"level_db"`
					T60   float64 `json:"t60_s"`
				} `json:"partials"`
			} `json:"strikes"`
		}
		if err := json.Unmarshal(b, &scene); err != nil {
			t.Fatal(f, err)
		}
		for _, s := range scene.Strikes {
			if !s.Pitched {
				continue
			}
			var ps []analysis.Partial
			for _, p := range s.Partials {
				ps = append(ps, analysis.Partial{Frequency: analysis.Hz(p.Hz), Level: p.Level, T60: p.T60})
			}
			heard, second := Heard(ps, analysis.Unknown)
			if off := math.Abs(float64(heard.Frequency.Above(analysis.Hz(s.Heard.Hz)))); off > 3 {
				t.Errorf("%s, %s: got %.2f Hz (likelihood %.2f, second %v), wanted %.2f Hz within 3 cents", filepath.Base(f), s.Object, heard.Frequency, heard.Likelihood, second, s.Heard.Hz)
			}
		}
	}
}

// Textbook cases, each with what it rests on.
func TestHeard(t *testing.T) {
	list := func(t60 float64, fl ...float64) (ps []analysis.Partial) {
		for i := 0; i < len(fl); i += 2 {
			ps = append(ps, analysis.Partial{Frequency: analysis.Hz(fl[i]), Sigma: 0.5, Level: fl[i+1], T60: t60})
		}
		return ps
	}
	for _, c := range []struct {
		name    string
		ps      []analysis.Partial
		kind    analysis.Kind
		hz      float64
		basis   analysis.Basis
		partial int
		within  float64
	}{
		{"one partial", list(1, 440, 0), analysis.Unknown, 440, analysis.OnPartial, 0, 0.01},
		{"a pair beats as one tone at its middle", list(3, 440, 0, 442, 0), analysis.Unknown, 441, analysis.OnPartial, 0, 0.5},
		// The classic residue: J.F. Schouten, R.J. Ritsma & B.L. Cardozo, J.
		// Acoust. Soc. Am. 34 (1962) 1418, from memory, unchecked: 800, 1000
		// and 1200 Hz sound as 200 Hz; moved up by 40 Hz as a little more.
		{"missing fundamental", list(4, 800, 0, 1000, 0, 1200, 0), analysis.Unknown, 200, analysis.StrikeNote, -1, 1},
		{"moved residue", list(4, 840, 0, 1040, 0, 1240, 0), analysis.Unknown, 208.5, analysis.StrikeNote, -1, 15},
		{"no order in the slice", list(1, 2757, -6, 1000, 0, 5404, -12), analysis.Unknown, 1000, analysis.OnPartial, 1, 0.01},
		{"loud but short upper mode", append(list(2, 500, -8), list(0.05, 3400, 0)...), analysis.Bar, 500, analysis.OnPartial, 0, 0.01},
		// Strike note where no partial lies: tubular bell, modes 4, 5, 6 near
		// 2:3:4 of it (Rossing, from memory, unchecked).
		{"tubular bell", list(6, 443, -16, 1402, 0, 2043, -9, 2768, -11, 3444, -24), analysis.Bell, 695, analysis.StrikeNote, -1, 20},
	} {
		heard, _ := Heard(c.ps, c.kind)
		if heard == nil {
			t.Errorf("%s: got nothing, wanted %.2f Hz", c.name, c.hz)
			continue
		}
		if off := math.Abs(1200 * math.Log2(float64(heard.Frequency)/c.hz)); off > c.within || heard.Basis != c.basis || heard.Partial != c.partial {
			t.Errorf("%s: got %.2f Hz, %s %d, likelihood %.2f; wanted %.2f Hz within %g cents, %s %d", c.name, heard.Frequency, heard.Basis, heard.Partial, heard.Likelihood, c.hz, c.within, c.basis, c.partial)
		}
	}
}

// A sound keeps its pitch when its partials are listed in another order, and
// likelihoods are shares.
func TestOrderDoesNotMatter(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for _, f := range families() {
		for range 20 {
			ps := f.make(r).partials
			a, a2 := Heard(ps, f.kind)
			mixed := slices.Clone(ps)
			r.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
			b, _ := Heard(mixed, f.kind)
			if math.Abs(float64(a.Frequency-b.Frequency)) > 1e-9*float64(a.Frequency) || math.Abs(a.Likelihood-b.Likelihood) > 1e-9 {
				t.Errorf("%s: got %.4f Hz (%.4f) and, mixed, %.4f Hz (%.4f)", f.name, a.Frequency, a.Likelihood, b.Frequency, b.Likelihood)
			}
			if a2 != nil && (a2.Likelihood > a.Likelihood || a.Likelihood+a2.Likelihood > 1) {
				t.Errorf("%s: likelihoods %.3f and %.3f", f.name, a.Likelihood, a2.Likelihood)
			}
			if a.Partial >= 0 && math.Abs(float64(ps[a.Partial].Frequency.Above(a.Frequency))) > 320 {
				t.Errorf("%s: rests on partial %d at %.1f Hz, but is said to lie at %.1f Hz", f.name, a.Partial, ps[a.Partial].Frequency, a.Frequency)
			}
		}
	}
}

func TestNothingToHear(t *testing.T) {
	nan := analysis.Hz(math.NaN())
	for _, c := range []struct {
		why string
		ps  []analysis.Partial
	}{
		{"no partials", nil},
		{"frequency not a number", []analysis.Partial{{Frequency: nan}}},
		{"frequency zero", []analysis.Partial{{}}},
		{"frequency above hearing", []analysis.Partial{{Frequency: 30000}}},
		{"level not a number", []analysis.Partial{{Frequency: 440, Level: math.NaN()}}},
	} {
		if heard, second := Heard(c.ps, analysis.Unknown); heard != nil || second != nil {
			t.Errorf("%s: got %v and %v, wanted nothing", c.why, heard, second)
		}
	}
}

func FuzzHeard(f *testing.F) {
	f.Add(440.0, 0.0, 1.0, 880.0, -6.0, 0.5, 0.1, "bell")
	f.Add(1e-300, 1e300, -1.0, math.Inf(1), math.NaN(), 0.0, -1.0, "")
	f.Add(200.0, -150.0, 1e-9, 200.0, 150.0, 1e9, 0.0, "drum")
	f.Fuzz(func(t *testing.T, f1, l1, t1, f2, l2, t2, sigma float64, kind string) {
		ps := []analysis.Partial{
			{Frequency: analysis.Hz(f1), Level: l1, T60: t1, Sigma: analysis.Cents(sigma)},
			{Frequency: analysis.Hz(f2), Level: l2, T60: t2},
			{Frequency: analysis.Hz(f1 + f2), Level: l2, T60: t1},
			{Frequency: analysis.Hz(2 * f2), Level: l1, T60: t2},
		}
		for _, p := range pitches(Heard(ps, analysis.Kind(kind))) {
			ok := p.Frequency >= 20 && p.Frequency <= 20000 && p.Sigma >= 0 && p.Sigma < 1e7 && p.Likelihood >= 0 && p.Likelihood <= 1 && p.Partial < len(ps)
			if !ok {
				t.Fatalf("given %v: got %+v", ps, *p)
			}
		}
	})
}

func pitches(heard, second *analysis.Pitch) (ps []*analysis.Pitch) {
	for _, p := range []*analysis.Pitch{heard, second} {
		if p != nil {
			ps = append(ps, p)
		}
	}
	return ps
}

func BenchmarkHeard20(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	var ps []analysis.Partial
	for i := range 20 {
		ps = append(ps, analysis.Partial{Frequency: analysis.Hz(300 * (1 + .97*float64(i) + .2*r.Float64())), Level: -20 * r.Float64(), T60: 1})
	}
	b.ReportAllocs()
	for b.Loop() {
		Heard(ps, analysis.Unknown)
	}
}
