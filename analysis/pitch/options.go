package pitch

import (
	"time"

	"ringwell/analysis"
)

// Options says what a Tracker looks for. A zero field means the default named.
type Options struct {
	// Low and High bound the pitch searched: 50 Hz to 3000 Hz. Frames are as
	// long as two periods of Low.
	Low, High analysis.Hz
	// Hop is the time between estimates: 10 ms.
	Hop time.Duration
	// Threshold is the aperiodicity under which the first dip is taken for
	// the period: 0.1, as in the paper (step 4).
	Threshold float64
}

func (o Options) filled() Options {
	if o.Low <= 0 {
		o.Low = 50
	}
	if o.High <= o.Low {
		o.High = max(3000, 2*o.Low)
	}
	if o.Hop <= 0 {
		o.Hop = 10 * time.Millisecond
	}
	if o.Threshold <= 0 {
		o.Threshold = 0.1
	}
	return o
}
