package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

type blow struct {
	at, f float64 // f 0: a knock
	kind  string
}

// stageScene makes seconds of sound in which eight things are struck at random:
// pipes, planks, bowls with twin modes, glasses, pots. Ratios are those of free
// bars and the like, rounded; they only have to be plausible.
func stageScene(rate analysis.Rate, seconds float64, noise float64, seed uint64, least, most float64) (x []float64, blows []blow) {
	rng := rand.New(rand.NewPCG(seed, 3))
	x = make([]float64, int(seconds*float64(rate)))
	for i := range x {
		x[i] = noise * rng.NormFloat64()
	}
	add := func(at, a, f, t60 float64) {
		if f > 0.42*float64(rate) {
			return
		}
		first := int(math.Ceil(at * float64(rate)))
		ph := 2 * math.Pi * rng.Float64()
		d := analysis.LnThousand / t60
		n := int(min(1.5*t60, 8) * float64(rate))
		for i := first; i < min(len(x), first+n); i++ {
			t := float64(i)/float64(rate) - at
			x[i] += a * math.Exp(-d*t) * math.Sin(2*math.Pi*f*t+ph)
		}
	}
	click := func(at, a, dur float64) {
		first := int(math.Ceil(at * float64(rate)))
		n := int(dur * float64(rate))
		for i := first; i < min(first+n, len(x)); i++ {
			w := math.Sin(math.Pi * float64(i-first) / float64(n))
			x[i] += a * w * w * rng.NormFloat64()
		}
	}
	type object struct {
		kind   string
		ratios []float64
		levels []float64
		f, t60 float64
		tilt   float64
		split  float64
	}
	var objects []object
	for range 8 {
		o := object{f: 200 * math.Pow(10, rng.Float64())}
		switch rng.IntN(5) {
		case 0:
			o.kind, o.ratios, o.levels, o.t60, o.tilt = "pipe", []float64{1, 2.757, 5.404, 8.933}, []float64{0, -4, -9, -16}, 1.5+3*rng.Float64(), 0.5
		case 1:
			o.kind, o.ratios, o.levels, o.t60, o.tilt = "plank", []float64{1, 2.7, 5.1, 8}, []float64{0, -7, -15, -24}, 0.15+0.2*rng.Float64(), 0.8
		case 2:
			o.kind, o.ratios, o.levels, o.t60, o.tilt, o.split = "bowl", []float64{1, 2.8, 5.2, 8.1}, []float64{0, -3, -10, -18}, 2+3*rng.Float64(), 0.7, 0.6+3*rng.Float64()
		case 3:
			o.kind, o.ratios, o.levels, o.t60, o.tilt = "glass", []float64{1, 2.4, 4.3, 6.7}, []float64{0, -5, -12, -18}, 0.4+0.8*rng.Float64(), 0.4
		case 4:
			o.kind, o.ratios, o.levels, o.t60, o.tilt = "pot", []float64{1, 1.45, 2.56, 3.6}, []float64{0, -6, -8, -15}, 0.2+0.3*rng.Float64(), 0.4
		}
		if o.f*o.ratios[1] > 9000 {
			o.f /= 3
		}
		objects = append(objects, o)
	}
	for at := 0.7; at < seconds-0.5; at += least + (most-least)*rng.Float64() {
		a := 0.3 * math.Pow(10, -15*rng.Float64()/20)
		if rng.IntN(8) == 0 {
			click(at, a, 0.004+0.02*rng.Float64())
			blows = append(blows, blow{at, 0, "knock"})
			continue
		}
		o := objects[rng.IntN(len(objects))]
		for k, r := range o.ratios {
			l := a * math.Pow(10, (o.levels[k]+4*rng.Float64()-2)/20)
			t := o.t60 / math.Pow(r, o.tilt)
			if o.split > 0 && k < 2 {
				add(at, l*0.6, o.f*r-o.split/2*math.Sqrt(r), t)
				add(at, l*0.5, o.f*r+o.split/2*math.Sqrt(r), t*0.95)
				continue
			}
			add(at, l, o.f*r, t)
		}
		click(at, 0.5*a, 0.003)
		blows = append(blows, blow{at, o.f, o.kind})
	}
	return x, blows
}

// TestScene: a minute of things struck at random, one in eight a knock, over
// noise. What is required is a little less than was measured when it was
// written; the counts are logged.
func TestScene(t *testing.T) {
	cases := []struct {
		name        string
		noise       float64
		seeds       uint64
		least, most float64 // seconds from one to the next
		right       float64 // share of the pitched ones heard within 50 cents
		wrong       int     // knocks with a pitch, and strikes that were none
	}{
		// Measured: 148 of 148 in the first two together, 73 of 74 in the third.
		{"quiet room", 1e-4, 3, 0.15, 1.2, 0.97, 0},
		{"noise 40 dB below", 1e-3, 3, 0.15, 1.2, 0.97, 0},
		{"noise 20 dB below", 1e-2, 3, 0.15, 1.2, 0.95, 0},
		// Measured: 145 of 150. Rings of seconds are cut off after an eighth of
		// one, and twin modes heard for less than their beat.
		{"as fast as hands go", 1e-3, 2, 0.12, 0.3, 0.9, 2},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			pitched, right, wrong, late, missed, undecided := 0, 0, 0, 0, 0, 0
			for seed := range c.seeds {
				x, blows := stageScene(48000, 20, c.noise, seed, c.least, c.most)
				all := hearAll(48000, x, 480, Options{})
				first := map[string]float64{}
				for _, s := range all {
					if _, ok := first[s.ID]; !ok {
						first[s.ID] = s.Used
					}
				}
				got := lastOnes(all)
				used := make([]bool, len(got))
				for _, b := range blows {
					var s analysis.Strike
					for i := range got {
						if !used[i] && math.Abs(got[i].Rate.Seconds(got[i].Onset)-b.at) < 0.006 {
							s, used[i] = got[i], true
							break
						}
					}
					if b.f == 0 {
						if s.Heard != nil {
							wrong++
							t.Logf("seed %d: knock at %.3f s heard as %.1f Hz", seed, b.at, s.Heard.Frequency)
						}
						continue
					}
					pitched++
					switch {
					case s.ID == "":
						missed++
						t.Logf("seed %d: %s of %.1f Hz at %.3f s not found", seed, b.kind, b.f, b.at)
					case s.Heard == nil:
						undecided++
						t.Logf("seed %d: %s of %.1f Hz at %.3f s has no pitch", seed, b.kind, b.f, b.at)
					case math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(b.f)))) > 50:
						t.Logf("seed %d: %s of %.1f Hz at %.3f s heard as %.1f", seed, b.kind, b.f, b.at, s.Heard.Frequency)
					default:
						right++
					}
					if s.Heard != nil && first[s.ID] > 0.080 {
						late++
					}
				}
				for i, s := range got {
					if !used[i] && s.Heard != nil {
						wrong++
						t.Logf("seed %d: nothing at %.3f s heard as %.1f Hz", seed, s.Rate.Seconds(s.Onset), s.Heard.Frequency)
					}
				}
			}
			t.Logf("%d pitched: %d right, %d missed, %d without a pitch; %d wrong; %d first told after 80 ms", pitched, right, missed, undecided, wrong, late)
			if float64(right) < c.right*float64(pitched) {
				t.Errorf("%d pitched strikes: got %d right, wanted %.0f %%", pitched, right, 100*c.right)
			}
			if wrong > c.wrong {
				t.Errorf("got %d pitches where there are none, wanted at most %d", wrong, c.wrong)
			}
			if 50*late > pitched+50 {
				t.Errorf("%d pitched strikes: got %d first told more than 80 ms after the onset, wanted at most 2 %% and one", pitched, late)
			}
		})
	}
}
