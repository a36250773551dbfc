package analysis

import (
	"math"
	"time"
)

// Rate is a sample rate in samples a second, as the device or the file states
// it. It is the only place where samples and seconds meet.
type Rate float64

// Samples returns how many whole samples last d, rounded to the nearest.
func (r Rate) Samples(d time.Duration) int {
	return int(math.Round(float64(r) * d.Seconds()))
}

// Seconds returns how long n samples last, in seconds.
func (r Rate) Seconds(n int64) float64 { return float64(n) / float64(r) }

// Duration returns how long n samples last, to the nanosecond. It is exact for
// any index a source can reach: the whole seconds are taken out first.
func (r Rate) Duration(n int64) time.Duration {
	whole := math.Floor(float64(n) / float64(r))
	rest := float64(n) - whole*float64(r)
	return time.Duration(whole)*time.Second + time.Duration(math.Round(rest/float64(r)*1e9))
}

// Hz is a frequency in hertz.
type Hz float64

// Cents is a musical interval: 1200 to the octave, positive is higher.
type Cents float64

// Above returns the interval from g up to f. Both must be positive.
func (f Hz) Above(g Hz) Cents { return Cents(1200 * math.Log2(float64(f/g))) }

// Shift returns the frequency that lies c above f.
func (f Hz) Shift(c Cents) Hz { return f * Hz(math.Exp2(float64(c)/1200)) }

// CentsPerNeper turns a small relative change of frequency into cents:
// 1200/ln 2.
const CentsPerNeper = 1200 / math.Ln2

// LnThousand is ln 1000: a level falls by 60 dB while the amplitude falls to a
// thousandth, so T60 = LnThousand / decay rate.
const LnThousand = 6.907755278982137
