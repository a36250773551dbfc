package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// TestFirstAnswerWithin20Milliseconds of sound, wherever in a hop the strike
// falls: bars at 40 dB. The ear is given a millisecond at a time.
func TestFirstAnswerWithin20Milliseconds(t *testing.T) {
	const rate = 48000
	for _, f := range []float64{220, 440, 880, 1760} {
		for _, offset := range []int{0, 17, 40, 63, 90, 111, 129} {
			x := bar(rate, f, rate+offset)
			e := New(rate, Options{Epoch: epoch})
			told := 0
			var first analysis.Pitch
			for at := 0; at+48 <= len(x) && told == 0; at += 48 {
				for _, s := range e.Step(analysis.Block{Start: int64(at), Samples: x[at : at+48]}) {
					if s.Heard != nil {
						told, first = at+48, *s.Heard
					}
				}
			}
			if ms := 1000 * float64(told-rate-offset) / rate; ms <= 0 || ms > 20 {
				t.Errorf("bar of %v Hz, struck %d samples after a second: got the first answer after %.1f ms, wanted it by 20 ms", f, offset, ms)
			} else if off := first.Frequency.Above(analysis.Hz(f)); off < -5 || off > 5 {
				t.Errorf("bar of %v Hz, struck %d samples after a second: got a first answer %.1f cents off, wanted at most 5", f, offset, off)
			}
		}
	}
}

// bar is a quiet room in which a free bar (1 : 2.757 : 5.404 : 8.933, Rossing &
// Fletcher) of frequency f is struck at sample on, 40 dB louder than the room,
// with 3 ms of contact noise.
func bar(rate int, f float64, on int) []float64 {
	r := rand.New(rand.NewPCG(1, uint64(on)))
	x := make([]float64, on+rate/5)
	for i := range x {
		x[i] = 7e-4 * r.NormFloat64()
	}
	for k, ratio := range []float64{1, 2.757, 5.404, 8.933} {
		for i := on; i < len(x); i++ {
			s := float64(i-on) / float64(rate)
			x[i] += 0.1 * math.Exp2(-float64(k)) * math.Exp(-analysis.LnThousand*s*ratio/2) * math.Sin(2*math.Pi*f*ratio*s+float64(k))
		}
	}
	for i := range rate * 3 / 1000 {
		x[on+i] += 0.05 * r.NormFloat64() * math.Sin(math.Pi*float64(i)/float64(rate*3/1000))
	}
	return x
}
