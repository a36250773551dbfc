package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis/partial"
)

// ringing returns a component at a frequency in Hz, T60 4 s, heard from an
// onset on with an amplitude and a phase in rad.
func ringing(f, amp, phase float64) partial.Component {
	s, c := math.Sincos(phase)
	return partial.Component{Omega: 2 * math.Pi * f / 48000, Decay: 6.9078 / (4 * 48000), Amp: complex(amp*c, amp*s)}
}

// Rings that have nothing to do with the sound are given up, and the sound is
// then taken as it is.
func TestRingsLost(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	noise := make([]float64, 48000)
	for i := range noise {
		noise[i] = 0.01 * random.NormFloat64()
	}
	sound := newHistory(len(noise))
	sound.clear(0)
	sound.push(noise)
	r := newRings(48000)
	r.reset(0)
	// They cancel at first and part within a second.
	r.add(0, math.MaxInt64, []partial.Component{ringing(500, 1, 0), ringing(500.7, 1, math.Pi)})
	r.advance(&sound, int64(len(noise)))
	if len(r.list) != 0 {
		t.Errorf("two waves of amplitude 1 that part, in noise of 0.01: got %d rings still taken out, wanted none", len(r.list))
	}
	tail := make([]float64, 4096)
	r.rest.copy(tail, r.rest.to-int64(len(tail)))
	if got, there := power(tail), power(noise[len(noise)-len(tail):]); math.Abs(got-there) > 1e-12 {
		t.Errorf("the sound without rings: got power %.3g at the end, wanted that of the sound, %.3g", got, there)
	}
}

// A true ring is kept through the quietest moment of its beats, though what is
// left of a prediction that is a few per cent off is louder than the sound there.
func TestRingsKeptThroughBeats(t *testing.T) {
	truth := []partial.Component{ringing(500, 0.1, 0), ringing(501, 0.1, 0)}
	x := make([]float64, 48000)
	partial.Render(x, 0, truth)
	sound := newHistory(len(x))
	sound.clear(0)
	sound.push(x)
	r := newRings(48000)
	r.reset(0)
	r.add(0, math.MaxInt64, []partial.Component{ringing(500, 0.105, 0.05), ringing(501, 0.097, -0.05)})
	r.advance(&sound, int64(len(x)))
	if len(r.list) != 1 {
		t.Errorf("a pair 1 Hz apart, predicted to 5 %%: got %d rings after a beat, wanted 1", len(r.list))
	}
}
