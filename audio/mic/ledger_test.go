package mic

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// host makes callbacks of 10 ms at 48 kHz out of sound that truly comes at
// trueRate, late by up to jitter, four at a time if burst.
type host struct {
	ledger   ledger
	trueRate float64
	jitter   time.Duration
	burst    int
	rng      *rand.Rand

	made int64 // by the device
	now  time.Duration
	lost int64 // as the ledger found
	told []time.Duration
}

const frames = 480

func newHost(trueRate float64, jitter time.Duration, burst int) *host {
	return &host{
		ledger:   newLedger(48000, 20*time.Millisecond),
		trueRate: trueRate, jitter: jitter, burst: burst,
		rng: rand.New(rand.NewPCG(1, 2)),
	}
}

// run lets the device run for d. What came late comes in one go.
func (h *host) run(d time.Duration) {
	for end := h.made + int64(h.trueRate*d.Seconds()); h.made < end; {
		h.made += frames * int64(h.burst)
		due := time.Duration(float64(h.made) / h.trueRate * 1e9)
		h.now = max(h.now, due+time.Duration(h.rng.Float64()*float64(h.jitter)))
		for range h.burst {
			h.give(false)
		}
	}
}

func (h *host) give(overflow bool) {
	if n := h.ledger.arrive(h.now, frames, overflow); n != 0 {
		h.lost += int64(n)
		h.told = append(h.told, h.now)
	}
}

// late lets the device run for d, every callback late by as much.
func (h *host) late(d, by time.Duration) {
	for end := h.made + int64(h.trueRate*d.Seconds()); h.made < end; {
		h.made += frames
		h.now = time.Duration(float64(h.made)/h.trueRate*1e9) + by
		h.give(false)
	}
}

// stall keeps the callbacks back for d; afterwards they come at once.
func (h *host) stall(d time.Duration) { h.now += d }

// lose throws away what the device makes during d.
func (h *host) lose(d time.Duration) { h.made += int64(h.trueRate * d.Seconds()) }

func TestLedgerCountsNothingWhereNothingIsLost(t *testing.T) {
	for _, c := range []struct {
		name string
		h    *host
		play func(h *host)
	}{
		{"an even beat", newHost(48000, 0, 1), func(h *host) { h.run(time.Minute) }},
		{"late by up to 50 ms", newHost(48000, 50*time.Millisecond, 1), func(h *host) { h.run(time.Minute) }},
		{"four at a time", newHost(48000, 5*time.Millisecond, 4), func(h *host) { h.run(time.Minute) }},
		{"a clock 200 ppm slow, for six hours", newHost(48000*(1-200e-6), 10*time.Millisecond, 1), func(h *host) { h.run(6 * time.Hour) }},
		{"a clock 200 ppm fast, for six hours", newHost(48000*(1+200e-6), 10*time.Millisecond, 1), func(h *host) { h.run(6 * time.Hour) }},
		{"stalls that catch up", newHost(48000, 0, 1), func(h *host) {
			for range 20 {
				h.run(1700 * time.Millisecond)
				h.stall(900 * time.Millisecond)
			}
			h.run(5 * time.Second)
		}},
		{"200 ms late for almost two seconds, at any time", newHost(48000, 0, 1), func(h *host) {
			for range 50 {
				h.run(3370 * time.Millisecond)
				h.late(1900*time.Millisecond, 200*time.Millisecond)
			}
			h.run(5 * time.Second)
		}},
	} {
		c.play(c.h)
		if c.h.lost != 0 {
			t.Errorf("%s: %d samples counted as lost at %v, want 0", c.name, c.h.lost, c.h.told)
		}
		if c.h.ledger.ranAway() {
			t.Errorf("%s: counted as running away", c.name)
		}
	}
}

// A flagged loss is counted at once; how much is known to within what callbacks
// come late by.
func TestLedgerCountsAFlaggedLoss(t *testing.T) {
	for _, c := range []struct {
		name   string
		before time.Duration
		lose   time.Duration
		burst  int
		late   time.Duration // tolerance
	}{
		{"in the first second", 300 * time.Millisecond, 500 * time.Millisecond, 1, 10 * time.Millisecond},
		{"later", 10 * time.Second, time.Second, 1, 10 * time.Millisecond},
		{"less than the clock can see", 10 * time.Second, time.Millisecond, 1, 10 * time.Millisecond},
		{"four at a time", 10 * time.Second, time.Second, 4, 40 * time.Millisecond},
	} {
		h := newHost(48000, 5*time.Millisecond, c.burst)
		h.run(c.before)
		h.lose(c.lose)
		h.made += frames
		h.now = time.Duration(float64(h.made) / h.trueRate * 1e9)
		h.give(true)
		if len(h.told) != 1 {
			t.Errorf("%s: losses told at %v, want one at %v", c.name, h.told, h.now)
		}
		h.run(20 * time.Second)
		want := c.lose.Seconds() * 48000
		if h.lost < 1 || math.Abs(float64(h.lost)-want) > c.late.Seconds()*48000 {
			t.Errorf("%s: %d samples counted as lost, want %.0f ± %.0f", c.name, h.lost, want, c.late.Seconds()*48000)
		}
	}
}

func TestLedgerIgnoresTheFirstFlag(t *testing.T) {
	h := newHost(48000, 0, 1)
	h.now = 10 * time.Millisecond
	h.give(true) // nothing came before that could have been lost
	if h.lost != 0 {
		t.Errorf("%d samples counted as lost, want 0", h.lost)
	}
}

// Many flagged losses must not add up to a clock that runs away from the time.
func TestLedgerStaysWithTheTime(t *testing.T) {
	h := newHost(48000, 5*time.Millisecond, 4)
	h.run(5 * time.Second)
	for range 100 {
		h.lose(200 * time.Millisecond)
		h.made += frames
		h.now = time.Duration(float64(h.made) / h.trueRate * 1e9)
		h.give(true)
		h.run(2 * time.Second)
	}
	// By 40 ms of burst, and what the base may follow in 200 s.
	if off := float64(h.ledger.count-h.made) / 48000; math.Abs(off) > 0.04+200*clockSpread {
		t.Errorf("after 100 losses the sample clock is %.3f s off, want at most 0.04 + %.3f", off, 200*clockSpread)
	}
}

func TestLedgerFindsALossWithoutAFlag(t *testing.T) {
	for _, lose := range []time.Duration{200 * time.Millisecond, time.Second} {
		h := newHost(48000, 10*time.Millisecond, 1)
		h.run(10 * time.Second)
		h.lose(lose)
		at := h.now
		h.run(10 * time.Second)
		if len(h.told) != 1 || h.told[0]-at > 3500*time.Millisecond {
			t.Errorf("%v lost at %v: told at %v, want once within 3.5 s", lose, at, h.told)
		}
		want := lose.Seconds() * 48000
		if math.Abs(float64(h.lost)-want) > 480 {
			t.Errorf("%v lost: %d samples counted, want %.0f ± 480", lose, h.lost, want)
		}
	}
	// What is lost in silence below the latency and 100 ms cannot be told from
	// a callback that comes late for good.
	h := newHost(48000, 0, 1)
	h.run(10 * time.Second)
	h.lose(110 * time.Millisecond)
	h.run(10 * time.Second)
	if h.lost != 0 {
		t.Errorf("110 ms lost without a flag: %d samples counted; the limit is 120 ms", h.lost)
	}
}

func TestLedgerKnowsADeviceThatRunsAway(t *testing.T) {
	h := newHost(48000*400, 0, 1) // the slowest null device seen
	h.run(10 * time.Millisecond)
	if !h.ledger.ranAway() {
		t.Error("400 times too fast for 10 ms: not noticed")
	}
}
