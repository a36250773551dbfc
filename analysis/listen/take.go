package listen

import (
	"math"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/hearing"
	"ringwell/analysis/onset"
	"ringwell/analysis/partial"
)

const (
	longest     = 4 * time.Second // of a strike that is listened to: half the T60 of what rings eight
	leadSeconds = 0.25            // kept before it
	cutSeconds  = 0.004           // left out before the next strike: its arm may be heard
	shortest    = 0.020           // seconds that say anything at all
	armSeconds  = 0.002           // before an onset that are no background any more
	blowSeconds = 0.045           // after it in which the blow itself is heard

	levelSeconds = 0.05  // of sound that say what a silent input reads
	peakSeconds  = 0.1   // in which the loudest sample is looked for
	overDB       = 60.0  // a ring is over when it has sunk by this much ...
	underFloor   = 10.0  // ... or lies this much (dB) under the whole background
	leastFloor   = 1e-14 // of full scale: nothing is quieter

	// What swells by slowAttackDB first and then falls faster than this T60 (in
	// seconds) is a syllable. Things that swell and ring are big, or beat.
	swellT60 = 1.0
)

// windows are the lengths of sound after the onset at which a strike is read,
// in milliseconds. Each about doubles the information of the one before; the
// first three are closer because an answer that is not plain from the first
// needs two that agree, and should come within 80 ms all the same. The first is
// the shortest in which a 220 Hz bar is within 5 cents in nine strikes of ten.
var windows = [...]int{19, 26, 40, 80, 160, 320, 640, 1280, 2560, 4000}

// take is a strike while it is listened to.
type take struct {
	strike  analysis.Strike
	start   bool      // an onset.Event with Start
	sound   []float64 // from the onset on, without earlier rings; the capacity is all it may hold
	steady  float64   // what a silent input reads
	window  int       // next of windows
	reading partial.Reading
	course  course
	over    int64       // samples after the onset at which the ring is over
	settled bool        // it was told so once
	known   bool        // longer windows add nothing
	held    bool        // a tone that is held, not a ring: the periodic way
	next    int64       // held: samples after the onset at which it is read again
	end     int64       // of its sound so far, on the clock
	tone    run         // that began with it
	first   analysis.Hz // where the partial that is heard lay when a pitch was heard first
	whole   *rolled     // the roll whose last stroke it is
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
	e.estimator.Begin(e.background())
}

// background is what is known before the open strike.
func (e *Ear) background() partial.Take {
	return partial.Take{Rate: e.rate, Before: e.before, Floor: e.room.psd, LSB: e.options.LSB}
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
	// A settled answer is not undone by a window so long that its fit neglects
	// the first moments, as long as what followed is a ring.
	upheld := t.settled && r.Lasting >= partial.LastingShare
	if (r.Pitched || upheld) && len(r.Partials) > 0 {
		a.heard, a.second = hearing.Heard(r.Partials, e.options.Kind)
	} else {
		a.heard = e.repeats()
	}
	if a.heard != nil {
		a.t60 = ringTime(t.strike.Partials, a.heard)
	}
	if r.FirstDB < -slowAttackDB && a.t60 > 0 && a.t60 < swellT60 {
		a.heard, a.second = nil, nil
	}
	t.over = math.MaxInt64
	if a.heard != nil {
		t.over = e.ringOver(r.Ring)
		if r.Broke > 0 && len(r.Partials) > 0 && e.moved(a.heard) {
			r.Broke, r.Remarks = 0, withoutDamped(r.Remarks)
		}
		if r.Broke > 0 {
			t.over = min(t.over, int64(r.Broke))
		}
	}
	return a
}

// ringTime returns the T60 of what a pitch rests on: of its partial, or of the
// partial with the most early energy where no partial lies at the pitch.
func ringTime(partials []analysis.Partial, p *analysis.Pitch) float64 {
	if p.Partial >= 0 {
		return partials[p.Partial].T60
	}
	t60, most := 0.0, 0.0
	for _, q := range partials {
		if e := early(q); e > most {
			t60, most = q.T60, e
		}
	}
	return t60
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
	if e.take.reading.Clipped > 0 {
		return nil // what the cut tops add repeats itself, too
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
	// Powers of the components, and what each keeps of it from step to step.
	step := float64(e.rate) / 50
	e.ebb = e.ebb[:0]
	for _, c := range model {
		a := real(c.Amp)*real(c.Amp) + imag(c.Amp)*imag(c.Amp)
		e.ebb = append(e.ebb, [2]float64{a / 2, math.Exp(-2 * c.Decay * step)})
	}
	// What the blow adds, carried back to the onset, would outshine every ring.
	start := 0.0
	for i, c := range model {
		start += e.ebb[i][0] * math.Exp(-2*c.Decay*blowSeconds*float64(e.rate))
	}
	end := max(start*math.Pow(10, -overDB/10), mean(e.room.psd)*math.Pow(10, -underFloor/10))
	most := float64(cap(e.take.sound))
	n := 0.0
	for left := end + 1; n < most && left > end; n += step {
		left = 0
		for i := range e.ebb {
			e.ebb[i][0] *= e.ebb[i][1]
			left += e.ebb[i][0]
		}
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
			if e.strokes.n > 0 || !e.ending && e.sound.to < t.strike.Onset+e.samples(rollGap) {
				return // it may be the first stroke of a roll
			}
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
		return // it may show yet that it falls
	}
	// The first window knows a place too loosely to say that it was left.
	if t.first == 0 && t.window > 1 && a.heard != nil && len(t.strike.Partials) > 0 {
		t.first = t.strike.Partials[followed(a.heard, t.strike.Partials)].Frequency
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

func power(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(max(1, len(x)))
}

func decibel(ratio float64) float64 { return 10 * math.Log10(ratio) }
