package listen

import (
	"fmt"
	"math"

	"ringwell/analysis"
	"ringwell/analysis/onset"
)

const (
	// rollGap is the longest time, in seconds, between strokes that begin a
	// roll. Strikes 120 ms apart are strikes; a roll of ten a second whose
	// strokes come 5 % early and late has few gaps beyond it.
	rollGap = 0.115
	// rollStrokes make a roll: three are a ruff, an ornament before a strike.
	rollStrokes = 4
	// rollSkip is how many times its mean gap a roll may pause: one stroke may
	// have been too soft to be heard.
	rollSkip = 2.2
	// tellSeconds after an onset it is known, unless it wants a second look.
	tellSeconds = 0.030
)

// strokes are events that follow the open strike's onset so closely that they
// may be strokes of one roll. They wait here until there are enough, or no more.
type strokes struct {
	events [rollStrokes - 2]onset.Event
	n      int
}

// rolling is a roll under way.
type rolling struct {
	on   bool
	last onset.Event
	tell int // strokes at which it is told again

	// Sums over the strokes of their number k, those not heard counted, and
	// their time t in seconds after the first.
	n, k                  int
	sk, skk, st, skt, stt float64
}

// rolled is what a strike that was a roll is told with.
type rolled struct {
	roll  analysis.Roll
	first analysis.Strike // as the first stroke was told
}

// put makes a telling of the last stroke one of the roll.
func (r *rolled) put(s *analysis.Strike) {
	roll := r.roll
	s.Roll = &roll
	s.Onset, s.Time, s.From = r.first.Onset, r.first.Time, r.first.From
	s.Peak = max(s.Peak, r.first.Peak)
	s.Remarks = append(s.Remarks, analysis.Remark{Code: analysis.RemarkRoll, Words: rollWords(roll)})
}

// rollWords gives the rate no digit its uncertainty does not carry.
func rollWords(r analysis.Roll) string {
	if r.SigmaRate < 0.5 {
		return fmt.Sprintf("a roll of %d strokes, %.1f a second", r.Strokes, r.Rate)
	}
	return fmt.Sprintf("a roll of %d strokes, about %.0f a second", r.Strokes, r.Rate)
}

// joins takes in an event as a stroke of a roll, or of what may become one.
func (e *Ear) joins(v onset.Event) bool {
	switch {
	case !e.open || e.take.held:
		return false
	case e.roll.on:
		if v.At > e.rollEnd() {
			return false
		}
		e.stroke(v)
	case v.At > e.strokesEnd():
		return false
	case e.strokes.n < len(e.strokes.events):
		e.strokes.events[e.strokes.n] = v
		e.strokes.n++
	default:
		e.roll = rolling{on: true, tell: rollStrokes}
		e.roll.add(0, 0, e.rate)
		for _, s := range e.strokes.events {
			e.stroke(s)
		}
		e.strokes.n = 0
		e.stroke(v)
	}
	return true
}

// corrects reports whether an event that takes the place of the one before it
// was one of a stroke but the first.
func (e *Ear) corrects(v onset.Event) bool {
	switch {
	case e.roll.on && v.At-e.roll.last.At < e.samples(deadStroke):
		e.roll.last.Strength = v.Strength
	case e.strokes.n > 0 && v.At-e.lastStroke() < e.samples(deadStroke):
		e.strokes.events[e.strokes.n-1] = v
	default:
		return false
	}
	return true
}

// deadStroke is how soon, in seconds, an event may take the place of another:
// see onset.Event.
const deadStroke = 0.060

// lastStroke is the index of the newest stroke that is no roll yet.
func (e *Ear) lastStroke() int64 {
	if n := e.strokes.n; n > 0 {
		return e.strokes.events[n-1].At
	}
	return e.take.strike.Onset
}

// strokesEnd is the index up to which another stroke may still belong to the
// same roll as those that wait. Of three, the gap is known, and the next may
// have been too soft to be heard.
func (e *Ear) strokesEnd() int64 {
	last, gap := e.lastStroke(), e.samples(rollGap)
	if n := e.strokes.n; n == len(e.strokes.events) {
		gap = max(gap, int64(rollSkip*float64(last-e.take.strike.Onset)/float64(n)))
	}
	return last + gap
}

// limit is how far the open strike may be read when something began at an
// index: a little less, and no further than its own second stroke.
func (e *Ear) limit(at int64) int64 {
	if e.strokes.n > 0 {
		at = min(at, e.strokes.events[0].At)
	}
	return at - e.samples(cutSeconds)
}

// stroke adds a stroke to the roll under way, and tells it each time it has
// twice as many.
func (e *Ear) stroke(v onset.Event) {
	r := &e.roll
	t := &e.take
	step := 1
	if r.k > 0 {
		mean := float64(r.last.At-t.strike.Onset) / float64(r.k)
		step = max(1, int(math.Round(float64(v.At-r.last.At)/mean)))
	}
	r.add(r.k+step, v.At-t.strike.Onset, e.rate)
	r.last = v
	t.end = v.At
	a := t.course.last
	if r.n < r.tell {
		return
	}
	r.tell *= 2
	if t.course.told == nil || a.heard == nil {
		return
	}
	second := a.second
	if apart(a.heard, t.course.told) > jumpCents {
		second = t.course.told
	}
	t.whole = &rolled{roll: r.is(), first: t.strike}
	t.course.told = a.heard
	e.tell(analysis.Early, a.heard, second)
}

// add counts stroke k, at an index after the first.
func (r *rolling) add(k int, after int64, rate analysis.Rate) {
	x, t := float64(k), rate.Seconds(after)
	r.n, r.k = r.n+1, k
	r.sk, r.skk, r.st, r.skt, r.stt = r.sk+x, r.skk+x*x, r.st+t, r.skt+x*t, r.stt+t*t
}

// is returns the roll so far. The rate is the slope of the straight line
// through the strokes' times by least squares, its sigma what they scatter
// about it.
func (r *rolling) is() analysis.Roll {
	n := float64(r.n)
	kk := r.skk - r.sk*r.sk/n
	kt := r.skt - r.sk*r.st/n
	tt := r.stt - r.st*r.st/n
	gap := kt / kk
	sigma := math.Sqrt(max(0, tt-gap*kt) / (n - 2) / kk)
	return analysis.Roll{Strokes: r.n, Last: r.last.At, Rate: 1 / gap, SigmaRate: sigma / (gap * gap)}
}

// rollEnd is the index up to which another stroke still belongs to the roll.
func (e *Ear) rollEnd() int64 {
	r := &e.roll
	mean := float64(r.last.At-e.take.strike.Onset) / float64(r.k)
	return r.last.At + max(e.samples(rollGap), int64(rollSkip*mean))
}

// parting decides, hop by hop, about strokes that wait and about a roll's end.
// It reports whether there is nothing else to do with the open strike.
func (e *Ear) parting() bool {
	late := e.sound.to - e.samples(tellSeconds)
	switch {
	case e.doubted:
	case e.roll.on && late > e.rollEnd():
		e.part()
	case e.strokes.n > 0 && late > e.strokesEnd():
		e.part()
	}
	return e.roll.on
}

// part ends a roll, which leaves the ring of its last stroke to be read, or
// makes strikes of strokes that are none.
func (e *Ear) part() {
	if e.roll.on {
		e.rolled()
		return
	}
	waiting := e.strokes
	e.strokes.n = 0
	for _, v := range waiting.events[:waiting.n] {
		e.replace(v)
	}
}

// rolled opens the ring after a roll's last stroke as the rest of the same
// strike. What the strokes left ringing is one ring by now, with the object's
// own poles, so nothing of them is taken out of it; and what rang before the
// first cannot be brought up to date by the sound of a roll.
func (e *Ear) rolled() {
	t := &e.take
	first, told, last := t.strike, t.course.told, e.roll.last
	e.roll.on = false
	e.rings.blow(first.Onset-e.samples(armSeconds), last.At)
	e.last = last.At
	whole := &rolled{roll: e.roll.is(), first: first}
	e.begin(last)
	t.whole = whole
	t.strike.ID, t.strike.Revision = first.ID, first.Revision
	t.course.told = told
	e.tones.reset(e.sound.to)
}
