package onset

import (
	"testing"

	"ringwell/analysis"
)

// TestPlainStrikesAreToldSoon: within 14 ms of sound, wherever in a hop they
// fall.
func TestPlainStrikesAreToldSoon(t *testing.T) {
	for _, rate := range []analysis.Rate{44100, 48000, 96000} {
		for offset := range 10 {
			at := 0.5 + 0.0003*float64(offset)
			s := newScene(rate, 0.6, 1e-4, uint64(offset))
			s.strike(at, 0.3, 440, 1.5)
			f := New(rate, 1.0/32768)
			told := 0.0
			for i := 0; i+f.Hop() <= len(s.x) && told == 0; i += f.Hop() {
				if e, found := f.Step(s.x[i : i+f.Hop()]); found && !e.Start {
					told = rate.Seconds(int64(i + f.Hop()))
				}
			}
			if late := 1000 * (told - at); late <= 0 || late > 14 {
				t.Errorf("%v Hz: a strike at %.4f s told after %.1f ms of sound, wanted at most 14", rate, at, late)
			}
		}
	}
}
