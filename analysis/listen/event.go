package listen

import (
	"ringwell/analysis"
	"ringwell/analysis/onset"
	"ringwell/analysis/partial"
)

// hear decides what an event is.
func (e *Ear) hear(v onset.Event) {
	if e.doubted {
		e.decide()
	}
	switch {
	case v.End:
		e.breakOff(v.At)
	case v.Instead && e.corrects(v):
	case e.roll.on:
		e.strikeAt(v) // no model says what a stroke amid others should sound like
	case v.Instead && e.open && v.At-e.take.strike.Onset < e.samples(0.060) && e.take.strike.Revision == 0:
		e.drop()
		e.begin(v)
	case e.open && e.take.held && v.Strength < weak:
		// Breath is restless.
	case v.Strength < plain && (e.open || len(e.rings.list) > 0):
		e.doubt, e.doubted = v, true
	default:
		e.strikeAt(v)
	}
}

// breakOff ends the open strike where its sound broke off.
func (e *Ear) breakOff(at int64) {
	t := &e.take
	if !e.open || t.held || at <= t.strike.Onset {
		return
	}
	e.grow(at)
	if !e.open {
		return
	}
	if n := at - t.strike.Onset; n < t.length() {
		// A window was read that reached beyond the end.
		t.sound, t.known = t.sound[:n], false
		t.reading = partial.Reading{}
		e.estimator.Begin(e.background())
	}
	e.finish(at, &analysis.Remark{Code: analysis.RemarkDamped, Words: "the sound broke off; what came before is measured"})
}

// strikeAt takes in a strike that was found. What may be a stroke of a roll
// waits until that is known.
func (e *Ear) strikeAt(v onset.Event) {
	if e.joins(v) {
		return
	}
	e.part()
	e.replace(v)
}

// replace ends the strike before and opens the one found.
func (e *Ear) replace(v onset.Event) {
	if e.open {
		e.grow(v.At - e.samples(cutSeconds))
	}
	if e.open {
		e.finish(max(e.take.strike.Onset, v.At-e.samples(cutSeconds)), &analysis.Remark{
			Code: analysis.RemarkStruckAgain, Words: "another strike cut the ring short"})
	}
	e.begin(v)
}

// decide takes the second look at a doubtful event: is there a rise in what the
// rings do not explain?
func (e *Ear) decide() {
	v := e.doubt
	e.doubted = false
	from := max(v.At-e.samples(lookSeconds), e.sound.from)
	to := min(v.At+e.samples(lookSeconds), e.sound.to)
	if to <= from {
		return
	}
	rest := make([]float64, to-from)
	ring := make([]float64, to-from)
	e.sound.copy(rest, from)
	e.rings.takeOut(ring, from)
	if e.open {
		e.grow(e.limit(v.At))
	}
	if e.open {
		if end := e.limit(v.At); e.rate.Seconds(end-e.take.strike.Onset) >= shortest {
			e.extend(end)
			e.judge(e.read())
		}
	}
	if e.open {
		at := int(from - e.take.strike.Onset)
		for i := range ring {
			ring[i] = -ring[i]
		}
		partial.Render(ring, at, e.take.reading.Ring)
		for i := range ring {
			ring[i] = -ring[i]
		}
	}
	after := int(v.At - from)
	louder := power(rest[after:]) > power(rest[:after])
	whole := max(power(rest[after:]), power(ring[after:]))
	for i := range rest {
		rest[i] += ring[i]
	}
	if v.Strength < faint && !louder || v.Strength < weak && power(rest[after:]) < leftOver*whole {
		return
	}
	if e.finder.Rise(rest, ring) >= 1 {
		e.strikeAt(v)
	}
}
