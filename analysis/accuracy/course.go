package accuracy

import (
	"fmt"
	"math"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// telling is one answer about one strike.
type telling struct {
	clock int64 // samples given when it was told
	analysis.Strike
}

// course is all that was told of one strike, in order.
type course []telling

func (c course) last() analysis.Strike { return c[len(c)-1].Strike }

// heard is the pitch in the end: nil where there is none or it was withdrawn.
func (c course) heard() *analysis.Pitch {
	if s := c.last(); s.Stage != analysis.Withdrawn {
		return s.Heard
	}
	return nil
}

// stays returns the samples given when the pitch came within so many cents of
// f for good, and +Inf if it never did.
func (c course) stays(f, within float64) float64 {
	at := math.Inf(1)
	for i := len(c) - 1; i >= 0; i-- {
		h := c[i].Heard
		if h == nil || c[i].Stage == analysis.Withdrawn || !(math.Abs(cents(float64(h.Frequency), f)) <= within) {
			break
		}
		at = float64(c[i].clock)
	}
	return at
}

func cents(f, g float64) float64 { return 1200 * math.Log2(f/g) }

// hear runs a whole ear over a take in blocks of a millisecond, as a source
// would give them, and returns what it told of each strike, by onset.
func hear(t Take, kind analysis.Kind) []course {
	number := 0
	e := listen.New(t.Rate, listen.Options{
		Source: t.Name, Kind: kind, LSB: t.LSB, Epoch: time.Unix(0, 0).UTC(),
		NewID: func(time.Time) string { number++; return fmt.Sprint(number) },
	})
	var all []course
	index := map[string]int{}
	note := func(told []analysis.Strike, clock int64) {
		for _, s := range told {
			i, known := index[s.ID]
			if !known {
				i = len(all)
				index[s.ID] = i
				all = append(all, nil)
			}
			all[i] = append(all[i], telling{clock, s})
		}
	}
	step := max(1, t.Rate.Samples(time.Millisecond))
	for at := 0; at < len(t.Samples); at += step {
		end := min(at+step, len(t.Samples))
		note(e.Step(analysis.Block{Start: int64(at), Samples: t.Samples[at:end]}), int64(end))
	}
	note(e.Flush(), int64(len(t.Samples)))
	return all
}
