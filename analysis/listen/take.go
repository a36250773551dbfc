package listen

import (
	"math"
	"slices"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/hearing"
	"ringwell/analysis/onset"
	"ringwell/analysis/partial"
)

const (
	longest      = 4 * time.Second // of a strike that is listened to
	leadSeconds  = 0.25            // kept before it
	cutSeconds   = 0.004           // left out before the next strike: its arm may be heard
	shortest     = 0.020           // seconds that say anything at all
	armSeconds   = 0.002           // before an onset that are no background any more
	levelSeconds = 0.05            // of sound that say what a silent input reads
	cleanOver    = 4.0             // times the background a model may leave
	leastFloor   = 1e-14           // of full scale: nothing is quieter
	blowSeconds  = 0.045           // after it in which the blow itself is heard

	overDB      = 60.0 // a ring is over when it has sunk by this much ...
	underFloor  = 10.0 // ... or lies this much (dB) under the whole background
	peakSeconds = 0.1

	wholeSeconds = 0.080
	swellT60     = 1.0 // seconds: what swells first and then falls faster than this is a syllable
	wholeSigma   = 0.2 // of T60

	// What an event at the beginning of a stream must show before it is told:
	// nobody heard it begin.
	startExplained = 0.8
	startT60       = 30.0 // seconds: what rings longer may as well be hum ...
	startShort     = 0.5  // ... unless so few seconds are all there is: a cut sample
	startFallDB    = 10.0
)

// windows are the lengths of sound after the onset at which a strike is read,
// in milliseconds. Each about doubles the information of the one before; the
// first three are closer because an answer within 80 ms needs two that agree.
var windows = [...]int{20, 26, 40, 80, 160, 320, 640, 1280, 2560, 4000}

// take is a strike while it is listened to.
type take struct {
	strike  analysis.Strike
	start   bool      // an onset.Event with Start
	sound   []float64 // from the onset on, without earlier rings; the capacity is all it may hold
	steady  float64   // what a silent input reads
	window  int       // next of windows
	reading partial.Reading
	course  course
	over    int64 // samples after the onset at which the ring is over
	known   bool  // longer windows add nothing
	held    bool  // a tone that is held, not a ring: the periodic way
	next    int64 // held: samples after the onset at which it is read again
	end     int64 // of its sound so far, on the clock
	tone    run   // that began with it
}

// length is how many samples of it have been taken in.
func (t *take) length() int64 { return int64(len(t.sound)) }

// due returns how many samples the next window needs, at most the longest.
func (e *Ear) due(t *take) int64 {
	most := int64(cap(t.sound))
	if t.window >= len(windows) {
		return most
	}
	return min(most, int64(e.rate.Samples(time.Duration(windows[t.window])*time.Millisecond)))
}

// begin opens a strike at an event.
func (e *Ear) begin(v onset.Event) {
	e.open = true
	e.calm = 0
	t := &e.take
	*t = take{sound: t.sound[:0], start: v.Start, over: math.MaxInt64, end: v.At}
	t.strike = analysis.Strike{
		Source:   e.options.Source,
		Rate:     e.rate,
		Onset:    v.At,
		Time:     e.options.Epoch.Add(e.rate.Duration(v.At)).UTC(),
		From:     max(v.At-e.samples(leadSeconds), e.sound.from),
		ClockPPM: e.options.ClockPPM,
	}
	e.room.learn(&e.sound)
	lead := v.At - e.samples(armSeconds)
	e.rings.advance(&e.sound, lead)
	e.rings.prune(v.At, e.floorAt)
	e.before = e.rings.before(e.before[:0], lead)
	t.steady = e.level(lead)
	for i := range e.before {
		e.before[i] -= t.steady
	}
	e.rings.anchor(&e.sound, e.last, v.At, t.steady, mean(e.room.psd))
	e.last = v.At
	e.rings.blow(v.At-e.samples(armSeconds), v.At+e.samples(blowSeconds))
	e.estimator.Begin(partial.Take{Rate: e.rate, Before: e.before, Floor: e.room.psd, LSB: e.options.LSB})
}

// level returns what a silent input reads: the mean of the last second before a
// moment, in which whatever rings is as often above as below it.
func (e *Ear) level(at int64) float64 {
	from := max(at-int64(e.rate), e.sound.from)
	if float64(at-from) < levelSeconds*float64(e.rate) {
		return 0
	}
	x := e.work[:at-from]
	e.sound.copy(x, from)
	return mean(x)
}

func mean(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// extend takes in the sound of the open strike up to an index on the clock.
func (e *Ear) extend(to int64) {
	t := &e.take
	n := len(t.sound)
	to = min(to, t.strike.Onset+int64(cap(t.sound)))
	more := int(to - t.strike.Onset - int64(n))
	if more <= 0 {
		return
	}
	t.sound = t.sound[:n+more]
	t.end = to
	x := t.sound[n:]
	at := t.strike.Onset + int64(n)
	e.sound.copy(x, at)
	head := int(e.samples(peakSeconds)) - n
	for i, v := range x {
		if i < head {
			t.strike.Peak = max(t.strike.Peak, math.Abs(v))
		}
		x[i] = v - t.steady
	}
	e.rings.takeOut(x, at)
}

// read reads all of the strike's sound so far and returns what it says.
func (e *Ear) read() answer {
	t := &e.take
	t.reading = e.estimator.Grow(t.sound)
	r := &t.reading
	t.strike.Used = e.rate.Seconds(t.length())
	e.rings.disown(r, t.strike.Used)
	t.strike.Partials = r.Partials
	a := answer{seconds: t.strike.Used, explained: r.Explained}
	if r.Pitched && len(r.Partials) > 0 {
		a.heard, a.second = hearing.Heard(r.Partials, e.options.Kind)
	} else {
		a.heard = e.repeats()
	}
	if a.heard != nil && a.heard.Partial >= 0 {
		a.t60 = t.strike.Partials[a.heard.Partial].T60
	}
	if r.FirstDB < -slowAttackDB && a.t60 > 0 && a.t60 < swellT60 {
		a.heard, a.second = nil, nil
	}
	t.over = math.MaxInt64
	if a.heard != nil {
		t.over = e.ringOver(r.Ring)
		if r.Broke > 0 {
			t.over = min(t.over, int64(r.Broke))
		}
	}
	return a
}

// repeats returns the pitch of an open strike whose sound repeats itself ever
// since, though its model does not explain it: a bar whose resonator takes a
// tenth of a second to answer, say. It rests on the partial at that place if
// there is one.
func (e *Ear) repeats() *analysis.Pitch {
	s := &e.take.strike
	if len(e.rings.list) > 0 {
		return nil // it may be an earlier thing that repeats itself
	}
	for _, r := range [...]run{e.tones.last, e.tones.run} {
		if r.n > 0 && r.from >= s.Onset && r.from <= s.Onset+e.samples(peakSeconds) {
			e.take.tone = r
		}
	}
	if e.rate.Seconds(e.take.tone.to-e.take.tone.from) < toneSeconds {
		return nil
	}
	p, partials, ok := e.tones.read(&e.sound, e.take.tone)
	if !ok {
		return nil
	}
	for i, q := range s.Partials {
		if math.Abs(float64(q.Frequency.Above(p.Frequency))) < 3*math.Hypot(float64(q.Sigma), float64(p.Sigma)) {
			p.Partial = i
			return &p
		}
	}
	s.Partials = partials
	return &p
}

// ringOver returns how many samples after the onset a ring has sunk by overDB
// or under the background.
func (e *Ear) ringOver(model []partial.Component) int64 {
	power := func(n float64) float64 {
		p := 0.0
		for _, c := range model {
			a := real(c.Amp)*real(c.Amp) + imag(c.Amp)*imag(c.Amp)
			p += a / 2 * math.Exp(-2*c.Decay*n)
		}
		return p
	}
	end := max(power(0)*math.Pow(10, -overDB/10), mean(e.room.psd)*math.Pow(10, -underFloor/10))
	step := float64(e.rate) / 50
	most := float64(cap(e.take.sound))
	n := step
	for n < most && power(n) > end {
		n += step
	}
	return int64(min(n, most))
}

// grow reads the open strike as far as windows are due, but not beyond limit
// (an index on the clock), and ends it when its ring is over.
func (e *Ear) grow(limit int64) {
	for e.open && !e.take.held {
		t := &e.take
		due := e.due(t)
		end := min(due, t.over)
		if t.strike.Onset+end > limit {
			return
		}
		if end < due || end == int64(cap(t.sound)) {
			e.finish(t.strike.Onset+end, nil)
			return
		}
		e.extend(t.strike.Onset + due)
		t.window++
		if !t.known {
			e.judge(e.read())
		}
	}
}

// judge tells what a window has to say.
func (e *Ear) judge(a answer) {
	t := &e.take
	if t.start && a.heard != nil && !e.begun(a) {
		a.heard, a.second = nil, nil
	}
	v := t.course.next(a)
	if v.stage == analysis.Withdrawn && e.tones.may() {
		return // it is becoming a tone
	}
	if v.tell {
		e.tell(v.stage, a.heard, v.second)
	}
	t.known = v.stage == analysis.Settled && e.whole(a)
	if v.stage == analysis.Withdrawn {
		e.drop()
	} else if t.course.told == nil && t.course.unpitched >= unpitchedEnough && a.seconds >= 2*refuseSeconds && !e.tones.may() {
		e.finish(t.strike.Onset+t.length(), nil)
	}
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

func power(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(max(1, len(x)))
}

func decibel(ratio float64) float64 { return 10 * math.Log10(ratio) }

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
	e.company.note(t.strike.Onset, a.heard != nil)
	if remark != nil {
		t.reading.Remarks = append(t.reading.Remarks, *remark)
	}
	if a.heard != nil || !t.start {
		// The ring of what has no pitch goes out of what follows all the same.
		e.rings.add(t.strike.Onset, t.reading.Ring)
	}
	if !e.clean() {
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

// clean reports whether the model of the open strike leaves no more than the
// background. If not, what it leaves is no background for later strikes: the
// same object struck again would be taken for something that sounded before.
func (e *Ear) clean() bool {
	t := &e.take
	from := min(int(e.samples(blowSeconds)), len(t.sound))
	rest := e.work[:copy(e.work, t.sound[from:])]
	for _, c := range t.reading.Ring {
		c.Amp = -c.Amp
		e.one[0] = c
		partial.Render(rest, from, e.one[:])
	}
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
	s.Remarks = slices.Clone(e.take.reading.Remarks)
	s.To = e.take.end
	e.told = append(e.told, *s)
}
