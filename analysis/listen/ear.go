package listen

import (
	"math"

	"ringwell/analysis"
	"ringwell/analysis/onset"
	"ringwell/analysis/partial"
	"ringwell/analysis/trace"
)

const (
	historySeconds = 7.0  // sound kept: the longest strike, its lead and what waits to be learned
	loudest        = 1e4  // full scale 1: what is louder is no sound but a broken source
	plain          = 6.0  // an event of this strength is a strike without a second look
	faint          = 1.3  // a weaker one is none if it makes nothing louder
	weak           = 3.0  // a weaker one is none if the rings explain all but ...
	leftOver       = 0.12 // ... this share of themselves or of the sound
	lookSeconds    = 0.05 // of sound on either side a second look wants
	hushSeconds    = 0.3  // after a strike before the background is listened to
)

// Ear turns blocks of one channel into strikes. One goroutine uses it. It
// allocates in New and while a strike is read, not while nothing sounds.
type Ear struct {
	rate      analysis.Rate
	options   Options
	finder    *onset.Finder
	estimator *partial.Estimator

	started bool
	ending  bool      // in Flush
	hop     []float64 // samples of the hop that is not full yet
	kept    int       // of these in sound already
	sound   history   // all of the recent sound
	rings   *rings
	room    *background
	tones   *toneFinder
	before  []float64
	work    []float64
	ebb     [][2]float64 // see ringOver
	calm    int64        // samples since anything sounded
	last    int64        // onset of the last strike opened

	take     take
	company  company
	recent   recent
	toneEnd  int64 // where a held tone would end if it stopped now
	open     bool
	strokes  strokes         // that may become a roll
	roll     rolling         // the one under way
	follower *trace.Follower // nil until something seems to move
	doubt    onset.Event     // an event that wants a second look
	doubted  bool
	mute     bool // what was asked for
	muted    bool
	told     []analysis.Strike
}

// New returns an Ear for sound at a rate.
func New(rate analysis.Rate, o Options) *Ear {
	e := &Ear{
		rate:      rate,
		options:   o.filled(),
		finder:    onset.New(rate, o.LSB),
		estimator: partial.New(rate),
		sound:     newHistory(int(historySeconds * float64(rate))),
		rings:     newRings(rate),
		room:      newBackground(rate),
		tones:     newToneFinder(rate),
		before:    make([]float64, 0, int(restSeconds*float64(rate))+8),
		work:      make([]float64, rate.Samples(longest)),
		told:      make([]analysis.Strike, 0, 16),
	}
	e.hop = make([]float64, 0, e.finder.Hop())
	e.take.sound = make([]float64, 0, rate.Samples(longest))
	return e
}

// SetKind tells what is in the player's hand from now on.
func (e *Ear) SetKind(k analysis.Kind) { e.options.Kind = k }

// Mute shuts the ear or opens it again, from the next hop on. While it is shut
// nothing is a strike and nothing is learned; what was being listened to ends
// there.
func (e *Ear) Mute(muted bool) { e.mute = muted }

// shut applies Mute at the beginning of a hop.
func (e *Ear) shut() {
	e.muted = e.mute
	if e.muted {
		e.close(nil)
	} else {
		e.finder.Resume(e.sound.to)
		e.rings.reset(e.sound.to)
		e.tones.reset(e.sound.to)
	}
	e.calm = 0
}

// Step takes the next block and returns the tellings due by now, in order. The
// slice is valid until the next call; what its elements point to is the
// caller's to keep. Samples that are not finite count as 0.
func (e *Ear) Step(b analysis.Block) []analysis.Strike {
	e.told = e.told[:0]
	if !e.started {
		e.started = true
		e.forget(b.Start)
		e.finder.Restart(b.Start)
	} else if b.Start != e.clock() {
		e.gap(b.Start)
	}
	for x := b.Samples; len(x) > 0; {
		soonest := e.untilSoonest()
		n := min(len(x), cap(e.hop)-len(e.hop), soonest)
		for _, v := range x[:n] {
			e.hop = append(e.hop, sane(v))
		}
		x = x[n:]
		switch {
		case len(e.hop) == cap(e.hop):
			e.advance()
		case n == soonest && !e.parting():
			e.keep()
			e.listen()
		}
	}
	return e.told
}

// untilSoonest returns how many samples the first window of the open strike
// still wants: the first answer does not wait for the hop to be full. It is past
// counting where there is none to wait for.
func (e *Ear) untilSoonest() int {
	if !e.open || e.muted || e.take.held || e.take.window > 0 {
		return math.MaxInt
	}
	if left := e.take.strike.Onset + e.due(&e.take) - e.clock(); left > 0 {
		return int(left)
	}
	return math.MaxInt
}

// keep takes the hop at hand into the sound, as far as it goes.
func (e *Ear) keep() {
	e.sound.push(e.hop[e.kept:])
	e.kept = len(e.hop)
}

// nextHop begins one.
func (e *Ear) nextHop() { e.hop, e.kept = e.hop[:0], 0 }

// sane keeps broken numbers out: they would spread through every sum.
func sane(v float64) float64 {
	switch {
	case math.IsNaN(v):
		return 0
	case v > loudest:
		return loudest
	case v < -loudest:
		return -loudest
	}
	return v
}

// Flush says that the sound is over, and returns the tellings that make
// everything final. Sound that comes after it begins a new stream.
func (e *Ear) Flush() []analysis.Strike {
	e.told = e.told[:0]
	e.keep()
	e.nextHop()
	e.ending = true
	e.close(nil)
	e.ending, e.started = false, false
	return e.told
}

// Sound returns the samples from..to-1 as far as they are still held: a final
// strike's From..To are, until the next Step.
func (e *Ear) Sound(from, to int64) []float32 {
	from, to = max(from, e.sound.from), min(to, e.sound.to)
	if from >= to {
		return nil
	}
	x := make([]float64, to-from)
	e.sound.copy(x, from)
	y := make([]float32, len(x))
	for i, v := range x {
		y[i] = float32(v)
	}
	return y
}

// Room returns the background as it is known by now; PSD is nil until a second
// of it was heard, and the caller's to keep.
func (e *Ear) Room() Room {
	e.room.learn(&e.sound)
	return Room{Rate: e.rate, PSD: append([]float64(nil), e.room.psd...), Seconds: e.room.rest}
}

// Ringing reports whether a strike is being listened to.
func (e *Ear) Ringing() bool { return e.open }

// clock is the index of the next sample.
func (e *Ear) clock() int64 { return e.sound.to + int64(len(e.hop)-e.kept) }

// forget forgets all sound; the next sample has index at.
func (e *Ear) forget(at int64) {
	e.nextHop()
	e.sound.clear(at)
	e.rings.reset(at)
	e.tones.reset(at)
	e.doubted = false
	e.last = at
	e.company, e.recent = company{}, recent{}
	e.calm = 0
	e.room.dues = 0
}

// gap ends what was being listened to, because sound was lost, and goes on at
// the given index.
func (e *Ear) gap(at int64) {
	e.room.learn(&e.sound)
	e.keep()
	e.nextHop()
	e.close(&analysis.Remark{Code: analysis.RemarkLost, Words: "sound was lost while it rang"})
	e.forget(at)
	// Not Restart: what sounds after the gap began before it.
	e.finder.Resume(at)
}

// close ends the open strike where the sound held ends.
func (e *Ear) close(remark *analysis.Remark) {
	if e.doubted {
		e.decide()
	}
	e.part()
	if e.open {
		e.grow(e.sound.to)
	}
	if e.open {
		e.finish(e.sound.to, remark)
	}
}

// advance takes in one hop.
func (e *Ear) advance() {
	if e.mute != e.muted {
		e.shut()
	}
	e.keep()
	if e.muted {
		e.nextHop()
		return
	}
	v, found := e.finder.Step(e.hop)
	e.nextHop()
	if found {
		e.hear(v)
	}
	if e.doubted && e.sound.to >= e.doubt.At+e.samples(lookSeconds) {
		e.decide()
	}
	if !e.parting() {
		e.listen()
	}
	e.learnLater()
}

// listen follows what is open as far as nothing else may have begun.
func (e *Ear) listen() {
	limit := e.sound.to
	if e.doubted {
		limit = min(limit, e.limit(e.doubt.At))
	}
	if e.strokes.n > 0 {
		limit = min(limit, e.limit(limit))
	} else {
		e.hold(limit)
	}
	e.grow(limit)
}

func (e *Ear) samples(seconds float64) int64 { return int64(seconds * float64(e.rate)) }

// learnLater notes seconds in which nothing sounded.
func (e *Ear) learnLater() {
	if e.open || e.doubted {
		e.calm = -e.samples(hushSeconds)
		return
	}
	e.calm += int64(cap(e.hop))
	margin := e.samples(roomMargin)
	if e.calm < int64(len(e.room.x))+margin {
		return
	}
	if e.room.dues == mostDue {
		e.room.learn(&e.sound)
	}
	e.room.due[e.room.dues] = e.sound.to - margin - int64(len(e.room.x))
	e.room.dues++
	e.calm = margin
}

// floorAt is the background's power at a frequency in rad a sample, and never
// less than the quantisation's.
func (e *Ear) floorAt(omega float64) float64 {
	least := max(e.options.LSB*e.options.LSB/12, 1e-14)
	if e.room.psd == nil {
		return least
	}
	k := int(math.Round(omega / math.Pi * float64(len(e.room.psd)-1)))
	return max(least, e.room.psd[min(max(k, 0), len(e.room.psd)-1)])
}
