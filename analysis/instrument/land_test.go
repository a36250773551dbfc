package instrument

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ringwell/analysis"
)

// Rounding of exp2 and log2 over seven octaves; far below what is ever shown.
const exact = 1e-8 // cents

func named(t testing.TB, name string, ref analysis.Hz) Instrument {
	t.Helper()
	in, err := ByName(name, ref)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func near(got, want analysis.Cents) bool { return math.Abs(float64(got-want)) < exact }

func TestLand(t *testing.T) {
	f3, a4, bb4 := 53, 69, 70
	a := func(c analysis.Cents) analysis.Hz { return analysis.Hz(440).Shift(c) }
	for _, c := range []struct {
		why        string
		instrument string
		f          analysis.Hz
		aim        Aim
		note       string
		cents      analysis.Cents
		inside     bool
		within     bool
	}{
		{"on the note", "vibraphone", 440, Aim{}, "A4", 0, true, false},
		{"above it", "vibraphone", a(12), Aim{}, "A4", 12, true, false},
		{"midway, the lower", "vibraphone", a(50), Aim{}, "A4", 50, true, false},
		{"past the middle", "vibraphone", a(51), Aim{}, "A#4", -49, true, false},
		{"within the tolerance", "vibraphone", a(12), Aim{Tolerance: 15}, "A4", 12, true, true},
		{"past the tolerance", "vibraphone", a(-16), Aim{Tolerance: 15}, "A4", -16, true, false},
		{"bent up, on the aim", "vibraphone", a(30), Aim{Bend: 30, Tolerance: 5}, "A4", 0, true, true},
		{"bent up, the plain note is 30 below", "vibraphone", 440, Aim{Bend: 30, Tolerance: 5}, "A4", -30, true, false},
		{"bent up, still the note below", "vibraphone", a(75), Aim{Bend: 30}, "A4", 45, true, false},
		{"one note aimed at, far away", "vibraphone", 440, Aim{Key: &f3}, "F3", 1600, true, false},
		{"one note aimed at and bent", "vibraphone", a(120), Aim{Key: &bb4, Bend: 20, Tolerance: 1}, "A#4", 0, true, true},
		{"a note the instrument does not have", "crotales", 440, Aim{Key: &a4}, "A4", 0, false, false},
		{"lowest note, 50 below", "vibraphone", Frequency(53, 440).Shift(-49), Aim{}, "F3", -49, true, false},
		{"below the lowest", "vibraphone", Frequency(53, 440).Shift(-60), Aim{}, "E3", 40, false, false},
		{"far above the highest", "vibraphone", Frequency(100, 440).Shift(7), Aim{}, "E7", 7, false, false},
		{"between strings", "violin", 500, Aim{}, "A4", analysis.Hz(500).Above(440), true, false},
		{"midway between strings, the lower", "violin", a(350), Aim{}, "A4", 350, true, false},
	} {
		got := named(t, c.instrument, 440).Land(c.f, c.aim)
		if got.Note != c.note || !near(got.Cents, c.cents) || got.Inside != c.inside || got.Within != c.within {
			t.Errorf("%s: %s, %.3f Hz, aim %+v: got %s %+.4f cents, inside %v, within %v; want %s %+.4f, %v, %v",
				c.why, c.instrument, c.f, c.aim, got.Note, got.Cents, got.Inside, got.Within, c.note, c.cents, c.inside, c.within)
		}
		if got.Aimed != c.aim.Is() || got.Instrument == "" {
			t.Errorf("%s: aimed %v, instrument %q", c.why, got.Aimed, got.Instrument)
		}
	}
}

func TestLandTellsTheEdge(t *testing.T) {
	got := named(t, "vibraphone", 440).Land(Frequency(53, 440).Shift(-240), Aim{})
	if got.Inside || got.Note != "D#3" || got.Edge != "F3" || !near(got.EdgeCents, -240) {
		t.Errorf("240 cents below F3: got %+v, want D#3 outside, 240 cents below F3", got)
	}
}

func TestLandTellsWhatIsWritten(t *testing.T) {
	if got := named(t, "glockenspiel", 440).Land(Frequency(84, 440), Aim{}); got.Note != "C6" || got.Written != "C4" {
		t.Errorf("glockenspiel, C6: got %q written %q, want C6 written C4", got.Note, got.Written)
	}
	if got := named(t, "vibraphone", 440).Land(440, Aim{}); got.Written != "" {
		t.Errorf("vibraphone: written %q, want nothing: it is as it sounds", got.Written)
	}
}

func TestLandNowhere(t *testing.T) {
	in := named(t, "vibraphone", 440)
	for _, f := range []analysis.Hz{0, -440, analysis.Hz(math.NaN()), analysis.Hz(math.Inf(1))} {
		if got := in.Land(f, Aim{Tolerance: 10}); got.Key != -1 || got.Note != "" || got.Within {
			t.Errorf("%g Hz: got %+v, want nothing landed", f, got)
		}
	}
}

// A prepared piano string can sound several pitches, or none to speak of.
func TestLandOnPreparedStrings(t *testing.T) {
	in, err := FromCSV(strings.NewReader("note,hz,label\nC4,none,bolt\nD4,290 611,screw\nE4,,\n"), "prepared", 440)
	if err != nil {
		t.Fatal(err)
	}
	c4, d4 := 60, 62
	if got := in.Land(600, Aim{}); got.Note != "screw" || got.Target != 611 || !near(got.Cents, analysis.Hz(600).Above(611)) {
		t.Errorf("600 Hz: got %+v, want the screw's upper pitch, 611 Hz", got)
	}
	if got := in.Land(262, Aim{}); got.Note == "bolt" || got.Inside {
		t.Errorf("262 Hz, where the bolt has no pitch: got %+v, want it outside", got)
	}
	if got := in.Land(262, Aim{Key: &c4}); got.Note != "C4" || got.Inside {
		t.Errorf("262 Hz against the bolt: got %+v, want the tempered C4, not one of the notes", got)
	}
	if got := in.Land(300, Aim{Key: &d4, Bend: 10}); got.Target != 290 || !near(got.Cents, analysis.Hz(300).Above(290)-10) {
		t.Errorf("300 Hz against the screw bent by 10: got %+v", got)
	}
	none, err := FromCSV(strings.NewReader("note,hz\nC4,none\n"), "mute", 440)
	if err != nil {
		t.Fatal(err)
	}
	if got := none.Land(445, Aim{}); got.Note != "A4" || got.Inside || got.Edge != "" {
		t.Errorf("an instrument without any pitch: got %+v, want A4, outside", got)
	}
}

// Landing is about intervals: reference and frequency moved together land the
// same, an octave up is the same note's name an octave up, and the bent
// target, moved by the cents told, is the frequency again.
func TestLandInvariances(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	piano := named(t, "piano", 440)
	for range 2000 {
		f := analysis.Hz(27.5 * math.Exp2(rng.Float64()*6))
		aim := Aim{Bend: analysis.Cents(rng.Float64()*100 - 50), Tolerance: 10}
		ref := analysis.Hz(415 + 51*rng.Float64())
		a := piano.Land(f, aim)
		if d := 50 - math.Abs(float64(a.Cents)); d < 1e-6 {
			continue // on the border rounding decides
		}
		b := named(t, "piano", ref).Land(f*ref/440, aim)
		if a.Key != b.Key || !near(a.Cents, b.Cents) {
			t.Errorf("%.3f Hz on 440 and the same on %.2f: %s %+.6f and %s %+.6f", f, ref, a.Note, a.Cents, b.Note, b.Cents)
		}
		if c := piano.Land(2*f, aim); a.Inside && c.Inside && (c.Key != a.Key+12 || !near(a.Cents, c.Cents)) {
			t.Errorf("%.3f Hz and its octave: %s %+.6f and %s %+.6f", f, a.Note, a.Cents, c.Note, c.Cents)
		}
		if back := a.Target.Shift(aim.Bend + a.Cents); !near(back.Above(f), 0) {
			t.Errorf("%.3f Hz: target, bend and cents lead to %.6f Hz", f, back)
		}
		if math.Abs(float64(a.Cents)) > 50+exact {
			t.Errorf("%.3f Hz: %+.3f cents from the nearest semitone", f, a.Cents)
		}
	}
}

// The slow twin: try every note and every target.
func TestLandAgreesWithTryingAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, name := range Names() {
		in := named(t, name, 442)
		low, high := in.Notes[0].Targets[0], in.Notes[len(in.Notes)-1].Targets[0]
		for range 200 {
			f := low.Shift(analysis.Cents(rng.Float64()) * high.Above(low))
			best := math.Inf(1)
			for _, n := range in.Notes {
				best = min(best, math.Abs(float64(f.Above(n.Targets[0]))))
			}
			got := in.Land(f, Aim{})
			if !got.Inside || math.Abs(math.Abs(float64(got.Cents))-best) > exact {
				t.Errorf("%s, %.3f Hz: got %+v, want %.6f cents away", name, f, got, best)
			}
		}
	}
}

func BenchmarkLand(b *testing.B) {
	in := named(b, "piano", 440)
	aim := Aim{Bend: 5, Tolerance: 10}
	b.ReportAllocs()
	for b.Loop() {
		in.Land(523.7, aim)
	}
}
