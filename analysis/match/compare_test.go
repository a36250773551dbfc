package match

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// "Foam under the tile: the second partial rings 2.3 times longer."
func TestCompare(t *testing.T) {
	a := []analysis.Partial{
		{Frequency: 500, Sigma: 0.1, SigmaLevel: 0.1, T60: 1, SigmaT60: 0.01},
		{Frequency: 1400, Sigma: 0.2, Level: -8, SigmaLevel: 0.2, T60: 0.5, SigmaT60: 0.01},
		{Frequency: 3000, Sigma: 0.5, Level: -20, SigmaLevel: 0.5},
	}
	b := []analysis.Partial{
		{Frequency: analysis.Hz(500).Shift(0.5), Sigma: 0.1, SigmaLevel: 0.1, T60: 1.05, SigmaT60: 0.01},
		{Frequency: analysis.Hz(1400).Shift(-9), Sigma: 0.2, Level: -7, SigmaLevel: 0.2, T60: 1.15, SigmaT60: 0.01},
		{Frequency: 4100, Sigma: 0.5, Level: -20, SigmaLevel: 0.5},
	}
	got := Compare(a, b, nil)
	if len(got) != 4 || got[0].A != 0 || got[0].B != 0 || got[1].A != 1 || got[1].B != 1 || got[2] != (Paired{A: 2, B: -1}) || got[3] != (Paired{A: -1, B: 2}) {
		t.Fatalf("got %+v, want two pairs and one alone on each side", got)
	}
	if d := got[0]; d.Cents.Significant || d.Level.Significant || d.Ring.Significant {
		t.Errorf("500 Hz: got %+v %+v %+v, want nothing beyond chance", d.Cents, d.Level, d.Ring)
	}
	if d := got[1].Ring; !d.Significant || math.Abs(d.By-2.3) > 1e-9 || !(d.Low < 2.3 && d.High > 2.3 && d.Low > 1.5) {
		t.Errorf("1400 Hz, ring: got %+v, want 2.3 times, beyond chance", d)
	}
	if d := got[1].Cents; !d.Significant || math.Abs(d.By+9) > 1e-9 {
		t.Errorf("1400 Hz, pitch: got %+v, want 9 cents lower, beyond chance", d)
	}
	words := Sayings(got, a)
	want := []string{"The partial at 1400 Hz lies 9.0 cents lower.", "The partial at 1400 Hz rings 2.3 times as long."}
	if len(words) != 2 || words[0] != want[0] || words[1] != want[1] {
		t.Errorf("in words: got %q, want %q", words, want)
	}
	// A voice whose strikes differ by as much says that this is nothing.
	own := []Mode{{Frequency: 1400, Spread: 6, SpreadLevel: 3, SpreadT60: 0.6, Seen: 10}}
	if got := Sayings(Compare(a, b, own), a); len(got) > 0 {
		t.Errorf("with that spread: got %q, want nothing", got)
	}
}

// Where nothing differs but by the stated sigmas, at most one comparison in
// twenty says something.
func TestCompareFindsNothingWhereNothingIs(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 4))
	said, trials := 0, 2000
	own := []Mode{}
	for i := range 8 {
		own = append(own, Mode{Frequency: analysis.Hz(300 * (i + 1)), Spread: 0.8, SpreadLevel: 2, SpreadT60: 0.06, Seen: 9})
	}
	strike := func() []analysis.Partial {
		var ps []analysis.Partial
		for _, m := range own {
			ps = append(ps, analysis.Partial{
				Frequency: m.Frequency.Shift(analysis.Cents(math.Hypot(0.8, 0.3) * rnd.NormFloat64())), Sigma: 0.3,
				Level: -5 + math.Hypot(2, 0.5)*rnd.NormFloat64(), SigmaLevel: 0.5,
				T60: math.Exp(math.Hypot(0.06, 0.02) * rnd.NormFloat64()), SigmaT60: 0.02,
			})
		}
		return ps
	}
	for range trials {
		a := strike()
		if len(Sayings(Compare(a, strike(), own), a)) > 0 {
			said++
		}
	}
	// 5 % and three sigma of a binomial of 2000.
	if most := trials/20 + 30; said > most {
		t.Errorf("%d of %d comparisons said something, want at most %d", said, trials, most)
	}
	t.Logf("%d of %d comparisons of equals said something", said, trials)
}

func TestPairs(t *testing.T) {
	v := []Pitched{{"a", "1", 500, 0}, {"b", "2", 501.5, 2}, {"c", "2", 501.6, 2}, {"d", "3", 700, 1}, {"e", "4", 0, 0}, {"f", "5", 500.5, 2}}
	got := Pairs(v, 2, 10)
	want := []Beating{{A: 0, B: 5, Beat: 0.5}, {A: 5, B: 1, Beat: 1}, {A: 5, B: 2, Beat: 1.1}, {A: 0, B: 1, Beat: 1.5}, {A: 0, B: 2, Beat: 1.6}}
	if len(got) != len(want) {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	for i := range want {
		if got[i].A != want[i].A || got[i].B != want[i].B || math.Abs(got[i].Beat-want[i].Beat) > 1e-9 {
			t.Errorf("%d: got %+v, want %+v", i, got[i], want[i])
		}
	}
	// 2 cents of 500 Hz are 0.58 Hz; both together 0.82 Hz.
	if s := got[1].Sigma; math.Abs(s-0.818) > 0.002 || got[0].Sigma != 0 {
		t.Errorf("sigmas: got %v and %v Hz, want 0.818 and none", s, got[0].Sigma)
	}
	if few := Pairs(v, 2, 2); len(few) != 2 || few[0].Beat != got[0].Beat {
		t.Errorf("two of them: got %+v", few)
	}
}

// Strikes of a group in any order: each present, one cracked, one not there,
// one of another collection.
func TestCallOver(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 8))
	var things []thing
	for range 30 {
		things = append(things, invent(rnd))
	}
	voices := shelve(rnd, things, 6)
	names := map[string]string{}
	for i := range 29 {
		names[voices[i].Object] = voices[i].Object
	}
	c, r := NewCallOver(names), NewRecogniser(voices)
	hear := func(id string, partials []analysis.Partial) {
		v := r.Recognise(partials)
		if is, ok := c.Which(v); ok {
			c.Hear(id, is, Health{})
		} else {
			c.Wonder(id, v, partials, voices)
		}
	}
	for i := 28; i >= 1; i-- { // 0 is missing
		hear(voices[i].ID, things[i].strike(rnd, 3))
	}
	hear("other", things[29].strike(rnd, 0))
	if n := c.Count(Present); n < 27 || c.Count(Missing)+n != 29 {
		t.Errorf("got %d present, %d missing, want 28 and 1", n, c.Count(Missing))
	}
	if l := c.line(voices[0].Object); l.Answer != Missing || l.Words() != "missing" {
		t.Errorf("the one that was not struck: got %+v", l)
	}
	if len(c.Strangers) != 1 || c.Strangers[0] != "other" {
		t.Errorf("strangers: got %q, want the one that is of no group", c.Strangers)
	}
	// What fell by 60 cents is nothing the shelf knows; it is offered as what is
	// missing, and once that is said it is suspect.
	fallen := things[0].strike(rnd, -60)
	hear("fallen", fallen)
	u := c.Unsure
	if len(u) == 0 || u[len(u)-1].Strike != "fallen" || u[len(u)-1].Candidates[0].ID != voices[0].ID {
		t.Fatalf("got unsure %+v, strangers %q, want the fallen one and whose it is", u, c.Strangers)
	}
	if shift := u[len(u)-1].Candidates[0].Shift; shift > -45 || shift < -75 {
		t.Errorf("got %v cents, want -60 within 15", shift)
	}
	c.Hear("fallen", Candidate{ID: voices[0].ID, Object: voices[0].Object}, Health{Known: true, Shift: -60, Changes: []Change{{Fell, 500, -60, 1e-9}}})
	if l := c.line(voices[0].Object); l.Answer != Doubted || l.Moved != -60 || len(c.Unsure) != len(u)-1 {
		t.Errorf("after it was said: got %+v and unsure %+v", l, c.Unsure)
	}
}

// The filters come out as ITU-R BS.1770-4, Annex 1, tables 1 and 2 print them
// for 48 kHz, and a full-scale 997 Hz sine in one channel at -3.01 LUFS, as its
// text says (both from memory, unchecked).
func TestWeighting(t *testing.T) {
	shelf, pass := weighting(48000)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"shelf b0", shelf.b0, 1.53512485958697}, {"shelf b1", shelf.b1, -2.69169618940638}, {"shelf b2", shelf.b2, 1.19839281085285},
		{"shelf a1", shelf.a1, -1.69065929318241}, {"shelf a2", shelf.a2, 0.73248077421585},
		{"pass a1", pass.a1, -1.99004745483398}, {"pass a2", pass.a2, 0.99007225036621},
	} {
		if math.Abs(c.got-c.want) > 1e-8 {
			t.Errorf("%s: got %.14f, want %.14f", c.what, c.got, c.want)
		}
	}
	for _, rate := range []analysis.Rate{44100, 48000, 96000} {
		x := make([]float64, int(rate))
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * 997 * float64(i) / float64(rate))
		}
		if got := Loudness(x, rate); math.Abs(got+3.01) > 0.1 {
			t.Errorf("997 Hz at %v Hz: got %.2f LUFS, want -3.01 within 0.1", rate, got)
		}
	}
	if got := Loudness(make([]float64, 1000), 48000); !math.IsInf(got, -1) {
		t.Errorf("silence: got %v LUFS, want -Inf", got)
	}
}

// Two damped waves: their peaks stand where they should, and the decay falls by
// 60 dB in T60.
func TestLook(t *testing.T) {
	const rate = 48000.0
	x := make([]float64, 2*48000)
	for i := range x {
		s := float64(i) / rate
		x[i] = math.Exp(-math.Ln10*3*s/1.5) * (math.Sin(2*math.Pi*700*s) + 0.1*math.Sin(2*math.Pi*2500*s))
	}
	c := Look(x, rate)
	level := func(f float64) float64 {
		best, off := 0.0, math.Inf(1)
		for i, g := range c.Frequency {
			if d := math.Abs(float64(g) - f); d < off {
				best, off = c.Spectrum[i], d
			}
		}
		return best
	}
	if got := level(700); got < -1 {
		t.Errorf("at 700 Hz: got %.1f dB, want 0", got)
	}
	if got := level(2500); math.Abs(got+20) > 1.5 {
		t.Errorf("at 2500 Hz: got %.1f dB, want -20 within 1.5", got)
	}
	if got := level(1300); got > -40 {
		t.Errorf("between them: got %.1f dB, want below -40", got)
	}
	if got := c.Decay[int(1/stretch)]; math.Abs(got+40) > 1 {
		t.Errorf("after 1 s of a T60 of 1.5 s: got %.1f dB, want -40 within 1", got)
	}
	if e := Look(nil, rate); len(e.Spectrum) != 0 || !math.IsInf(e.Loudness, -1) {
		t.Errorf("no sound: got %+v", e)
	}
}
