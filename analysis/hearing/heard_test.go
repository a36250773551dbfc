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

// tally counts what was said of n objects.
type tally struct{ n, wrong, certain, undecided int }

// add counts one answer. Certain and wrong is what harms: undecided says so,
// and names a second pitch.
func (y *tally) add(c heardCase, heard, second *analysis.Pitch) {
	y.n++
	undecided := heard != nil && second != nil && heard.Likelihood < decided
	if undecided {
		y.undecided++
	}
	if heard == nil || math.Abs(1200*math.Log2(float64(heard.Frequency)/c.hz)) >= c.within {
		y.wrong++
		if !undecided {
			y.certain++
		}
	}
}

func (y *tally) percent(k int) float64 { return 100 * float64(k) / float64(y.n) }

// Fresh objects, not those of the fit. The limits (percent grossly wrong:
// kind not told; not told and certain; told) were set a little above what was
// reached, so that no change makes a family worse unseen. Bells whose prime is
// a semitone and more too sharp, and kettledrums, whose modes stand like the
// upper harmonics of an octave below, split listeners too.
func TestFamilies(t *testing.T) {
	limits := map[string][3]float64{
		"metal bar": {.2, .2, .2}, "wooden plank": {.5, .2, .5}, "bar struck off its middle": {.5, .2, .2},
		"bar tuned 1:4:10": {.2, .2, .2}, "bar tuned 1:3:6": {.2, .2, .2}, "glass or bowl": {.2, .2, .2},
		"thick bowl": {.5, .2, .5}, "struck bottle": {.5, .2, .5}, "tile or pot": {.6, .2, .2}, "handbell": {.2, .2, .2},
		"church bell": {1, .4, .4}, "bell with a sharp prime": {15, .2, 7}, "tubular bell": {.3, .2, .3},
		"string": {.2, .2, .2}, "weak fundamental": {.2, .2, .2}, "missing fundamental": {.2, .2, .2},
		"steel drum": {.2, .2, .2}, "timpani": {4, .4, .5}, "tine": {.2, .2, .2}, "loud upper mode": {.2, .2, .2},
	}
	var bells, others tally // bells with missing fundamentals
	t.Logf("%-26s %8s %8s %10s   %8s", "percent of 2000", "wrong", "certain", "undecided", "told")
	for _, f := range families() {
		sum := &others
		if f.kind == analysis.Bell || f.name == "missing fundamental" {
			sum = &bells
		}
		r := rand.New(rand.NewPCG(7, 7))
		var u, k tally
		for range 2000 {
			c := f.make(r)
			heard, second := Heard(c.partials, analysis.Unknown)
			u.add(c, heard, second)
			sum.add(c, heard, second)
			heard, second = Heard(c.partials, f.kind)
			k.add(c, heard, second)
		}
		t.Logf("%-26s %8.2f %8.2f %10.2f   %8.2f (%s)", f.name, u.percent(u.wrong), u.percent(u.certain), u.percent(u.undecided), k.percent(k.wrong), f.kind)
		l, ok := limits[f.name]
		if !ok {
			t.Errorf("%s: no limit is set", f.name)
		}
		if u.percent(u.wrong) > l[0] || u.percent(u.certain) > l[1] || k.percent(k.wrong) > l[2] {
			t.Errorf("%s: got %.2f %% wrong, %.2f %% certain and wrong, %.2f %% told the kind; wanted at most %v %%", f.name, u.percent(u.wrong), u.percent(u.certain), k.percent(k.wrong), l)
		}
	}
	for _, y := range []struct {
		name  string
		limit float64
		tally
	}{{"bells and missing fundamentals", 3, bells}, {"all others", .5, others}} {
		t.Logf("%s, %d: wrong %.2f %%, certain and wrong %.2f %%, said undecided %.2f %%", y.name, y.n, y.percent(y.wrong), y.percent(y.certain), y.percent(y.undecided))
		if y.percent(y.wrong) > y.limit {
			t.Errorf("%s: got %.2f %% wrong, wanted at most %g %%", y.name, y.percent(y.wrong), y.limit)
		}
	}
}

// Whatever is said to be in the hand, nothing is certain that is not likeliest
// by the sound alone: a kind left set, or a thing that sounds like another, can
// not make a wrong pitch certain.
func TestKindNeverMakesCertain(t *testing.T) {
	var cases []heardCase
	r := rand.New(rand.NewPCG(9, 9))
	for _, f := range families() {
		for range 50 {
			c := f.make(r)
			c.name = f.name
			cases = append(cases, c)
		}
	}
	for _, q := range append(recordings(t), unseen(t)...) {
		cases = append(cases, heardCase{q.Name, q.partials(), q.HeardHz, q.gross()})
	}
	for _, c := range cases {
		alone, _ := Heard(c.partials, analysis.Unknown)
		for _, k := range analysis.Kinds() {
			heard, _ := Heard(c.partials, k)
			if heard.Likelihood >= decided && math.Abs(float64(heard.Frequency/alone.Frequency-1)) > same {
				t.Errorf("%s told %s: got %.2f Hz with likelihood %.2f; by the sound alone it is %.2f Hz with %.2f", c.name, k, heard.Frequency, heard.Likelihood, alone.Frequency, alone.Likelihood)
			}
		}
	}
}

// The prior as a table, for the eye: what each kind asks for, and that it adds
// up to one.
func TestPriorOfEachKind(t *testing.T) {
	for _, k := range analysis.Kinds() {
		p := priorOf(k)
		sum := p.none
		t.Logf("%-8s runs count %v, nothing known %.2f", k, p.runs, p.none)
		for _, q := range p.patterns {
			t.Logf("         %.3f %-13s base %d, modes %v", p.each, q.name, q.base, q.modes)
			sum += p.each
			if !slices.IsSorted(q.modes) {
				t.Errorf("%s: modes %v do not rise", q.name, q.modes)
			}
			if q.base > 0 && !slices.Contains(q.modes, float64(q.base)) {
				t.Errorf("%s: base %d is none of the modes %v", q.name, q.base, q.modes)
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("%s: probabilities add up to %g, wanted 1", k, sum)
		}
	}
}

// Every real strike whose pitch was measured by two other methods, kind not
// told; testdata/reference/strike-partials.md. The families they belong to are in the
// fit: TestLeaveOneFamilyOut judges them without.
func TestRecordings(t *testing.T) {
	for _, r := range recordings(t) {
		if !r.Listed {
			continue
		}
		if !r.SingleAnswer {
			for _, k := range analysis.Kinds() {
				if heard, second := Heard(r.partials(), k); second == nil || heard.Likelihood > decided {
					t.Errorf("%s told %s: listeners would split; got %.2f Hz with likelihood %.2f, second %v", r.Name, k, heard.Frequency, heard.Likelihood, second)
				}
			}
			continue
		}
		heard, _ := Heard(r.partials(), analysis.Unknown)
		if heard == nil {
			t.Errorf("%s: got no pitch, wanted %.2f Hz", r.Name, r.HeardHz)
			continue
		}
		if off := math.Abs(float64(heard.Frequency.Above(analysis.Hz(r.HeardHz)))); off > r.gross() {
			t.Errorf("%s: got %.2f Hz, likelihood %.2f; wanted %.2f Hz within %.0f cents", r.Name, heard.Frequency, heard.Likelihood, r.HeardHz, r.gross())
		}
	}
}

// Recordings that nothing was fitted to, kind not told: at least 94 of 100
// right, and few certain and wrong.
func TestUnseenRecordings(t *testing.T) {
	var all judged
	split, certain := 0, 0
	for _, r := range unseen(t) {
		heard, second := Heard(r.partials(), analysis.Unknown)
		if heard == nil {
			t.Errorf("%s: got no pitch, wanted %.2f Hz", r.Name, r.HeardHz)
			continue
		}
		if !r.SingleAnswer {
			split++
			if heard.Likelihood >= decided {
				certain++
			}
			continue
		}
		ok := math.Abs(float64(heard.Frequency.Above(analysis.Hz(r.HeardHz)))) < r.gross()
		all.add(heard.Likelihood, ok)
		if !ok {
			t.Logf("%s: got %.2f Hz ±%.1f cents, likelihood %.2f, second %v; wanted %.2f Hz", r.Name, heard.Frequency, heard.Sigma, heard.Likelihood, second, r.HeardHz)
		}
	}
	t.Logf("%v; certain of %d of %d whose spectrum settles nothing", &all, certain, split)
	for _, b := range all.bins {
		t.Logf("  said %.2f: right %.2f of %.0f", b.said/max(1, b.n), b.right/max(1, b.n), b.n)
	}
	// What was reached: 8 and 2 of 161.
	if all.wrong > all.n*6/100 || all.certain > all.n*2/100 {
		t.Errorf("got %v; wanted at most 6 %% and 2 %%", &all)
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

// A short loud upper mode over a low one that rings on: a glockenspiel bar as
// our ear resolved it. Its maker names the low one; neither is certain.
func TestLoudUpperModeIsUndecided(t *testing.T) {
	heard, second := Heard([]analysis.Partial{
		{Frequency: 784.42, Sigma: .03, Level: -29.6, T60: 14.4}, {Frequency: 821.6, Sigma: 4, Level: -35.7, T60: .14},
		{Frequency: 2148.7, Sigma: .2, Level: -39.6, T60: .92}, {Frequency: 4160.4, Sigma: .01, Level: 0, T60: .58},
		{Frequency: 6231.8, Sigma: .15, Level: -17, T60: 2.02}, {Frequency: 10079.2, Sigma: .8, Level: -8.5, T60: .70},
	}, analysis.Unknown)
	if heard.Likelihood > 0.7 || second == nil || heard.Partial+second.Partial != 3 {
		t.Errorf("got %+v and %+v, wanted partials 0 and 3, neither likelier than 0.7", heard, second)
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
		heard, second := Heard(ps, analysis.Kind(kind))
		if second != nil && (second.Likelihood > heard.Likelihood || heard.Likelihood+second.Likelihood > 1) {
			t.Fatalf("given %v: got likelihoods %g and %g", ps, heard.Likelihood, second.Likelihood)
		}
		if second != nil && math.Abs(float64(second.Frequency/heard.Frequency-1)) < 0.02 {
			t.Fatalf("given %v: got %v Hz and, second, %v Hz: one pitch twice", ps, heard.Frequency, second.Frequency)
		}
		for _, p := range pitches(heard, second) {
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
