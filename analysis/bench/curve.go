package bench

import (
	"math"

	"ringwell/analysis"
	"ringwell/analysis/physics/air"
)

// Curve is what is known of how a vessel's pitch goes with its fill: a sum of
// laws, each weighing what the entries say for it.
type Curve struct {
	job    Job
	first  analysis.Hz // of the first entry, in today's air
	fill   float64     // ml in it by what was entered
	laws   []fitted
	seen   []seen
	work   []float64
	target float64 // t at the aim
}

// shareNeper is how much t grows when the pitch falls by a cent.
const shareNeper = 2 * math.Ln2 / 1200

// forget is the weight below which a law no longer counts, against the best.
const forget = 1e-4

// NewCurve fits a job's entries, of which there must be one at least; both must
// have passed Check and CheckEntries.
func NewCurve(j Job, entries []Entry) *Curve {
	c := &Curve{job: j}
	now := entries[len(entries)-1].Air
	c.first = inAir(entries[0].Heard, entries[0].Air, now, j)
	poured := 0.0
	for i, e := range entries {
		c.fill += e.Added
		if i > 0 {
			s := j.Pouring.sigma(e.Added)
			poured += s * s
		}
		f := inAir(e.Heard, e.Air, now, j)
		t := float64(c.first/f) * float64(c.first/f)
		sd := math.Hypot(float64(e.Sigma), j.scatter())
		if j.Rounding > 0 { // any place within the step is as likely
			sd = math.Hypot(sd, analysis.CentsPerNeper*float64(j.Rounding/e.Heard)/math.Sqrt(12))
		}
		c.seen = append(c.seen, seen{fill: c.fill, t: t, noise: sq(t * shareNeper * sd), poured: poured})
	}
	aim := inAir(j.Aim.Target, j.Stage, now, j)
	c.target = float64(c.first/aim) * float64(c.first/aim)
	c.work = make([]float64, len(entries))
	var all []law
	if j.Way == Struck {
		all = struckLaws(j.Capacity, entries[0].Added)
	} else {
		all = blownLaws(j, entries[0].Added)
	}
	c.condition(all)
	return c
}

// inAir is what a column of air that sounds f in one air sounds in another; a
// wall does not mind.
func inAir(f analysis.Hz, from, to *air.Air, j Job) analysis.Hz {
	if j.Way != Blown || from == nil || to == nil {
		return f
	}
	return f.Shift(to.Above(*from))
}

func sq(x float64) float64 { return x * x }

// condition fits every law and keeps those that count.
func (c *Curve) condition(all []law) {
	best := math.Inf(-1)
	logs := make([]float64, 0, len(all))
	fits := make([]fitted, 0, len(all))
	for _, l := range all {
		f := fitted{law: l}
		evidence, ok := f.fit(c.seen)
		if !ok {
			continue
		}
		evidence += l.logPrior()
		if evidence < best+math.Log(forget) {
			continue
		}
		best = max(best, evidence)
		fits, logs = append(fits, f), append(logs, evidence)
	}
	sum := 0.0
	for i, f := range fits {
		if w := math.Exp(logs[i] - best); w >= forget {
			f.weight = w
			sum += w
			c.laws = append(c.laws, f)
		}
	}
	for i := range c.laws {
		c.laws[i].weight /= sum
	}
}

// Interval is a value with one standard deviation and its 95 % interval.
type Interval struct {
	Value, Sigma float64
	Low, High    float64
}

func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// below is the chance that t at a fill is at most t.
func (c *Curve) below(t, fill, more, noise float64) float64 {
	p := 0.0
	for i := range c.laws {
		m, v := c.laws[i].at(fill, more, c.work)
		p += c.laws[i].weight * phi((t-m)/math.Sqrt(v+noise))
	}
	return p
}

// cents is how far above the aim a relative period squared is.
func (c *Curve) cents(t float64) float64 {
	return -math.Log(max(t, 1e-6)/c.target) / shareNeper
}

// At is where the vessel sounds at a fill, in cents above the aim. noise adds
// variance in cents², as of a strike; poured is the variance of the pour that
// brings it there, in ml².
func (c *Curve) At(fill, poured, noise float64) Interval {
	parts := make([]normal, len(c.laws))
	mean, square := 0.0, 0.0
	for i := range c.laws {
		m, v := c.laws[i].at(fill, poured, c.work)
		w := c.laws[i].weight
		parts[i] = normal{w, m, v}
		mean, square = mean+w*m, square+w*(v+m*m)
	}
	extra := noise * sq(mean*shareNeper)
	for i := range parts {
		parts[i].s = math.Sqrt(parts[i].s + extra)
	}
	sd := math.Sqrt(max(square-mean*mean, 1e-14) + extra)
	// t grows as the pitch falls.
	return Interval{
		Value: c.cents(mean), Sigma: sd / mean / shareNeper,
		Low: c.cents(quantile(0.975, parts, mean, sd)), High: c.cents(quantile(0.025, parts, mean, sd)),
	}
}

// normal is one law's say: its weight, and mean and standard deviation of t.
type normal struct{ w, m, s float64 }

// quantile is where the sum of the laws has the chance p of being below, by
// halving, to a two-thousandth of its standard deviation.
func quantile(p float64, parts []normal, mean, sd float64) float64 {
	low, high := mean-12*sd, mean+12*sd
	for high-low > sd/2000 {
		t := (low + high) / 2
		q := 0.0
		for _, n := range parts {
			q += n.w * phi((t-n.m)/n.s)
		}
		if q < p {
			low = t
		} else {
			high = t
		}
	}
	return (low + high) / 2
}

// Fill is how much must be in it for the aim: the chance that less suffices is
// worked out along the whole vessel. Where the aim may not be reached at all,
// Low or High lie at the ends.
func (c *Curve) Fill() Interval {
	const steps = 40
	top := c.job.Capacity - c.job.least()
	passed := func(fill float64) float64 {
		p := c.below(c.target, fill, 0, 0)
		if c.job.Way == Struck { // t rises: the aim is passed when t is above it
			p = 1 - p
		}
		return p
	}
	chance := make([]float64, steps+1)
	for i := range chance {
		chance[i] = passed(top * float64(i) / steps)
		if i > 0 {
			chance[i] = max(chance[i], chance[i-1])
		}
	}
	at := func(q float64) float64 {
		if q <= chance[0] {
			return 0
		}
		for i := 1; i <= steps; i++ {
			if chance[i] < q {
				continue
			}
			// Between two steps the chance may go all the way: halve.
			low, high := top*float64(i-1)/steps, top*float64(i)/steps
			for high-low > top*2e-5 {
				if mid := (low + high) / 2; passed(mid) < q {
					low = mid
				} else {
					high = mid
				}
			}
			return (low + high) / 2
		}
		return top
	}
	low, high := at(0.158655), at(0.841345)
	return Interval{Value: at(0.5), Sigma: (high - low) / 2, Low: at(0.025), High: at(0.975)}
}

// within is the chance that the vessel, filled to there, lies within tolerance
// cents of the aim.
func (c *Curve) within(fill, poured, tolerance float64) float64 {
	low := c.target * math.Exp(-tolerance*shareNeper)
	high := c.target * math.Exp(tolerance*shareNeper)
	return c.below(high, fill, poured, 0) - c.below(low, fill, poured, 0)
}
