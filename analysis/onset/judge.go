package onset

// judge follows the strength and tells an event once its rise is complete.
func (f *Finder) judge(s float64) (Event, bool) {
	if e, found := f.start(); found {
		return e, true
	}
	if f.soon {
		return f.review(s)
	}
	switch f.state {
	case waiting:
		if s < again && f.clock >= f.last+f.samples(deadSeconds) {
			f.state = ready
			break
		}
		// A much stronger rise soon after the last event takes its place, and so
		// does a plain one to a much louder sound: where a knock fills all bands
		// just before a strike, no rise can be much stronger.
		stronger := s >= max(3, 2*f.event.Strength)
		louder := s >= plainRise && f.loudness() >= muchLouder*f.loudest
		if (stronger || louder) && f.clock < f.last+f.samples(deadSeconds+frameSeconds) && f.frames > f.lastPeak+f.framesIn(pastFrom) {
			f.arm(s, true)
		}
	case ready:
		if s >= f.enough() {
			f.arm(s, false)
		}
	case rising:
		f.follow(s)
		if f.frames >= f.decide {
			return f.tell()
		}
		if f.plain() {
			f.soon, f.loudSoon = true, f.loudest
			return f.tell()
		}
	}
	return Event{}, false
}

// follow takes the newest frame of a rise into account.
func (f *Finder) follow(s float64) {
	f.loudest = max(f.loudest, f.loudness())
	if s > f.event.Strength {
		f.event.Strength = s
		if f.frames < f.decide-f.framesIn(settleSeconds) {
			f.peak = f.frames
		}
	}
}

// review goes on following a rise that was told before it was complete. If it
// became much louder and began later than was thought, what was told was the arm.
func (f *Finder) review(s float64) (Event, bool) {
	f.follow(s)
	if f.frames < f.decide {
		return Event{}, false
	}
	f.soon = false
	f.lastPeak = f.peak
	at := f.moment()
	if f.loudest < muchLouder*f.loudSoon || at < f.last+f.samples(laterSeconds) {
		return Event{}, false
	}
	f.last = at
	return Event{At: at, Strength: f.event.Strength, Instead: true}, true
}

// plain reports whether the rise under way is beyond doubt before it is complete:
// it has filled the bands and made the sound louder, which an end does not.
func (f *Finder) plain() bool {
	if f.event.Instead || f.event.Strength < quickStrength || f.frames < f.armed+f.framesIn(quickSeconds) {
		return false
	}
	before := 0.0
	for _, e := range f.under {
		before += e
	}
	return f.loudness() > quickLouder*before
}

func (f *Finder) samples(seconds float64) int64 { return int64(seconds * float64(f.rate)) }

// loudness is the energy of the newest frame.
func (f *Finder) loudness() float64 {
	sum := 0.0
	for _, e := range f.energy {
		sum += e
	}
	return sum
}

func (f *Finder) arm(s float64, instead bool) {
	f.state = rising
	f.event = Event{Strength: s, Instead: instead}
	f.loudest = f.loudness()
	f.under = f.before
	f.peak = f.frames
	f.first = f.frames
	f.armed = f.frames
	for f.first > 0 && f.frames-f.first < 13 && f.strength[(f.first-1)%len(f.strength)] >= backTo {
		f.first--
	}
	if instead {
		f.first = max(f.first, f.lastPeak+1)
	}
	f.decide = f.frames + f.framesIn(peakSeconds+settleSeconds)
}

// enough is the strength that makes an event: more while the floor and the
// unrest rest on little.
func (f *Finder) enough() float64 {
	if f.seen < f.samples(youngSeconds) {
		return youngStrength
	}
	return 1
}

// tell refines the moment and ends the rise.
func (f *Finder) tell() (Event, bool) {
	f.event.At = f.moment()
	f.state = waiting
	if f.brokeOff() {
		f.event.End, f.event.Instead = true, false
		f.started = false
		f.last, f.lastPeak = f.event.At, f.peak
		return f.event, true
	}
	if f.started {
		// The beginning of the stream was told; this is either that sound
		// again, or the strike that makes the beginning mere background.
		f.started = false
		begin := f.clock - f.seen
		if f.event.At < begin+f.samples(frameSeconds) {
			return Event{}, false
		}
		f.event.Instead = f.event.At < begin+f.samples(deadSeconds)
	}
	f.last, f.lastPeak = f.event.At, f.peak
	return f.event, true
}

// brokeOff reports whether the rise was but the step at which a sound ends: a
// frame that lies wholly after it is quieter than what sounded before by
// endFall, and next to nothing in it is louder than before. The shortest knock
// still sounds by then, and a ring that goes on beside it does not sink.
func (f *Finder) brokeOff() bool {
	before, now, louder := 0.0, 0.0, 0.0
	for k, e := range f.energy {
		before += f.under[k]
		now += e
		louder += max(0, e-endNoise*(f.under[k]+f.floor[k]))
	}
	return before > endFall*now && before > endLouder*louder
}

// moment returns the index of the first sample of the strike whose rise began
// at frame f.first.
func (f *Finder) moment() int64 {
	begin := f.clock - int64(len(f.sound)) // index of sound[0]
	end := func(frame int) int64 { return f.clock - int64(f.frames-frame)*int64(f.hop) }
	from := end(f.first) - int64(len(f.bands.window)) - f.samples(searchSeconds)
	if f.event.Instead {
		from = max(from, f.last+f.samples(searchSeconds))
	}
	from = max(from, begin)
	to := min(f.clock, end(f.peak)+f.samples(settleSeconds))
	learn := max(begin, from-f.samples(predictSeconds))
	x := f.sound[learn-begin : to-begin]
	fallback := max(from, end(f.first)-int64(len(f.bands.window))/2)
	return learn + int64(f.refine.jump(x, int(from-learn), int(fallback-learn)))
}

// start looks once at the beginning of a stream. Many recordings begin with
// the strike itself, where no rise can be seen: what sounds there is told as
// an event with Start set, unless it begins so late that the rise will show.
func (f *Finder) start() (Event, bool) {
	if f.looked || f.seen < f.samples(startSeconds) {
		return Event{}, false
	}
	f.looked = true
	largest := 0.0
	for _, x := range f.sound {
		largest = max(largest, x*x)
	}
	if largest < startOverQuiet*f.quiet/f.bands.gain() {
		return Event{}, false
	}
	first := f.refine.jump(f.sound, 0, 0)
	if int64(first) >= f.samples(headSeconds) {
		return Event{}, false
	}
	f.started = true
	return Event{At: f.clock - int64(len(f.sound)) + int64(first), Strength: 1, Start: true}, true
}
