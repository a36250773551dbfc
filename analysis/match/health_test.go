package match

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// patient is an invented voice: each partial goes with temperature, and from
// strike to strike by spread cents and a share ring of its T60. The ear's own
// sigma is a third of the spread.
type patient struct {
	thing
	slope, spread, ring float64
}

// hurt is what was done to it: to the whole, or to one partial.
type hurt struct {
	fall   float64 // cents, all partials
	ring   float64 // factor, all partials; 0: as it was
	split  float64 // Hz, the strongest partial
	degree float64 // °C
}

func admit(rnd *rand.Rand) patient {
	return patient{invent(rnd), -0.1 - 1.2*rnd.Float64(), 0.15 * math.Exp2(3*rnd.Float64()), 0.01 * math.Exp2(2*rnd.Float64())}
}

func (p patient) sound(rnd *rand.Rand, h hurt) Sounding {
	s := Sounding{Temperature: &h.degree}
	for i, f := range p.freq {
		sigma := p.spread / 3
		c := p.slope*(h.degree-20) - h.fall + math.Hypot(p.spread, sigma)*rnd.NormFloat64()
		ring := p.t60[i] * math.Exp(p.ring*rnd.NormFloat64())
		if h.ring > 0 {
			ring *= h.ring
		}
		q := analysis.Partial{Frequency: analysis.Hz(f).Shift(analysis.Cents(c)), Sigma: analysis.Cents(sigma), Level: p.level[i] + 2*rnd.NormFloat64(),
			T60: ring, SigmaT60: ring * p.ring / 3}
		// The ear now and then takes noise for a beat, but not a clear one.
		if rnd.IntN(200) == 0 {
			q.Beat, q.SigmaBeat = 0.3, 0.1
		}
		if h.split > 0 && i == 0 {
			q.Beat, q.SigmaBeat, q.Pair = h.split+0.03*rnd.NormFloat64(), 0.03, 1
			r := q
			r.Frequency, q.Frequency = q.Frequency+analysis.Hz(h.split/2), q.Frequency-analysis.Hz(h.split/2)
			s.Partials = append(s.Partials, q)
			q = r
		}
		s.Partials = append(s.Partials, q)
	}
	return s
}

func (p patient) history(rnd *rand.Rand, n int) []Sounding {
	var all []Sounding
	for range n {
		all = append(all, p.sound(rnd, hurt{degree: 12 + 14*rnd.Float64()}))
	}
	return all
}

// Of the changes that exceed six times the voice's own spread at least 95 %
// are flagged, whatever the temperature; of sound strikes at most 1 %.
func TestHealth(t *testing.T) {
	for _, past := range []int{10, 20} {
		rnd := rand.New(rand.NewPCG(11+fresh()<<8, uint64(past)))
		type cell struct {
			what    string
			do      hurt
			exceeds func(p patient) bool
		}
		var table []cell
		for _, c := range []float64{3, 5, 10, 20, 40} {
			table = append(table, cell{fmt.Sprintf("%g cents lower", c), hurt{fall: c}, func(p patient) bool { return c > 6*p.spread }})
		}
		for _, f := range []float64{0.9, 0.7, 0.5} {
			table = append(table, cell{fmt.Sprintf("rings %g times as long", f), hurt{ring: f}, func(p patient) bool { return -math.Log(f) > 6*p.ring }})
		}
		for _, b := range []float64{0.5, 1, 3} {
			table = append(table, cell{fmt.Sprintf("splits by %g Hz", b), hurt{split: b}, func(patient) bool { return true }})
		}
		sound := 0
		const healthy = 3000
		for range healthy {
			p := admit(rnd)
			h := Examine(p.history(rnd, past), p.sound(rnd, hurt{degree: 12 + 14*rnd.Float64()}))
			if h.Suspect() {
				sound++
			}
		}
		t.Logf("%d strikes of history: %.2f %% of sound strikes flagged (aim at most 1)", past, 100*float64(sound)/healthy)
		if sound > healthy/100 {
			t.Errorf("%d strikes of history: flagged %d of %d sound strikes, want at most 1 %%", past, sound, healthy)
		}
		for _, c := range table {
			flagged, all := 0, 0
			for all < 300 {
				p := admit(rnd)
				if !c.exceeds(p) {
					continue
				}
				all++
				c.do.degree = 12 + 14*rnd.Float64()
				if h := Examine(p.history(rnd, past), p.sound(rnd, c.do)); h.Suspect() {
					flagged++
				}
			}
			t.Logf("%d strikes of history, %s: %.1f %% flagged (aim 95)", past, c.what, 100*float64(flagged)/float64(all))
			if float64(flagged) < 0.95*float64(all) {
				t.Errorf("%d strikes of history, %s: flagged %d of %d beyond six times the spread, want 95 %%", past, c.what, flagged, all)
			}
		}
	}
}

// What fell farther than partials are told apart by is found all the same, and
// another thing is said to be another.
func TestHealthOfWhatIsFarOff(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 10))
	found, unlike := 0, 0
	for range 100 {
		p := admit(rnd)
		past := p.history(rnd, 12)
		if h := Examine(past, p.sound(rnd, hurt{degree: 20, fall: 120})); h.Suspect() && h.Changes[0].What == Fell && math.Abs(float64(h.Shift)+120) < 5 {
			found++
		}
		if h := Examine(past, admit(rnd).sound(rnd, hurt{degree: 20})); h.Suspect() {
			unlike++
		}
	}
	if found < 95 || unlike < 95 {
		t.Errorf("of 100: %d falls of 120 cents found, %d strikes of another thing not taken for sound, want 95 of each", found, unlike)
	}
}

// With too little behind it nothing is said, and what the temperature explains
// is no change.
func TestHealthSaysNothingWhereItKnowsNothing(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 9))
	p := admit(rnd)
	p.slope, p.spread = -1, 0.3
	if h := Examine(p.history(rnd, enoughStrikes-1), p.sound(rnd, hurt{fall: 40})); h.Known || h.Suspect() {
		t.Errorf("a history of %d: got %+v, want that it is not known", enoughStrikes-1, h)
	}
	past := p.history(rnd, 20)
	if h := Examine(past, p.sound(rnd, hurt{degree: 30})); !h.Known || h.Suspect() {
		t.Errorf("10 cents lower at 10 °C more, of which the history tells: got %+v, want no change", h)
	}
	if h := Examine(past, p.sound(rnd, hurt{degree: 20, fall: 10})); !h.Suspect() || h.Changes[0].What != Fell || math.Abs(h.Changes[0].By+10) > 1.5 || math.Abs(float64(h.Shift)+10) > 1 {
		t.Errorf("10 cents lower at the same temperature: got %+v, want a fall of 10 cents", h)
	}
}
