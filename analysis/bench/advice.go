package bench

import (
	"fmt"
	"math"

	"ringwell/analysis"
)

// Step is what to do next.
type Step string

const (
	Sound  Step = "sound"  // strike it, or blow it, as it is now
	Add    Step = "add"    // pour Amount in
	Take   Step = "take"   // take Amount out
	There  Step = "there"  // it lies at the aim
	Again  Step = "again"  // sound it once more: one sound is not enough to say
	Cannot Step = "cannot" // water does not bring it there
)

// Advice is what to do, how far it will get, and how sure that is. Cents are
// above the aim; negative is below.
type Advice struct {
	Step   Step
	Amount float64 // ml to add or to take, of the step the pouring allows; 0 otherwise
	Sigma  float64 // ml: how well the amount to the aim is known, one standard deviation
	Teach  bool    // the amount stops short on purpose, where a sound teaches most
	Chance float64 // that it lies within the tolerance: now, or after the amount

	Fill    float64  // ml in it now, as entered
	Now     Interval // cents above the aim now; zero before the first sound
	Aim     Interval // ml in it at the aim
	Within  float64  // cents either way that count as there
	Promise float64  // cents either way that this pouring comes to in nine of ten
	Empty   Interval // cents above the aim when empty
	Full    Interval // and when as full as it may be
	Path    []Point  // the curve
	Parts   []Part   // every partial followed
	Doubt   string   // a question: what was heard does not fit what is meant; "" for none

	Says  string // big plain words with one number
	Words string // what else there is to say; "" for nothing
}

// Point is one fill of the curve.
type Point struct {
	Fill float64 // ml
	At   Interval
}

const (
	sureThere  = 0.8  // chance from which it is called there
	nearThere  = 0.7  // the same, where no pour would raise it
	tryAim     = 0.55 // chance from which the whole amount is poured at once
	mayPass    = 0.15 // chance of passing the aim that a teaching fill may have
	pathPoints = 40
)

// Advise works everything out from a job and its entries, which must have
// passed Check and CheckEntries.
func Advise(j Job, entries []Entry) Advice { return advise(j, entries, true) }

// advise is Advise; without all it leaves out the path and the partials.
func advise(j Job, entries []Entry, all bool) Advice {
	a := Advice{Step: Sound, Within: j.Aim.within()}
	if len(entries) == 0 {
		a.say(j, nil)
		return a
	}
	c := NewCurve(j, entries)
	a.Fill = c.fill
	top := j.Capacity - j.least()
	a.Now, a.Aim = c.At(c.fill, 0, 0), c.Fill()
	a.Empty, a.Full = c.At(0, 0, 0), c.At(top, 0, 0)
	steep := c.steepness()
	a.Promise = max(a.Within, steep*j.Pouring.Bound(0))
	a.Within = max(a.Within, a.Promise)
	if all {
		for i := range pathPoints + 1 {
			fill := top * float64(i) / pathPoints
			a.Path = append(a.Path, Point{fill, c.At(fill, 0, 0)})
		}
	}
	a.decide(c, entries)
	if all && j.Way == Struck {
		a.Parts = parts(j, entries, a.Aim)
	}
	a.Doubt = doubt(j, entries)
	a.say(j, c)
	return a
}

func (a *Advice) decide(c *Curve, entries []Entry) {
	j, top := c.job, c.job.Capacity-c.job.least()
	now := c.within(c.fill, 0, a.Within)
	measured := math.Abs(c.cents(c.seen[len(c.seen)-1].t)) <= a.Within
	switch {
	case now >= sureThere && measured:
		a.Step, a.Chance = There, now
		return
	case a.beyond(j):
		a.Step = Cannot
		return
	}
	step := j.Pouring.step()
	to := min(max(a.Aim.Value, 0), top)
	amount := math.Round((to-c.fill)/step) * step
	sounds := 0 // of this fill
	for i := len(entries) - 1; i >= 0; i-- {
		sounds++
		if entries[i].Added != 0 {
			break
		}
	}
	hit := c.within(c.fill+amount, sq(j.Pouring.sigma(amount)), a.Within)
	a.Sigma = a.Aim.Sigma
	if amount == 0 || measured && hit < now+0.05 {
		a.Step, a.Chance = Again, now
		if now >= nearThere && measured || sounds >= 4 {
			a.Step = There // more sounds or water would not tell or mend it
		}
		return
	}
	if hit < tryAim && amount > 2*step && len(entries) < 6 {
		if t := c.teaches(a, c.fill+amount); t > c.fill+2*step && t < to {
			amount, a.Teach = math.Round((t-c.fill)/step)*step, true
			hit = c.within(c.fill+amount, sq(j.Pouring.sigma(amount)), a.Within)
		}
	}
	a.Chance = hit
	a.Step, a.Amount = Add, amount
	if amount < 0 {
		a.Step, a.Amount = Take, -amount
	}
}

// beyond reports whether the aim surely lies past either end of the vessel.
func (a *Advice) beyond(j Job) bool {
	low, high := a.Full, a.Empty
	if j.Way == Blown {
		low, high = a.Empty, a.Full
	}
	return high.High < -a.Within || low.Low > a.Within
}

// laid is, for each law, where it puts the aim and how steep the pitch is there.
type laid struct{ fill, steep float64 }

func (c *Curve) lay() []laid {
	const steps = 48
	top := c.job.Capacity - c.job.least()
	out := make([]laid, len(c.laws))
	for i := range c.laws {
		l := &c.laws[i]
		before, _ := l.at(0, 0, c.work)
		out[i] = laid{top * 1.05, 0}
		for k := 1; k <= steps; k++ {
			fill := top * float64(k) / steps
			m, _ := l.at(fill, 0, c.work)
			passed := m >= c.target
			if c.job.Way == Blown {
				passed = m <= c.target
			}
			if passed || k == steps {
				share := 1.0
				if m != before {
					share = min(max((c.target-before)/(m-before), 0), 1)
				}
				if passed {
					out[i].fill = fill - (1-share)*top/steps
				}
				out[i].steep = math.Abs(c.cents(m)-c.cents(before)) / (top / steps)
				break
			}
			before = m
		}
	}
	return out
}

// steepness is how many cents a millilitre moves the pitch at the aim; four
// times in five it is less.
func (c *Curve) steepness() float64 {
	all := c.lay()
	low, high := 0.0, 0.0
	for _, l := range all {
		high = max(high, l.steep)
	}
	for range 40 {
		at, p := (low+high)/2, 0.0
		for i, l := range all {
			if l.steep <= at {
				p += c.laws[i].weight
			}
		}
		if p < 0.8 {
			low = at
		} else {
			high = at
		}
	}
	return high
}

// teaches is the fill, up to most, at which a sound leaves the least doubt where
// the aim lies, and that is unlikely to be past the aim. The doubt left is what
// a line through the laws (pitch there, fill at the aim) does not explain.
func (c *Curve) teaches(a *Advice, most float64) float64 {
	all := c.lay()
	limit := c.fill
	const tries = 24
	best, least := 0.0, math.Inf(1)
	noise := sq(shareNeper * c.job.scatter())
	for k := 1; k <= tries; k++ {
		fill := c.fill + (most-c.fill)*float64(k)/tries
		passed := c.below(c.target, fill, 0, 0)
		if c.job.Way == Struck {
			passed = 1 - passed
		}
		if passed > mayPass {
			break
		}
		limit = fill
		var y, w, yy, yw, ww, v float64
		for i, l := range all {
			p := c.laws[i].weight
			m, vi := c.laws[i].at(fill, sq(c.job.Pouring.sigma(fill-c.fill)), c.work)
			y, w = y+p*m, w+p*l.fill
			yy, yw, ww, v = yy+p*m*m, yw+p*m*l.fill, ww+p*l.fill*l.fill, v+p*vi
		}
		cov := yw - y*w
		left := ww - w*w - cov*cov/(yy-y*y+v+noise*y*y)
		if left <= least {
			best, least = fill, left
		}
	}
	// In the air the law is all but a line: farther always teaches more.
	if best == 0 || c.job.Way == Blown {
		return limit
	}
	return best
}

// doubt asks about the latest sound: water lowers what is struck and raises what
// is blown, and no scatter turns that round; and without water nothing moves.
func doubt(j Job, entries []Entry) string {
	n := len(entries)
	if n < 2 {
		return ""
	}
	a, b := entries[n-2], entries[n-1]
	moved := float64(b.Heard.Above(a.Heard))
	doubtful := 10 + 4*j.scatter()
	if j.Rounding > 0 {
		doubtful += analysis.CentsPerNeper * float64(j.Rounding/b.Heard)
	}
	if b.Added < 0 {
		moved = -moved
	}
	switch {
	case b.Added == 0 && math.Abs(moved) > doubtful+2*math.Hypot(float64(a.Sigma), float64(b.Sigma)):
		return fmt.Sprintf("Without any water that is %s c from the sound before. Was it another place, another beater or another thing? Then undo this entry and sound it as before.", whole(math.Abs(moved)))
	case b.Added == 0:
		return ""
	case j.Way == Struck && moved > doubtful:
		return "The pitch went up with water: that is the air, not the wall. Was it blown this time? Then undo this entry and strike it, or begin again with blown."
	case j.Way == Blown && moved < -doubtful:
		return "The pitch went down with water: that is the wall, not the air. Was it struck this time? Then undo this entry and blow it, or begin again with struck."
	}
	return ""
}

// Quick is Advise without the path and the partials, for many vessels at once.
func Quick(j Job, entries []Entry) Advice { return advise(j, entries, false) }
