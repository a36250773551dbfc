package audio

import (
	"context"
	"time"

	"ringwell/analysis"
)

// clock is what a paced source asks for the time and waits by. Tests have one
// of their own, which jumps.
type clock interface {
	Now() time.Time
	// Until waits for t and returns nil, or ctx.Err() if that comes first.
	Until(ctx context.Context, t time.Time) error
}

// wallClock is the real one. It is for one goroutine: the timer is used again
// and again.
type wallClock struct{ timer *time.Timer }

func (*wallClock) Now() time.Time { return time.Now() }

func (c *wallClock) Until(ctx context.Context, t time.Time) error {
	wait := time.Until(t)
	if wait <= 0 {
		return ctx.Err()
	}
	if c.timer == nil {
		c.timer = time.NewTimer(wait)
	} else {
		c.timer.Reset(wait)
	}
	select {
	case <-c.timer.C:
		return nil
	case <-ctx.Done():
		c.timer.Stop()
		return ctx.Err()
	}
}

// pace lets a source's samples out no sooner than a sound card would: sample n
// is there n/rate seconds after the first call. A caller that comes late gets
// what is due at once.
type pace struct {
	clock clock
	rate  analysis.Rate
	start time.Time
}

func newPace(c clock, rate analysis.Rate) *pace {
	if c == nil {
		c = &wallClock{}
	}
	return &pace{clock: c, rate: rate}
}

// until waits until samples up to end, exclusive, have come in.
func (p *pace) until(ctx context.Context, end int64) error {
	if p.start.IsZero() {
		p.start = p.clock.Now()
	}
	return p.clock.Until(ctx, p.start.Add(p.rate.Duration(end)))
}

// beat is how many samples a paced source gives at a time: 10 ms, as a sound
// card does.
func beat(rate analysis.Rate) int { return max(1, rate.Samples(10*time.Millisecond)) }
