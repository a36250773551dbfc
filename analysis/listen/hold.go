package listen

import (
	"ringwell/analysis"
	"ringwell/analysis/onset"
)

const (
	heldSeconds   = 6.0  // after which a tone that goes on is told as another
	firstHeld     = 0.35 // of a tone before it is first told; then twice as long each time
	slowAttackDB  = 6.0  // what is struck is loudest within 24 ms, to within this
	heldShare     = 0.7  // of its largest amplitude a tone still has after toneSeconds
	longHeld      = 0.6  // seconds at that level are no ring, however it began
	sureSeconds   = 0.15 // of sound after which a pitch found in the partials will do
	attackSeconds = 0.4  // a blow at most so long before the run of a tone began it
)

// hold follows tones that are held. It opens a strike for one that has lasted,
// reads it again as it goes on, and ends it when it stops.
func (e *Ear) hold(limit int64) {
	t := &e.take
	sure := t.reading.Pitched && t.reading.FirstDB >= -slowAttackDB/2 && t.reading.N >= int(e.samples(sureSeconds))
	wanted := !e.open || t.held || !sure
	room := 0.0
	if e.room.psd != nil {
		room = mean(e.room.psd)
	}
	e.tones.follow(&e.sound, room, wanted)
	switch {
	case !e.tones.is():
		if e.open && t.held {
			e.finish(min(limit, e.toneEnd), nil)
		}
	case !e.open && !e.fresh():
		return
	case !e.open:
		e.begin(onset.Event{At: max(e.tones.began, e.tones.run.from-e.samples(attackSeconds), e.sound.from)})
		e.take.held = true
	case !t.held:
		t.held = e.sustained()
	}
	if !e.open || !e.take.held || !e.tones.is() {
		return
	}
	e.toneEnd = e.tones.run.to + e.samples(pieceSeconds)
	since := e.sound.to - t.strike.Onset
	if since >= e.samples(heldSeconds) {
		e.finish(limit, nil)
		e.tones.end()
		return
	}
	if since >= max(t.next, e.samples(firstHeld)) {
		t.next = 2 * since
		if p, partials, ok := e.tones.read(&e.sound, e.tones.run); ok {
			e.sing(p, partials, e.sound.to)
		}
	}
}

// fresh reports whether a tone is no remainder of something else: it was quiet
// before it, and nothing struck still rings.
func (e *Ear) fresh() bool {
	if !e.tones.quiet {
		return false
	}
	e.rings.advance(&e.sound, e.sound.to)
	e.rings.prune(e.sound.to, e.floorAt)
	return len(e.rings.list) == 0
}

// sustained reports whether the open strike is a tone that is held after all.
// What is struck is loudest at once and falls; where a model of falling partials
// explains the sound it has the first say.
func (e *Ear) sustained() bool {
	t, r := &e.take, &e.tones.run
	after := r.from - t.strike.Onset
	if len(e.rings.list) > 0 || after < 0 || after > e.samples(attackSeconds) || r.rms < r.most*heldShare {
		return false
	}
	slow := t.reading.FirstDB < -slowAttackDB
	// What sounds on from the first sample may have sounded all along.
	long := r.to-r.from >= e.samples(longHeld) && !t.start
	return slow || long && !t.reading.Pitched && t.reading.Clipped == 0
}

// sing tells a held tone as far as it is known.
func (e *Ear) sing(p analysis.Pitch, partials []analysis.Partial, to int64) {
	t := &e.take
	before := t.course.told
	stage, second := analysis.Early, (*analysis.Pitch)(nil)
	switch {
	case before != nil && apart(&p, before) > jumpCents:
		second = before
	case before != nil && before.Basis == analysis.Periodic && apart(&p, before) <= 3*both(&p, before)+settledSigma:
		stage = analysis.Settled
	}
	t.course.told = &p
	t.reading.Remarks = nil
	e.report(to, partials)
	e.tell(stage, &p, second)
}

// report sets what a telling of a held tone says beside the pitch.
func (e *Ear) report(to int64, partials []analysis.Partial) {
	s := &e.take.strike
	e.extend(min(to, s.Onset+e.samples(peakSeconds)))
	e.take.end = to
	s.Partials = partials
	s.Used = e.rate.Seconds(to - s.Onset)
}

// release ends a held tone.
func (e *Ear) release(end int64, remark *analysis.Remark) {
	t := &e.take
	end = max(end, t.strike.Onset)
	heard := t.course.told
	r := e.tones.run
	if !e.tones.is() {
		r = e.tones.last
	}
	if p, partials, ok := e.tones.read(&e.sound, r); ok {
		heard = &p
		e.report(end, partials)
	}
	t.reading.Remarks = nil
	if remark != nil {
		t.reading.Remarks = []analysis.Remark{*remark}
	}
	t.end = end
	e.rings.blow(t.strike.Onset, end)
	switch {
	case heard != nil:
		e.tell(analysis.Final, heard, nil)
	case t.strike.Revision > 0:
		e.tell(analysis.Withdrawn, nil, nil)
	}
	e.drop()
}
