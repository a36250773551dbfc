package match

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ringwell/analysis"
)

func TestApart(t *testing.T) {
	one := []Mode{{Frequency: 500, T60: 1}, {Frequency: 1400, Level: -10, T60: 0.5}}
	moved := func(change func(m *Mode)) []Mode {
		c := append([]Mode{}, one...)
		change(&c[0])
		return c
	}
	// Weights 1 and 1/2 on both sides; the first pair carries 2 of 3.
	two := 2.0 / 3
	for _, c := range []struct {
		what string
		b    []Mode
		want float64
		why  Why
		by   float64
	}{
		{"itself", one, 0, "", 0},
		{"nothing", nil, 1, WhyMissing, 0},
		{"20 cents up", moved(func(m *Mode) { m.Frequency = m.Frequency.Shift(20) }), two * (1 - math.Exp(-0.5)), WhyPitch, 20},
		{"half the ring", moved(func(m *Mode) { m.T60 /= 2 }), two * (1 - math.Exp(-0.5)), WhyRing, 0.5},
		{"ring not known", moved(func(m *Mode) { m.T60 = 0 }), 0, "", 0},
		// Weights 1, 1/2 and 1/2, 1/2: the pair carries 1.5 of 2.5.
		{"10 dB fainter", moved(func(m *Mode) { m.Level = -10 }), 1.5 / 2.5 * (1 - math.Exp(-0.5)), WhyLevel, -10},
		{"an octave up", moved(func(m *Mode) { m.Frequency *= 2 }), two, WhyMissing, 0},
	} {
		got, reasons := Apart(one, c.b)
		back, _ := Apart(c.b, one)
		if math.Abs(got-c.want) > 1e-9 || math.Abs(back-got) > 1e-12 {
			t.Errorf("%s: got %v and back %v, want %v", c.what, got, back, c.want)
		}
		if c.why == "" {
			continue
		}
		if len(reasons) == 0 || reasons[0].Why != c.why || math.Abs(reasons[0].By-c.by) > 1e-9 {
			t.Errorf("%s: got reasons %+v, want first %s by %v", c.what, reasons, c.why, c.by)
			continue
		}
		sum := 0.0
		for _, r := range reasons {
			sum += r.Share
		}
		if math.Abs(sum-got) > 1e-9 {
			t.Errorf("%s: the shares sum to %v, want the distance %v", c.what, sum, got)
		}
	}
}

// The same thing struck again, by another hand and beater, is the most alike
// of a hundred.
func TestTheSameThingIsMostAlike(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	var things []thing
	for range 100 {
		things = append(things, invent(rnd))
	}
	voices := shelve(rnd, things, 3)
	right := 0
	for i := range things {
		again := Gather([][]analysis.Partial{things[i].strike(rnd, 5*rnd.NormFloat64()), things[i].strike(rnd, 5*rnd.NormFloat64())})
		if n := Alike(again, voices, "", 1); len(n) == 1 && n[0].ID == voices[i].ID {
			right++
		}
	}
	if right < 98 {
		t.Errorf("of 100 things %d were found most alike to themselves, want 98", right)
	}
	if n := Alike(voices[3].Modes, voices, voices[3].Object, 5); len(n) != 5 || n[0].ID == voices[3].ID || n[0].Distance > n[4].Distance {
		t.Errorf("without itself: got %+v, want five others, nearest first", n)
	}
}

func BenchmarkAlike(b *testing.B) {
	rnd := rand.New(rand.NewPCG(7, 1))
	var things []thing
	for range 10000 {
		things = append(things, invent(rnd))
	}
	voices := shelve(rnd, things, 3)
	for b.Loop() {
		if n := Alike(voices[77].Modes, voices, "", 10); n[0].ID != voices[77].ID {
			b.Fatalf("got %v, want itself", n[0])
		}
	}
}

// Passing over what cannot be near changes nothing: the textbook way, which
// holds every voice against the other, gives the same.
func TestAlikeIsAsEveryOneHeldAgainst(t *testing.T) {
	rnd := rand.New(rand.NewPCG(15, 6))
	var things []thing
	for range 400 {
		things = append(things, invent(rnd))
	}
	voices := shelve(rnd, things, 2)
	for i := range 40 {
		var slow []float64
		for _, v := range voices {
			if v.Object != voices[i].Object {
				d, _ := Apart(voices[i].Modes, v.Modes)
				slow = append(slow, d)
			}
		}
		slices.Sort(slow)
		for n, got := range Alike(voices[i].Modes, voices, voices[i].Object, 7) {
			if got.Distance != slow[n] {
				t.Errorf("voice %d, neighbour %d: got distance %v, want %v", i, n, got.Distance, slow[n])
			}
		}
	}
}
