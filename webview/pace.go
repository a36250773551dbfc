package webview

import (
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// mostPaces is how many callers a pace tells apart. Beyond them all share one.
const mostPaces = 1024

// How often callers may ask: a page asks a few times a second at most, a
// hundred times when it starts.
const (
	hereOften, hereBurst = 500, 2000
	awayOften, awayBurst = 40, 200
)

// paces are the paces there are.
type paces struct {
	here, away *pace // requests of this machine, and of others
	guesses    *pace // wrong pairing codes
}

func usualPaces(now func() time.Time) paces {
	return paces{newPace(hereOften, hereBurst, now), newPace(awayOften, awayBurst, now), guessPace(now)}
}

// pace is how often each caller may do something: so often a second, and at
// first burst times at once.
type pace struct {
	often rate.Limit
	burst int
	now   func() time.Time

	mu sync.Mutex
	by map[string]*rate.Limiter
}

func newPace(often rate.Limit, burst int, now func() time.Time) *pace {
	return &pace{often: often, burst: burst, now: now, by: map[string]*rate.Limiter{}}
}

// allow uses up one of the caller's turns, or reports that none is left.
func (p *pace) allow(caller string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.of(caller).AllowN(p.now(), 1)
}

// spent reports whether none of the caller's turns is left, without using one.
func (p *pace) spent(caller string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.of(caller).TokensAt(p.now()) < 1
}

// of returns the caller's limiter. Callers hold mu.
func (p *pace) of(caller string) *rate.Limiter {
	if l := p.by[caller]; l != nil {
		return l
	}
	if len(p.by) >= mostPaces {
		now := p.now()
		for c, l := range p.by {
			if l.TokensAt(now) >= float64(p.burst) { // nothing is remembered of it
				delete(p.by, c)
			}
		}
		if len(p.by) >= mostPaces {
			caller = ""
			if l := p.by[""]; l != nil {
				return l
			}
		}
	}
	l := rate.NewLimiter(p.often, p.burst)
	p.by[caller] = l
	return l
}
