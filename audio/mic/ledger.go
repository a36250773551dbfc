package mic

import (
	"math"
	"time"
)

// ledger holds the samples that came against the time that passed, and finds
// what the host lost. Hosts flag a loss, but not how much it was, and some do
// not flag it at all.
//
// It watches lead, samples counted minus rate times time. Between two losses
// the lead's largest value in a second hardly moves: callbacks come late, never
// early. base is that value; it follows the device's clock, but no faster than
// clocks differ.
type ledger struct {
	rate  float64
	allow float64 // shortfall, in samples, that a late callback may explain

	count int64 // samples that came or were lost
	last  time.Duration
	base  float64
	began bool // base is known
	best  float64
	until time.Duration // the window of best ends here
	short int           // windows in a row that fell short
}

const (
	ledgerWindow = time.Second

	// clockSpread bounds how fast a sound card's clock and the computer's can
	// part: two crystals of ±100 ppm, and as much again for a poor one.
	clockSpread = 400e-6

	// runaway is how far, in seconds, sound may come before its time. What
	// passes it is no microphone: a null or file device gives hundreds of
	// seconds a second.
	runaway = 2.0
)

func newLedger(rate float64, latency time.Duration) ledger {
	return ledger{
		rate: rate,
		// 100 ms beyond the host's own buffer: more than a callback was seen
		// to be late on a busy machine (49 ms for 10 ms buffers).
		allow: rate * (latency + 100*time.Millisecond).Seconds(),
		until: ledgerWindow,
	}
}

// arrive enters n samples that came at now, counted from the start of the
// stream, and returns how many were lost just before them. overflow is the
// host's flag.
func (l *ledger) arrive(now time.Duration, n int, overflow bool) (lost int) {
	started := l.count > 0
	l.count += int64(n)
	lead := l.lead(now)
	if overflow && started {
		ref := l.base
		if !l.began {
			ref = l.best
		}
		// The host starts afresh after an overflow, so this buffer is not
		// late. At least one: the sound is cut here, however little is gone.
		lost = max(1, int(math.Round(ref-lead)))
		l.count += int64(lost)
		lead = l.lead(now)
	}
	if !started || lead > l.best {
		l.best = lead
	}
	l.last = now
	if now < l.until {
		return lost
	}
	lost += l.turn(now)
	l.until = now + ledgerWindow
	l.best = l.lead(now)
	return lost
}

// turn ends a window and returns what was lost without a flag.
func (l *ledger) turn(now time.Duration) (lost int) {
	if !l.began {
		l.began, l.base = true, l.best
		return 0
	}
	// One short window may be a late callback that catches up; sound that is
	// still missing a second later is gone. It went missing up to two seconds
	// ago: where exactly is not known.
	if l.best < l.base-l.allow {
		if l.short++; l.short == 2 {
			lost = int(math.Round(l.base - l.best))
			l.count += int64(lost)
			l.short = 0
		}
		return lost
	}
	l.short = 0
	step := l.rate * clockSpread * (ledgerWindow + now - l.until).Seconds()
	l.base += min(max(l.best-l.base, -step), step)
	return 0
}

func (l *ledger) lead(now time.Duration) float64 {
	return float64(l.count) - l.rate*now.Seconds()
}

// ranAway reports whether sound comes faster than time passes.
func (l *ledger) ranAway() bool {
	return l.lead(l.last)-l.base > runaway*l.rate
}
