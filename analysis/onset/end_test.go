package onset

import (
	"math"
	"slices"
	"testing"

	"ringwell/analysis"
)

// TestAnEndIsNoStrike cuts a ring off in one sample, in a room and in digital
// silence, at any phase: that is told as the end, within 3 ms, and as nothing
// else; a knock that comes with a hand on the ring is a knock.
func TestAnEndIsNoStrike(t *testing.T) {
	const cut = 1.0
	for _, rate := range []analysis.Rate{44100, 48000} {
		for _, f := range []float64{131, 262, 1570} {
			for seed := range uint64(4) {
				s := newScene(rate, 1.6, 1e-4*float64(seed%2), seed)
				s.strike(0.4, 0.3, f, 2)
				end := rate.Samples(1e9 * cut)
				quiet := newScene(rate, 1.6, 1e-4*float64(seed%2), seed+100)
				copy(s.x[end:], quiet.x[end:])
				found := begun(s)
				last := found[len(found)-1]
				if at := rate.Seconds(last.At); len(found) != 2 || !last.End || math.Abs(at-cut) > 0.003 || found[0].End {
					t.Errorf("%v Hz, ring of %v Hz cut at %v s, seed %d: got %+v, wanted a strike and an end", rate, f, cut, seed, found)
				}

				s.ring(cut, 0.05, 700, 0.06, 0)
				s.ring(cut, 0.05, 1900, 0.05, 0)
				found = begun(s)
				if len(found) != 2 || found[1].End {
					t.Errorf("%v Hz, ring of %v Hz stopped by a knock at %v s, seed %d: got %+v, wanted two strikes", rate, f, cut, seed, found)
				}
			}
		}
	}
}

// begun is what was found but the room itself.
func begun(s *scene) []Event {
	return slices.DeleteFunc(s.find(), func(e Event) bool { return e.Start })
}
