package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/bench"
)

// Players sums up what a number of seeded players came to.
type Players struct {
	Way      bench.Way
	Pouring  bench.Pouring
	Count    int
	Within5  int       // truly within 5 cents at the end
	Kept     int       // truly within what was promised after the first sound
	Promises []float64 // cents
	Sounds   []float64 // strikes or breaths until it said "there"
	Gave     int       // gave up after a dozen
	Forecast int       // intervals printed for a sound to come
	Held     int       // of those, how many held it
	Worst    []Outcome
}

// Outcome is one player's end.
type Outcome struct {
	Kind           string
	Seed           int
	Cents, Promise float64
	Sounds         int
	Share, Scatter float64 // of the aim's fill; of the player
}

const dozen = 12

// Play has count players of a seed each bring a vessel to an aim, poured so.
func Play(seed uint64, way bench.Way, pouring bench.Pouring, count int) Players {
	p := Players{Way: way, Pouring: pouring, Count: count}
	for i := range count {
		p.one(rand.New(rand.NewPCG(seed, uint64(i))), i)
	}
	slices.SortFunc(p.Worst, func(a, b Outcome) int {
		return int(math.Copysign(1, math.Abs(b.Cents)-math.Abs(a.Cents)))
	})
	p.Worst = p.Worst[:min(len(p.Worst), 8)]
	return p
}

func (p *Players) one(r *rand.Rand, seed int) {
	var v Vessel
	scatter := uniform(r, .5, 1.5)
	if p.Way == bench.Struck {
		v = Glass(r)
		for full := 0.0; full > -120; { // one that can be brought anywhere
			full = 1200 * math.Log2(v.Sounds(v.Capacity)/v.Sounds(0))
			if full > -120 {
				v = Glass(r)
			}
		}
	} else {
		v = Bottle(r)
		scatter = uniform(r, 1.5, 4)
	}
	aimFill := v.Capacity * uniform(r, .15, .85)
	if p.Way == bench.Struck { // uniform in pitch: little water does nothing
		low := v.Sounds(v.Capacity * .95)
		target := v.Sounds(0) * math.Pow(low/v.Sounds(0), uniform(r, .1, .95))
		a, b := 0.0, v.Capacity
		for range 50 {
			if aimFill = (a + b) / 2; v.Sounds(aimFill) > target {
				a = aimFill
			} else {
				b = aimFill
			}
		}
	}
	aim := v.Sounds(aimFill)
	job := bench.Job{Way: p.Way, Capacity: v.Capacity, Pouring: p.Pouring, Aim: bench.Aim{Name: "the aim", Target: analysis.Hz(aim)}}
	in, promise := 0.0, 0.0
	var entries []bench.Entry
	added, sounds := 0.0, 0
	for {
		heard := v.Sounds(in) * math.Exp2((scatter*r.NormFloat64()+.1*r.NormFloat64())/1200)
		if len(entries) > 0 {
			p.Forecast++
			c := bench.NewCurve(job, entries)
			pour := 0.0
			if added != 0 {
				pour = sq(p.Pouring.Bound(added)) / 3
			}
			at := c.At(sum(entries)+added, pour, sq(scatter))
			if x := 1200 * math.Log2(heard/aim); x >= at.Low && x <= at.High {
				p.Held++
			}
		}
		entries = append(entries, bench.Entry{Added: added, Heard: analysis.Hz(heard), Sigma: .1})
		sounds++
		a := bench.Quick(job, entries)
		if sounds == 1 {
			promise = a.Promise
		}
		if a.Step == bench.There || a.Step == bench.Cannot || sounds == dozen {
			if a.Step != bench.There {
				p.Gave++
			}
			break
		}
		added = 0
		switch a.Step {
		case bench.Add:
			added = a.Amount
		case bench.Take:
			added = -a.Amount
		}
		if added != 0 {
			in = min(max(in+added+p.Pouring.Bound(added)*uniform(r, -1, 1), 0), v.Capacity)
		}
	}
	off := 1200 * math.Log2(v.Sounds(in)/aim)
	if math.Abs(off) <= 5 {
		p.Within5++
	}
	if math.Abs(off) <= promise {
		p.Kept++
	}
	p.Promises = append(p.Promises, promise)
	p.Sounds = append(p.Sounds, float64(sounds))
	p.Worst = append(p.Worst, Outcome{v.Kind, seed, off, promise, sounds, aimFill / v.Capacity, scatter})
}

func sq(x float64) float64 { return x * x }

func sum(entries []bench.Entry) (fill float64) {
	for _, e := range entries {
		fill += e.Added
	}
	return fill
}

// Median of values; NaN of none.
func Median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return x[(len(x)-1)/2]
}
