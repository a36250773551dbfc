package listen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"ringwell/analysis"
)

// rolledThing is something that is rolled on.
type rolledThing struct {
	name   string
	ratios []float64
	t60    float64 // of the lowest, s; the others less by the root of their ratio
}

var rolledThings = []rolledThing{
	{"bar", []float64{1, 2.757, 5.404, 8.933}, 2},
	{"plank", []float64{1, 2.7, 5.1, 8}, 0.2},
	{"bowl", []float64{1, 1.003, 2.8, 2.81, 5.2}, 3},
	{"knock", nil, 0},
}

// stroke adds one stroke of a mallet on it: a click and its ring, in random
// phase and with partials up to 4 dB louder or softer each time.
func (o rolledThing) stroke(x []float64, rate analysis.Rate, at, level, f float64, rng *rand.Rand) {
	first := int(math.Ceil(at * float64(rate)))
	n := int(0.004 * float64(rate))
	for i := range n {
		w := math.Sin(math.Pi * float64(i) / float64(n))
		x[first+i] += 0.5 * level * w * w * rng.NormFloat64()
	}
	for k, r := range o.ratios {
		a := level * math.Pow(10, -(float64(k)*4+4*rng.Float64())/20)
		phase := 2 * math.Pi * rng.Float64()
		d := analysis.LnThousand / o.t60 * math.Sqrt(r)
		for i := first; i < len(x); i++ {
			t := float64(i)/float64(rate) - at
			x[i] += a * math.Exp(-d*t) * math.Sin(2*math.Pi*f*r*t+phase)
		}
	}
}

func quiet(rate analysis.Rate, seconds float64, rng *rand.Rand) []float64 {
	x := make([]float64, int(seconds*float64(rate)))
	for i := range x {
		x[i] = 1e-4 * rng.NormFloat64()
	}
	return x
}

// TestRollIsOneEvent: twenty strokes, ten to sixteen a second, a twentieth of
// their gap early or late (one sigma), are one strike with the rate at which
// they were played, and measured like any other.
func TestRollIsOneEvent(t *testing.T) {
	const rate, strokes = analysis.Rate(48000), 20
	for _, o := range rolledThings {
		for _, per := range []float64{10, 13, 16} {
			for seed := range uint64(2) {
				rng := rand.New(rand.NewPCG(seed, 9))
				x := quiet(rate, 1+strokes/per+1.2, rng)
				for k := range strokes {
					at := 1 + (float64(k)+0.05*rng.NormFloat64())/per
					o.stroke(x, rate, at, 0.2*math.Pow(10, -3*rng.Float64()/20), 440, rng)
				}
				given := fmt.Sprintf("a roll on a %s, %v a second, seed %d", o.name, per, seed)
				var got []analysis.Strike
				for _, s := range lastOnes(hearAll(rate, x, 480, Options{})) {
					if rate.Seconds(s.Onset) > 0.5 {
						got = append(got, s)
					}
				}
				if len(got) != 1 {
					t.Errorf("%s: got %d strikes, wanted one", given, len(got))
					continue
				}
				s := got[0]
				if s.Roll == nil || s.Stage != analysis.Final {
					t.Errorf("%s: got a %s strike and roll %v, wanted a final one that is a roll", given, s.Stage, s.Roll)
					continue
				}
				if at := rate.Seconds(s.Onset); math.Abs(at-1) > 0.2/per {
					t.Errorf("%s: got its onset at %.3f s, wanted that of the first stroke, at 1 s", given, at)
				}
				if s.Roll.Strokes < strokes-1 || s.Roll.Strokes > strokes {
					t.Errorf("%s: got %d strokes, wanted %d or one missed", given, s.Roll.Strokes, strokes)
				}
				// A twentieth of a gap, twenty strokes: 0.05·√(12/20³) = 0.2 %.
				if off := math.Abs(s.Roll.Rate - per); off > 4*s.Roll.SigmaRate || off > 0.008*per {
					t.Errorf("%s: got %.3f ±%.3f strokes a second", given, s.Roll.Rate, s.Roll.SigmaRate)
				}
				if o.ratios == nil {
					if s.Heard != nil {
						t.Errorf("%s: got a pitch of %v Hz", given, s.Heard.Frequency)
					}
					continue
				}
				near := math.Inf(1)
				for _, p := range s.Partials {
					near = min(near, math.Abs(float64(p.Frequency.Above(440))))
				}
				if s.Heard == nil || near > 1 { // a cent: the strokes' rings add up in random phase
					t.Errorf("%s: got heard %v and a partial %.2f c from the lowest, wanted a pitch and a partial there", given, s.Heard, near)
				}
			}
		}
	}
}

// TestFewStrokesAreStrikes: two or three strokes as fast as a roll's stay
// strikes, and so does what follows a roll.
func TestFewStrokesAreStrikes(t *testing.T) {
	const rate = analysis.Rate(48000)
	cases := []struct {
		name   string
		at     []float64
		onsets []float64
		rolls  int
	}{
		{"two", []float64{1, 1.08}, []float64{1, 1.08}, 0},
		{"three", []float64{1, 1.08, 1.16}, []float64{1, 1.08, 1.16}, 0},
		{"three and one later", []float64{1, 1.07, 1.14, 1.5}, []float64{1, 1.07, 1.14, 1.5}, 0},
		{"120 ms apart", []float64{1, 1.12, 1.24, 1.36, 1.48}, []float64{1, 1.12, 1.24, 1.36, 1.48}, 0},
		{"a roll and a strike", []float64{1, 1.08, 1.16, 1.24, 1.32, 1.9}, []float64{1, 1.9}, 1},
		{"two rolls", []float64{1, 1.08, 1.16, 1.24, 2, 2.1, 2.2, 2.3, 2.4}, []float64{1, 2}, 2},
		{"a stroke too soft to be heard", []float64{1, 1.07, 1.14, 1.28, 1.35}, []float64{1}, 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(4, 4))
			x := quiet(rate, c.at[len(c.at)-1]+1, rng)
			for _, at := range c.at {
				rolledThings[0].stroke(x, rate, at, 0.2, 500, rng)
			}
			var onsets []float64
			rolls := 0
			for _, s := range lastOnes(hearAll(rate, x, 480, Options{})) {
				if at := rate.Seconds(s.Onset); at > 0.5 {
					onsets = append(onsets, math.Round(at*100)/100)
				}
				if s.Roll != nil {
					rolls++
				}
			}
			if !reflect.DeepEqual(onsets, c.onsets) || rolls != c.rolls {
				t.Errorf("strokes at %v s: got strikes at %v, %d of them rolls; wanted %v, %d", c.at, onsets, rolls, c.onsets, c.rolls)
			}
		})
	}
}

// TestRollKeepsTheRules: each telling of a roll stands for the whole, however
// the sound is cut into blocks.
func TestRollKeepsTheRules(t *testing.T) {
	const rate = analysis.Rate(48000)
	rng := rand.New(rand.NewPCG(5, 5))
	x := quiet(rate, 4, rng)
	for k := range 16 {
		rolledThings[0].stroke(x, rate, 1+float64(k)/12, 0.2, 500, rng)
	}
	want := hearAll(rate, x, 480, Options{NewID: numbered()})
	if got := hearAll(rate, x, 4096, Options{NewID: numbered()}); !reflect.DeepEqual(got, want) {
		t.Errorf("a roll in blocks of 4096: got %d tellings that differ from the %d with blocks of 480", len(got), len(want))
	}
	for i, s := range want {
		if s.Revision != i+1 || s.ID != want[0].ID || s.Onset != want[0].Onset || s.From != want[0].From {
			t.Errorf("telling %d: got revision %d of %s at %d from %d, wanted the same strike told again: %s at %d from %d",
				i+1, s.Revision, s.ID, s.Onset, s.From, want[0].ID, want[0].Onset, want[0].From)
		}
	}
	last := want[len(want)-1]
	if last.Roll == nil || last.Roll.Strokes != 16 || len(last.Remarks) != 1 || last.Remarks[0].Words != "a roll of 16 strokes, 12.0 a second" {
		t.Errorf("got roll %+v and remarks %v, wanted 16 strokes, 12.0 a second", last.Roll, last.Remarks)
	}
}
