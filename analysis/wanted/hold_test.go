package wanted

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

func vibraphone(t testing.TB) instrument.Instrument {
	t.Helper()
	in, err := instrument.ByName("vibraphone", 440)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func parsed(t testing.TB, text string) List {
	t.Helper()
	l, faults := Parse(text)
	if len(faults) > 0 {
		t.Fatalf("%q: %v", text, faults[0])
	}
	return l
}

// heard is a settled strike that lies c cents above A4, known to sigma.
func heard(c, sigma analysis.Cents) Hand {
	return Hand{Strike: "s", Heard: &analysis.Pitch{Frequency: analysis.Hz(440).Shift(c), Sigma: sigma, Likelihood: 1}}
}

func TestHold(t *testing.T) {
	second := func(h Hand, c analysis.Cents, likelihood float64) Hand {
		h.Heard.Likelihood = 1 - likelihood
		h.Second = &analysis.Pitch{Frequency: analysis.Hz(440).Shift(c), Sigma: 0.5, Likelihood: likelihood}
		return h
	}
	of := func(h Hand, k analysis.Kind) Hand { h.Kind = k; return h }
	early := func(h Hand) Hand { h.Early = true; return h }
	after := func(h Hand, seconds float64) Hand { h.Used = seconds; return h }
	rings := func(h Hand, known float64) Hand { h.Ring = known; return h }
	for name, c := range map[string]struct {
		list   string
		hand   Hand
		answer Answer
		reason Reason
		place  int
	}{
		"on it":                           {"A4 +-10", heard(0, 0.3), Yes, Fits, 0},
		"bent, on it":                     {"A4 +30 +-10", heard(28, 0.3), Yes, Fits, 0},
		"a quarter-tone":                  {"A4 quarter-sharp +-5", heard(51, 0.3), Yes, Fits, 0},
		"inside, surely":                  {"A4 +-10", heard(9, 0.3), Yes, Fits, 0},
		"inside, but the edge is in":      {"A4 +-10", heard(9.9, 0.3), Nearly, Unsure, 0},
		"inside, but nothing is known":    {"A4 +-10", heard(0, 300), Nearly, Unsure, 0},
		"inside, sigma infinite":          {"A4 +-10", heard(0, analysis.Cents(math.Inf(1))), Nearly, Unsure, 0},
		"inside, sigma no number":         {"A4 +-10", heard(0, analysis.Cents(math.NaN())), Nearly, Unsure, 0},
		"near":                            {"A4 +-10", heard(55, 0.3), Nearly, NearBy, 0},
		"no longer near":                  {"A4 +-10", heard(61, 0.3), NotWanted, Far, 0},
		"near, low":                       {"A4 +-10", heard(-55, 0.3), Nearly, NearBy, 0},
		"water lowers a bottle":           {"A4 +-10 bottle", of(heard(150, 0.3), analysis.Bottle), Nearly, Reachable, 0},
		"and does not raise it":           {"A4 +-10 bottle", of(heard(-150, 0.3), analysis.Bottle), NotWanted, Far, 0},
		"water raises a blown one":        {"A4 +-10 blown", of(heard(-150, 0.3), analysis.Blown), Nearly, Reachable, 0},
		"cutting raises a bar":            {"A4 +-10 bar", heard(-150, 0.3), Nearly, Reachable, 0},
		"an octave too far for water":     {"A4 +-10 bottle", of(heard(1200, 0.3), analysis.Bottle), NotWanted, Far, 0},
		"the tightest of two":             {"A4 +-30\nA4 +-10", heard(4, 0.3), Yes, Fits, 1},
		"the nearest of two as wide":      {"A4 -10 +-30\nA4 +10 +-30", heard(4, 0.3), Yes, Fits, 1},
		"the first of two that are alike": {"A4 +-10\nA4 +-10", heard(4, 0.3), Yes, Fits, 0},
		"the one that names its kind":     {"A4 +-5\nA4 +-20 glass", of(heard(1, 0.3), analysis.Glass), Yes, Fits, 1},
		"another kind is wanted":          {"A4 bottle", of(heard(0, 0.3), analysis.Bell), NotWanted, OtherKind, 0},
		"the kind is not known":           {"A4 bottle", heard(0, 0.3), Yes, Fits, 0},
		"some hear another pitch":         {"A4 +-10", second(heard(0, 0.3), 700, 0.3), Yes, Fits, 0},
		"most hear another pitch":         {"A4 +-10", second(heard(0, 0.3), 700, 0.6), Nearly, Split, 0},
		"as many hear either":             {"A4 +-10", second(heard(0, 0.3), 700, 0.5), Yes, Fits, 0},
		"the second pitch fits":           {"E5 +-10", second(heard(0, 0.3), 701, 0.3), Nearly, SecondFits, 0},
		"after 26 ms, unsettled":          {"A4 +-10", early(after(heard(0, 0.3), 0.026)), Nearly, Unsure, 0},
		"after 40 ms, settled":            {"A4 +-10", after(heard(0, 0.3), 0.040), Yes, Fits, 0},
		"after 80 ms, known":              {"A4 +-10", early(after(heard(0, 0.3), 0.080)), Yes, Fits, 0},
		"after 80 ms, hardly known":       {"A4 +-10", early(after(heard(0, 2), 0.080)), Nearly, Unsure, 0},
		"after 80 ms, it surely rings":    {"A4 +-10", rings(early(after(heard(0, 2), 0.080)), 0.1), Yes, Fits, 0},
		"settled, but does it ring?":      {"A4 +-10", rings(heard(0, 2), 0.3), Nearly, Unsure, 0},
		"settled, its ring unknown":       {"A4 +-10", rings(heard(0, 2), math.Inf(1)), Nearly, Unsure, 0},
		"its ring unknown, pitch known":   {"A4 +-10", rings(heard(0, 0.3), math.Inf(1)), Yes, Fits, 0},
		"after 160 ms, on the edge":       {"A4 +-10", after(heard(9.6, 0.1), 0.160), Nearly, Unsure, 0},
		"after a second, on the edge":     {"A4 +-10", after(heard(9.6, 0.1), 1), Yes, Fits, 0},
		"nothing open, empty":             {"", heard(0, 0.3), NotWanted, AllFound, -1},
		"no pitch":                        {"A4", Hand{}, NotWanted, NoPitch, -1},
		"a pitch of 0 Hz":                 {"A4", Hand{Heard: &analysis.Pitch{}}, NotWanted, NoPitch, -1},
		"an infinite pitch":               {"A4", Hand{Heard: &analysis.Pitch{Frequency: analysis.Hz(math.Inf(1))}}, NotWanted, NoPitch, -1},
	} {
		l := parsed(t, c.list)
		v := l.Hold(c.hand, vibraphone(t), 0)
		if v.Answer != c.answer || v.Reason != c.reason || v.Place != c.place {
			t.Errorf("%s: got %s (%s) for place %d, wanted %s (%s) for %d", name, v.Answer, v.Reason, v.Place, c.answer, c.reason, c.place)
		}
		if w := l.Words(v, 440); !strings.HasSuffix(w, ".") {
			t.Errorf("%s: got words %q, wanted a sentence", name, w)
		}
	}
}

// What is found fills a place, closes it when it is full, and is beaten only by
// what is clearly better.
func TestFillsAndBeats(t *testing.T) {
	in := vibraphone(t)
	fill := func(id string, c analysis.Cents) Fill {
		return Fill{Strike: id, Heard: analysis.Hz(440).Shift(c), Sigma: 1}
	}
	l := parsed(t, "A4 +-20 x2\nC5")
	for i, c := range []analysis.Cents{-15, 5} {
		var err error
		if l, err = l.Found("w1", fill(fmt.Sprint(i), c), in); err != nil {
			t.Fatal(err)
		}
	}
	if l.Places[0].Open() {
		t.Fatalf("two of two found: got an open place")
	}
	if v := l.Hold(heard(10, 1), in, 0); v.Answer != Yes || v.Reason != Better || v.Beats != 0 {
		t.Errorf("10 c off, sigma 1, where 15 and 5 c off were found: got %+v, wanted a yes that beats the first", v)
	}
	if v := l.Hold(heard(13, 1), in, 0); v.Answer != NotWanted || v.Reason != Filled {
		t.Errorf("13 c off, sigma 1: got %+v, wanted not wanted (filled): 2 c are under two standard deviations of 1.4", v)
	}
	next, err := l.Found("w1", fill("2", 1), in)
	if err != nil || len(next.Places[0].Fills) != 2 || next.Places[0].Fills[0].Strike != "1" || next.Places[0].Fills[1].Strike != "2" {
		t.Errorf("a third: got %+v, %v, wanted the worst, 0, gone", next.Places[0].Fills, err)
	}
	if len(l.Places[0].Fills) != 2 || l.Places[0].Fills[0].Strike != "0" {
		t.Errorf("the list before: got %+v, wanted it unchanged", l.Places[0].Fills)
	}
	ticked, err := l.WithTick("w1", true)
	if v := ticked.Hold(heard(0, 1), in, 0); err != nil || v.Answer != NotWanted || v.Reason != Filled {
		t.Errorf("perfect, but ticked off: got %+v, %v, wanted not wanted", v, err)
	}
	gone, filled := l.Without("0")
	if v := gone.Hold(heard(13, 1), in, 0); !filled || v.Reason != Fits {
		t.Errorf("13 c off once a fill is gone: got %+v, wanted it to fit", v)
	}
	moved, err := l.Found("w2", fill("0", -15), in)
	if err != nil || len(moved.Places[0].Fills) != 1 || len(moved.Places[1].Fills) != 1 {
		t.Errorf("found for another place: got %+v, %v, wanted it to move", moved.Places, err)
	}
}

// The chance is the share of a normal distribution inside the tolerance: 1 to 3
// sigma as in any table of it (68.27, 95.45, 99.73 %).
func TestChance(t *testing.T) {
	for _, c := range []struct {
		away, sigma, within analysis.Cents
		want                float64
	}{
		{0, 1, 1, 0.6827}, {0, 1, 2, 0.9545}, {0, 1, 3, 0.9973}, {10, 1, 10, 0.5}, {-10, 1, 10, 0.5}, {5, 0, 5, 1}, {6, 0, 5, 0},
	} {
		if got := chance(c.away, c.sigma, c.within); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%g c away, sigma %g, within %g: got %.5f, wanted %.4f", float64(c.away), float64(c.sigma), float64(c.within), got, c.want)
		}
	}
}

// However things lie, a yes is a yes of the truth but for one in twenty, and no
// strike makes Hold panic or name a place there is not.
func TestHoldNeverSaysMoreThanItKnows(t *testing.T) {
	in := vibraphone(t)
	l := parsed(t, "A4 +-10\nB4 +30 +-5\nC5 +-30 bottle\n500 Hz +-15")
	r := rand.New(rand.NewPCG(1, 2))
	yes, wrong := 0, 0
	for range 200000 {
		truth := analysis.Hz(430).Shift(analysis.Cents(400 * r.Float64()))
		sigma := analysis.Cents(math.Exp(3 * r.NormFloat64()))
		h := Hand{Heard: &analysis.Pitch{Frequency: truth.Shift(sigma * analysis.Cents(r.NormFloat64())), Sigma: sigma, Likelihood: 1}}
		v := l.Hold(h, in, 0)
		if v.Answer != Yes {
			continue
		}
		yes++
		if p := l.Places[v.Place]; math.Abs(float64(p.Away(truth, in))) > float64(p.within(Usual)) {
			wrong++
		}
	}
	// Flat prior, so the share is that of the chances; all are 95 % or more.
	if share := float64(wrong) / float64(yes); yes < 1000 || share > 0.01 {
		t.Errorf("of %d yes: got %.2f %% wrong, wanted at most 1 %%", yes, 100*share)
	}
}

// A note that was measured on the instrument, or has several strings, is wanted
// where it lies.
func TestAwayFollowsTheInstrument(t *testing.T) {
	in := vibraphone(t)
	in.Notes = append([]instrument.Note(nil), in.Notes...)
	for i := range in.Notes {
		if in.Notes[i].Key == 69 {
			in.Notes[i].Targets = []analysis.Hz{441, 450}
		}
	}
	s := parsed(t, "A4 +10").Places[0].Spec
	for f, want := range map[analysis.Hz]analysis.Cents{analysis.Hz(441).Shift(10): 0, analysis.Hz(450).Shift(10): 0, analysis.Hz(450).Shift(12): 2} {
		if got := s.Away(f, in); math.Abs(float64(got-want)) > 1e-9 {
			t.Errorf("%.3f Hz for A4 +10 at 441 and 450 Hz: got %.3f c, wanted %.3f", float64(f), float64(got), float64(want))
		}
	}
	at, err := vibraphone(t).At(442)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Target(at); math.Abs(float64(got.Above(442))-10) > 1e-9 {
		t.Errorf("A4 +10 at 442 Hz: got %.4f Hz", float64(got))
	}
	if got := (Spec{Frequency: 440}).Target(at); got != 440 {
		t.Errorf("440 Hz at A4 = 442 Hz: got %g Hz, wanted 440: a frequency stays", float64(got))
	}
}

func TestEdited(t *testing.T) {
	in := vibraphone(t)
	l := parsed(t, "A4\nC5 x2\nE5\n")
	l, _ = l.Found("w2", Fill{Strike: "a", Heard: 523}, in)
	l, _ = l.WithTick("w3", true)
	next, faults := l.Edited("# new\nE5\nC5 +10 x2\nG5\n")
	if len(faults) > 0 || next.Places[0].ID != "w3" || !next.Places[0].Ticked || next.Places[1].ID != "w2" || len(next.Places[1].Fills) != 1 || next.Places[2].ID != "w4" {
		t.Errorf("edited: got %+v, %v, wanted w3 ticked, w2 filled, w4 new", next.Places, faults)
	}
	if third, _ := next.Edited("B5"); third.Places[0].ID != "w5" {
		t.Errorf("edited again: got ID %s, wanted w5: none is used twice", third.Places[0].ID)
	}
}

func TestOrdered(t *testing.T) {
	l := parsed(t, "# jars\nA4\nC5\nE5\n# end")
	next, err := l.Ordered([]string{"w3", "w1", "w2"})
	if err != nil || next.String() != "E5\n# jars\nA4\nC5\n# end\n" {
		t.Errorf("reordered: got %q, %v", next.String(), err)
	}
	for _, bad := range [][]string{nil, {"w1"}, {"w1", "w1", "w2"}, {"w1", "w2", "w9"}} {
		if _, err := l.Ordered(bad); err == nil {
			t.Errorf("order %v: got no error", bad)
		}
	}
}

func BenchmarkHold(b *testing.B) {
	in := vibraphone(b)
	l := parsed(b, strings.Repeat("F#5 +30 +-15 bottle x2\nA3\n440 Hz glass\n", 33))
	h := heard(12, 0.3)
	b.ReportAllocs()
	for b.Loop() {
		l.Hold(h, in, 0)
	}
}

// What Hand.Ring says of a strike.
func TestRingOfTheHand(t *testing.T) {
	for name, c := range map[string]struct {
		strike analysis.Strike
		want   float64
	}{
		"no pitch":               {analysis.Strike{}, 0},
		"on no partial":          {analysis.Strike{Heard: &analysis.Pitch{Partial: -1}}, 0},
		"a partial there is not": {analysis.Strike{Heard: &analysis.Pitch{Partial: 1}, Partials: []analysis.Partial{{}}}, 0},
		"a ring that is unknown": {analysis.Strike{Heard: &analysis.Pitch{}, Partials: []analysis.Partial{{}}}, math.Inf(1)},
		"2 s, give or take 0.5":  {analysis.Strike{Heard: &analysis.Pitch{}, Partials: []analysis.Partial{{T60: 2, SigmaT60: 0.5}}}, 0.25},
	} {
		if got := HandOf(c.strike, analysis.Unknown).Ring; got != c.want {
			t.Errorf("%s: got %v, wanted %v", name, got, c.want)
		}
	}
}

// Of the pitch that some hear the place is told that it would fit: not one that
// was ticked off, not one for another kind, not one it lies outside of.
func TestOther(t *testing.T) {
	hand := heard(0, 0.3)
	hand.Kind = analysis.Glass
	hand.Heard.Likelihood = 0.7
	hand.Second = &analysis.Pitch{Frequency: analysis.Hz(440).Shift(1200), Sigma: 0.5, Likelihood: 0.3}
	for text, want := range map[string]int{
		"A4 +-10\nA5 +-10": 1, "A4 +-10\nA5 +-10 bell": -1, "A4 +-10\nA5 +40 +-10": -1, "A4 +-10\nA5 +-10 bell\nA5 +-10 glass": 2,
	} {
		l := parsed(t, text)
		if v := l.Hold(hand, vibraphone(t), 10); v.Other == nil || v.Other.Place != want {
			t.Errorf("%q: got the other pitch at %+v, wanted place %d", text, v.Other, want)
		}
	}
	l := parsed(t, "A4 +-10\nA5 +-10")
	l.Places[1].Ticked = true
	if v := l.Hold(hand, vibraphone(t), 10); v.Other == nil || v.Other.Place != -1 {
		t.Errorf("ticked off: got the other pitch at %+v, wanted no place", v.Other)
	}
}
