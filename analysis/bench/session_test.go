package bench

import (
	"errors"
	"math"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/physics/air"
	"ringwell/analysis/physics/cavity"
	"ringwell/analysis/physics/wall"
)

// jar is a straight glass of 300 ml by potential flow (package wall), not by
// the law that is fitted: 930 Hz empty, about 1050 cents lower full.
func jar(fill float64) analysis.Hz {
	return analysis.Hz(930 / math.Sqrt(1+10*wall.Flow(fill/300, 3)))
}

func jarJob(target analysis.Hz) Job {
	return Job{Way: Struck, Capacity: 300, Pouring: Scale, Aim: Aim{Name: "the aim", Target: target}}
}

func TestSessionWalksAJar(t *testing.T) {
	target := jar(240)
	s, err := Begin(jarJob(target), 0)
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; ; n++ {
		if n > 5 {
			t.Fatalf("no end after five strikes without scatter: %+v", s.Entries)
		}
		if err := s.Hear(Entry{Heard: jar(s.Fill()), Sigma: 0.1}); err != nil {
			t.Fatal(err)
		}
		a := s.Advise()
		t.Logf("%.1f ml: %s %s", s.Fill(), a.Says, a.Words)
		if a.Step == There {
			break
		}
		if a.Step != Add && a.Step != Take || a.Amount <= 0 {
			t.Fatalf("strike %d: got step %s of %g ml, wanted add or take", n, a.Step, a.Amount)
		}
		ml := a.Amount
		if a.Step == Take {
			ml = -ml
		}
		if err := s.Pour(ml); err != nil {
			t.Fatal(err)
		}
		if a := s.Advise(); a.Step != Sound || a.Says != "Strike it now." {
			t.Errorf("after a pour: got %s %q, wanted to be told to strike", a.Step, a.Says)
		}
	}
	if off := float64(jar(s.Fill()).Above(target)); math.Abs(off) > 5 {
		t.Errorf("at the end it lies %.1f c from the aim, wanted 5", off)
	}
}

func TestTooMuchAndUndo(t *testing.T) {
	s, err := Begin(jarJob(jar(200)), 0)
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(s.Hear(Entry{Heard: jar(0)}))
	must(s.Pour(190))
	must(s.Pour(60)) // too much
	must(s.Hear(Entry{Heard: jar(250)}))
	if a := s.Advise(); a.Step != Take || !strings.HasPrefix(a.Says, "Take ") {
		t.Errorf("50 ml too much: got %s, %q, wanted to be told to take some out", a.Step, a.Says)
	}
	before := s.Advise()
	must(s.Pour(-20))
	if got := s.Fill(); got != 230 {
		t.Errorf("fill: got %g ml, wanted 230", got)
	}
	if !s.Undo() || s.Fill() != 250 || s.Advise().Says != before.Says {
		t.Errorf("undo of a pour: got %g ml, %q, wanted 250 and %q", s.Fill(), s.Advise().Says, before.Says)
	}
	for s.Undo() {
	}
	if len(s.Entries) != 0 || s.Fill() != 0 {
		t.Errorf("all undone: got %d entries and %g ml, wanted none", len(s.Entries), s.Fill())
	}
	for why, ml := range map[string]float64{"more than it holds": 900, "less than nothing": -40, "not a number": math.NaN()} {
		if s.Pour(ml) == nil {
			t.Errorf("pour %g ml, %s: got no error", ml, why)
		}
	}
	if s.Hear(Entry{Heard: 0}) == nil || len(s.Entries) != 0 {
		t.Error("0 Hz was heard: got no error, or an entry")
	}
}

// What cannot be reached is refused in words with how far it lies beyond.
func TestRefusals(t *testing.T) {
	full := jar(300)
	entries := func(fills ...float64) (all []Entry) {
		last := 0.0
		for _, f := range fills {
			all = append(all, Entry{Added: f - last, Heard: jar(f), Sigma: .1})
			last = f
		}
		return all
	}
	j := jarJob(full.Shift(-90))
	j.Aim.Name = "D5"
	a := Advise(j, entries(0, 200, 280, 298))
	below := -float64(full.Above(jar(0)))
	if a.Step != Cannot || !strings.HasPrefix(a.Says, "Full is ") || !strings.Contains(a.Says, "c below empty; D5 lies ") {
		t.Errorf("90 c beyond full: got %s %q", a.Step, a.Says)
	}
	if got := a.Empty.Value - a.Full.Value; math.Abs(got-below) > 5 {
		t.Errorf("full below empty: got %.1f c, wanted %.1f within 5", got, below)
	}
	if math.Abs(a.Full.Value-90) > 5 {
		t.Errorf("beyond full: got %.1f c, wanted 90 within 5", a.Full.Value)
	}
	j = jarJob(jar(0).Shift(60))
	if a := Advise(j, entries(0)); a.Step != Cannot || !strings.HasPrefix(a.Says, "Water only lowers what is struck") {
		t.Errorf("60 c above empty: got %s %q", a.Step, a.Says)
	}
	blown := Job{Way: Blown, Capacity: 500, Pouring: Scale, Aim: Aim{Name: "C3", Target: 130.8}}
	if a := Advise(blown, []Entry{{Heard: 146}}); a.Step != Cannot || !strings.HasPrefix(a.Says, "Water only raises what is blown") {
		t.Errorf("below an empty bottle: got %s %q", a.Step, a.Says)
	}
	blown.Aim = Aim{Name: "C6", Target: 1046.5}
	if a := Advise(blown, series(8, 16)); a.Step != Cannot || !strings.HasPrefix(a.Says, "With water up to the neck") {
		t.Errorf("above the neck: got %s %q", a.Step, a.Says)
	}
}

// The other sound was made: water cannot raise what is struck.
func TestDoubt(t *testing.T) {
	struck := []Entry{{Heard: 500}, {Added: 50, Heard: 520}}
	if a := Advise(jarJob(450), struck); !strings.Contains(a.Doubt, "Was it blown") {
		t.Errorf("a struck glass 68 c higher with water: got doubt %q", a.Doubt)
	}
	blown := Job{Way: Blown, Capacity: 500, Pouring: Eye, Aim: Aim{Target: 300}}
	if a := Advise(blown, []Entry{{Heard: 150}, {Added: 50, Heard: 140}}); !strings.Contains(a.Doubt, "Was it struck") {
		t.Errorf("a blown bottle 119 c lower with water: got doubt %q", a.Doubt)
	}
	if a := Advise(jarJob(800), []Entry{{Heard: 930}, {Heard: 980}}); !strings.Contains(a.Doubt, "Without any water that is 91 c") {
		t.Errorf("the same fill 91 c away: got doubt %q", a.Doubt)
	}
	if a := Advise(jarJob(800), []Entry{{Heard: 930}, {Heard: 932}}); a.Doubt != "" {
		t.Errorf("the same fill 4 c away: got doubt %q, wanted none", a.Doubt)
	}
	if a := Advise(jarJob(800), []Entry{{Heard: jar(0)}, {Added: 200, Heard: jar(200)}}); a.Doubt != "" {
		t.Errorf("a struck glass lower with water: got doubt %q, wanted none", a.Doubt)
	}
}

// By eye it says beforehand what can be promised, and by scale it promises no
// less than the tolerance.
func TestPromise(t *testing.T) {
	j := jarJob(jar(270))
	j.Pouring = Eye
	a := Advise(j, []Entry{{Heard: jar(0)}})
	if a.Promise <= 5 || !strings.Contains(a.Words, "Poured by eye, within ±") || !strings.Contains(a.Words, "Weigh the water") {
		t.Errorf("by eye: got a promise of %.1f c and %q", a.Promise, a.Words)
	}
	j.Pouring = Scale
	if b := Advise(j, []Entry{{Heard: jar(0)}}); b.Promise >= a.Promise || strings.Contains(b.Words, "Weigh the water") {
		t.Errorf("by scale: got a promise of %.1f c, by eye %.1f: wanted it smaller, and no word of weighing in %q", b.Promise, a.Promise, b.Words)
	}
}

// A bottle of known measures is guessed better from the first note.
func TestMeasuredBottle(t *testing.T) {
	b := cavity.Bottle{NeckRadius: .00925, NeckLength: .075, BodyRadius: .0375, Volume: 750e-6}
	lips := analysis.Cents(-35) // of the player
	blow := func(fill float64) analysis.Hz {
		c := b
		c.Volume -= fill * 1e-6
		return analysis.Hz(c.TanTan(343)).Shift(lips)
	}
	j := Job{Way: Blown, Capacity: 750, Pouring: Scale, Aim: Aim{Target: blow(400)}}
	plain := Advise(j, []Entry{{Heard: blow(0)}})
	j.Bottle = &b
	known := Advise(j, []Entry{{Heard: blow(0)}})
	if math.Abs(known.Aim.Value-400) > 3 {
		t.Errorf("by its measures: got %.1f ml, wanted 400 within 3: the lips are in the first note", known.Aim.Value)
	}
	if known.Aim.Sigma >= plain.Aim.Sigma {
		t.Errorf("by its measures: ±%.1f ml, without ±%.1f: wanted it narrower", known.Aim.Sigma, plain.Aim.Sigma)
	}
}

// Warmer air raises what is blown, and the aim for a warm stage is met by less
// water today.
func TestStageAir(t *testing.T) {
	cool, warm := &air.Air{Celsius: 18, Humidity: .5}, &air.Air{Celsius: 29, Humidity: .5}
	entries := series(4, 10, 16)
	for i := range entries {
		entries[i].Air = cool
	}
	j := Job{Way: Blown, Capacity: 500, Pouring: Scale, Aim: Aim{Target: 200}, Stage: cool}
	here := Advise(j, entries)
	j.Stage = warm
	there := Advise(j, entries)
	rise := float64(warm.Above(*cool))
	if got := there.Now.Value - here.Now.Value; math.Abs(got-rise) > 0.01 {
		t.Errorf("for a stage 11 degrees warmer: moved by %.2f c against the aim, wanted %.2f", got, rise)
	}
	if there.Aim.Value >= here.Aim.Value {
		t.Errorf("for a warmer stage: got %.1f ml, here %.1f: wanted less", there.Aim.Value, here.Aim.Value)
	}
}

// Every partial is followed by itself.
func TestParts(t *testing.T) {
	second := func(fill float64) analysis.Hz {
		return analysis.Hz(2580 / math.Sqrt(1+6*wall.Flow(fill/300, 3)))
	}
	var entries []Entry
	last := 0.0
	for _, fill := range []float64{0, 180, 230} {
		entries = append(entries, Entry{Added: fill - last, Heard: jar(fill), Sigma: .1, Partials: []analysis.Partial{
			{Frequency: jar(fill), Sigma: .1}, {Frequency: second(fill), Sigma: .3, Level: -9}, {Frequency: 7000, Level: -60},
		}})
		last = fill
	}
	a := Advise(jarJob(jar(250)), entries)
	if len(a.Parts) != 2 || !a.Parts[0].Ground || a.Parts[1].Ground || a.Parts[1].Fills != 3 {
		t.Fatalf("parts: got %+v, wanted two, the first of them the ground", a.Parts)
	}
	want := float64(second(250).Above(second(0)))
	if p := a.Parts[1]; want < p.Below.Low || want > p.Below.High || p.Below.High-p.Below.Low > 60 {
		t.Errorf("second partial at 250 ml: got %.1f c (%.1f to %.1f), wanted %.1f within, and 60 c wide at most", p.Below.Value, p.Below.Low, p.Below.High, want)
	}
}

func TestBadJobs(t *testing.T) {
	good := jarJob(500)
	for why, c := range map[string]struct {
		of     string
		change func(*Job)
	}{
		"no way":             {"way", func(j *Job) { j.Way = "" }},
		"no capacity":        {"capacity", func(j *Job) { j.Capacity = 0 }},
		"nobody pours so":    {"pouring", func(j *Job) { j.Pouring = "bucket" }},
		"no aim":             {"aim", func(j *Job) { j.Aim.Target = 0 }},
		"not a number":       {"aim", func(j *Job) { j.Aim.Target = analysis.Hz(math.NaN()) }},
		"a tolerance below":  {"tolerance", func(j *Job) { j.Aim.Tolerance = -1 }},
		"an endless scatter": {"scatter", func(j *Job) { j.Scatter = analysis.Cents(math.Inf(1)) }},
		"hot water":          {"water", func(j *Job) { j.Water = 70 }},
		"stage on fire":      {"stage", func(j *Job) { j.Stage = &air.Air{Celsius: 400} }},
		"negative rounding":  {"rounding", func(j *Job) { j.Rounding = -1 }},
	} {
		j := good
		c.change(&j)
		var fault *Fault
		if err := j.Check(); !errors.As(err, &fault) || fault.Of != c.of {
			t.Errorf("%s: %+v: got %v, wanted a fault of the %s", why, j, err, c.of)
		}
	}
	if err := good.Check(); err != nil {
		t.Errorf("a good job: got %v", err)
	}
}

func TestTold(t *testing.T) {
	sound := func(basis analysis.Basis, partials ...analysis.Partial) analysis.Strike {
		return analysis.Strike{Heard: &analysis.Pitch{Frequency: 440, Basis: basis}, Partials: partials}
	}
	ground := analysis.Partial{Frequency: 440, T60: 2, SigmaT60: .02}
	held := analysis.Partial{Frequency: 440}
	third := analysis.Partial{Frequency: 1320, Level: -10}
	for name, row := range map[string]struct {
		strike analysis.Strike
		way    Way
		ok     bool
	}{
		"a wall's second mode":         {sound(analysis.OnPartial, held, analysis.Partial{Frequency: 1210, Level: -12}), Struck, true},
		"one that rings down":          {sound(analysis.OnPartial, ground, third), Struck, true},
		"a strike note":                {sound(analysis.StrikeNote, analysis.Partial{Frequency: 880}), Struck, true},
		"followed by its period":       {sound(analysis.Periodic, held, third), Blown, true},
		"a held tone of harmonics":     {sound(analysis.OnPartial, held, third), Blown, true},
		"a decay that is hardly known": {sound(analysis.OnPartial, analysis.Partial{Frequency: 440, T60: 9, SigmaT60: 3}), Blown, true},
		"a knock":                      {analysis.Strike{}, "", false},
	} {
		if way, ok := Told(row.strike); way != row.way || ok != row.ok {
			t.Errorf("%s: got %q %v, wanted %q %v", name, way, ok, row.way, row.ok)
		}
	}
}

// Whatever is entered, no advice holds a number that is none.
func FuzzAdvise(f *testing.F) {
	f.Add(true, 300.0, 440.0, 100.0, 500.0, 450.0)
	f.Add(false, 500.0, 200.0, 100.0, 146.0, 170.0)
	f.Fuzz(func(t *testing.T, struck bool, capacity, aim, ml, first, second float64) {
		j := Job{Way: Blown, Capacity: capacity, Pouring: Eye, Aim: Aim{Target: analysis.Hz(aim)}}
		if struck {
			j.Way = Struck
		}
		entries := []Entry{{Heard: analysis.Hz(first)}, {Added: ml, Heard: analysis.Hz(second)}}
		if j.Check() != nil || j.CheckEntries(entries) != nil {
			t.Skip()
		}
		a := Advise(j, entries)
		for _, x := range []float64{a.Amount, a.Sigma, a.Now.Value, a.Aim.Value, a.Aim.Low, a.Aim.High, a.Full.Value, a.Empty.Low, a.Promise, a.Chance} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%+v %+v: got %+v", j, entries, a)
			}
		}
		if a.Aim.Low > a.Aim.High || a.Amount < 0 || a.Says == "" {
			t.Fatalf("%+v %+v: got %+v", j, entries, a)
		}
	})
}
