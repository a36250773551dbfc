package listen

import (
	"crypto/rand"
	"time"

	"github.com/oklog/ulid/v2"

	"ringwell/analysis"
)

// Options says what an Ear should know of the sound beforehand. The zero value
// will do.
type Options struct {
	Source   string        // name put into each strike
	Kind     analysis.Kind // what is in the player's hand; "" is analysis.Unknown
	ClockPPM float64       // one sigma of the input's clock error, put into each strike
	LSB      float64       // quantisation step of the sound, full scale 1; 0 unknown

	// Epoch is the UTC of sample 0. Zero: the time at which the Ear was made.
	Epoch time.Time
	// NewID makes the ID of a strike at a time. IDs must be unique and sort by
	// time; nil makes ULIDs (github.com/ulid/spec).
	NewID func(time.Time) string
}

func (o Options) filled() Options {
	if o.Kind == "" {
		o.Kind = analysis.Unknown
	}
	if o.Epoch.IsZero() {
		o.Epoch = time.Now().UTC()
	}
	if o.NewID == nil {
		o.NewID = ulids()
	}
	return o
}

// ulids makes IDs that rise even within one millisecond.
func ulids() func(time.Time) string {
	entropy := ulid.Monotonic(rand.Reader, 0)
	return func(t time.Time) string {
		ms := uint64(max(0, t.UnixMilli()))
		id, err := ulid.New(min(ms, ulid.MaxTime()), entropy)
		if err != nil { // 2^80 IDs in one millisecond
			entropy = ulid.Monotonic(rand.Reader, 0)
			id = ulid.MustNew(min(ms, ulid.MaxTime()), entropy)
		}
		return id.String()
	}
}
