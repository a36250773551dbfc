package audio

import (
	"context"
	"errors"
	"testing"
	"time"
)

// jumpClock is a clock that arrives where it is sent, at once, and remembers
// where that was.
type jumpClock struct {
	now   time.Time
	jumps []time.Time
}

func newJumpClock() *jumpClock {
	return &jumpClock{now: time.Date(2024, 5, 1, 10, 0, 0, 0, time.UTC)}
}

func (c *jumpClock) Now() time.Time { return c.now }

func (c *jumpClock) Until(ctx context.Context, t time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	c.jumps = append(c.jumps, t)
	if t.After(c.now) {
		c.now = t
	}
	return nil
}

func TestPaceLetsSamplesOutWhenTheyAreDue(t *testing.T) {
	c := newJumpClock()
	start := c.now
	p := newPace(c, 48000)
	for _, row := range []struct {
		end  int64
		want time.Duration
	}{
		{480, 10 * time.Millisecond},
		{48000, time.Second},
		{48000 * 3600 * 24, 24 * time.Hour}, // no drift by rounding
		{48000*3600*24 + 1, 24*time.Hour + 20833*time.Nanosecond},
	} {
		if err := p.until(context.Background(), row.end); err != nil {
			t.Fatal(err)
		}
		if got := c.now.Sub(start); got != row.want {
			t.Errorf("%d samples at 48 kHz are let out after %v, want %v", row.end, got, row.want)
		}
	}
}

func TestPaceDoesNotHoldUpTheLate(t *testing.T) {
	c := newJumpClock()
	p := newPace(c, 8000)
	p.until(context.Background(), 80)
	c.now = c.now.Add(time.Minute) // the caller was busy
	late := c.now
	for end := int64(160); end <= 800; end += 80 {
		if err := p.until(context.Background(), end); err != nil || c.now != late {
			t.Errorf("after a minute's delay sample %d comes at %v more, %v; want at once", end, c.now.Sub(late), err)
		}
	}
}

func TestWallClock(t *testing.T) {
	var c wallClock
	for range 3 { // the timer is used again
		before := c.Now()
		if err := c.Until(context.Background(), before.Add(5*time.Millisecond)); err != nil {
			t.Fatal(err)
		}
		if got := time.Since(before); got < 5*time.Millisecond {
			t.Errorf("waited %v, want 5ms or more", got)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := c.Until(ctx, time.Now().Add(time.Hour)); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled wait of an hour returns %v, want %v", err, context.Canceled)
	}
	if err := c.Until(ctx, time.Now().Add(-time.Hour)); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled wait for the past returns %v, want %v", err, context.Canceled)
	}
	if err := c.Until(context.Background(), time.Now().Add(-time.Hour)); err != nil {
		t.Errorf("a wait for the past returns %v, want nil", err)
	}
}
