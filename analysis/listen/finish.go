package listen

import (
	"math"
	"slices"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

const (
	cleanOver = 4.0 // times the background a model may leave

	// The ring of the partial heard has been heard whole when its T60 has
	// passed and is known so well; never sooner than wholeSeconds, when a ring
	// time may still be the blow's.
	wholeSeconds = 0.080
	wholeSigma   = 0.2 // of T60

	// What an event at the beginning of a stream must show before it is told:
	// nobody heard it begin.
	startExplained = 0.8
	startT60       = 30.0 // seconds: what rings longer may as well be hum ...
	startShort     = 0.5  // ... unless so few seconds are all there is: a cut sample
	startFallDB    = 10.0
)

// begun reports whether what sounded at the beginning of the stream was struck
// there: almost all of it rings, and it falls. A sample cut so short that
// neither shows is taken at its word.
func (e *Ear) begun(a answer) bool {
	t := &e.take
	cut := e.ending && a.seconds < startShort
	explained := a.heard.Basis == analysis.Periodic || a.explained >= startExplained
	if explained && (cut || a.t60 > 0 && a.t60 < startT60) {
		return true
	}
	n := e.rate.Samples(30 * time.Millisecond)
	loudest := 0.0
	for at := 0; at+n <= len(t.sound); at += n {
		loudest = max(loudest, power(t.sound[at:at+n]))
	}
	if loudest == 0 {
		return false
	}
	return decibel(loudest/power(t.sound[len(t.sound)-n:])) >= startFallDB
}

// whole reports whether all of the ring of the partial heard has been heard.
// What a longer window would add is the room's ring and other things'.
func (e *Ear) whole(a answer) bool {
	if a.heard.Partial < 0 || a.seconds < wholeSeconds {
		return false
	}
	p := e.take.strike.Partials[a.heard.Partial]
	return p.T60 > 0 && p.T60 <= a.seconds && p.SigmaT60 < wholeSigma*p.T60
}

// finish reads the open strike once more, up to end, and tells it as final.
func (e *Ear) finish(end int64, remark *analysis.Remark) {
	t := &e.take
	if t.held {
		e.release(end, remark)
		return
	}
	e.extend(end)
	a := t.course.last
	if e.rate.Seconds(t.length()) >= shortest && t.length() > int64(t.reading.N) && !t.known {
		before := t.strike
		a = e.read()
		if t.start && a.heard != nil && !e.begun(a) {
			a.heard, a.second = nil, nil
		}
		if v := t.course.next(a); v.second != nil && a.second == nil {
			a.second = v.second
		}
		// One window that says no against two that agreed is not enough.
		if a.heard == nil && before.Stage == analysis.Settled && t.course.unpitched < unpitchedEnough {
			a.heard, a.second = before.Heard, before.Second
			t.strike.Partials = before.Partials
		}
	}
	if a.heard != nil && !e.firm(a, remark != nil) {
		a.heard, a.second = nil, nil
	}
	e.moves(&a)
	e.company.note(t.strike.Onset, a.heard != nil)
	if a.heard != nil {
		if r := e.two(&a); r != nil {
			t.reading.Remarks = append(t.reading.Remarks, *r)
		}
		if r := e.again(); r != nil {
			t.reading.Remarks = append(t.reading.Remarks, *r)
		}
		e.recent.note(t.strike.Onset, e.stopped(end, remark), t.strike.Partials)
	}
	if remark != nil {
		t.reading.Remarks = append(t.reading.Remarks, *remark)
	}
	if a.heard != nil || !t.start {
		// The ring of what has no pitch goes out of what follows all the same.
		e.rings.add(t.strike.Onset, e.stopped(end, remark), t.reading.Ring)
	}
	// What sounded as the stream began, and was no strike, is the background.
	if (a.heard != nil || !t.start) && !e.clean() {
		e.rings.blow(t.strike.Onset, t.strike.Onset+t.length()+e.samples(cutSeconds))
	}
	switch {
	case a.heard != nil:
		e.tell(analysis.Final, a.heard, a.second)
	case t.strike.Revision > 0:
		e.tell(analysis.Withdrawn, nil, nil)
	case !t.start:
		t.strike.Partials = nil
		e.tell(analysis.Final, nil, nil)
	}
	e.drop()
}

// stopped returns where the ring of the open strike was stopped, by a hand or by
// the end of its sound; far in the future where it was not.
func (e *Ear) stopped(end int64, remark *analysis.Remark) int64 {
	switch {
	case remark != nil && remark.Code == analysis.RemarkDamped:
		return end
	case e.take.reading.Broke > 0:
		return e.take.strike.Onset + int64(e.take.reading.Broke)
	}
	return math.MaxInt64
}

// clean reports whether the model of the open strike leaves no more than the
// background. If not, what it leaves is no background for later strikes: the
// same object struck again would be taken for something that sounded before.
func (e *Ear) clean() bool {
	t := &e.take
	from := min(int(e.samples(blowSeconds)), len(t.sound))
	rest := e.work[:len(t.sound)-from]
	for i, v := range t.sound[from:] {
		rest[i] = -v
	}
	partial.Render(rest, from, t.reading.Ring)
	return power(rest) <= cleanOver*max(mean(e.room.psd), e.options.LSB*e.options.LSB/12, leastFloor)
}

// drop lets go of the open strike.
func (e *Ear) drop() {
	e.open = false
	e.calm = 0
}

// tell adds a telling of the open strike.
func (e *Ear) tell(stage analysis.Stage, heard, second *analysis.Pitch) {
	s := &e.take.strike
	if s.ID == "" {
		s.ID = e.options.NewID(s.Time)
	}
	s.Revision++
	s.Stage, s.Heard, s.Second = stage, heard, second
	e.take.settled = e.take.settled || stage == analysis.Settled
	s.Remarks = slices.Clone(e.take.reading.Remarks)
	s.To = e.take.end
	e.told = append(e.told, *s)
	if e.take.whole != nil {
		e.take.whole.put(&e.told[len(e.told)-1])
	}
}
