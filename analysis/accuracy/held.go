package accuracy

import (
	"math"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/pitch"
)

// Held are takes of tones that are held, blown ones with breath and plain
// harmonic ones, for comparing tracks of pitch.
func Held(seed uint64) []Take {
	var all []Take
	for _, c := range []struct {
		name   string
		f      float64
		db     []float64 // of the harmonics
		breath bool
	}{
		{"blown bottle", 146.9, []float64{0, -16, -22}, true},
		{"blown jar", 233.71, []float64{0, -16, -22, -30}, true},
		{"blown vial", 622.1, []float64{0, -20}, true},
		{"bowed string", 196.6, []float64{-6, 0, -6, -6, -10, -12, -16}, false},
		{"rubbed glass", 880.9, []float64{0, -26}, false},
		{"weak lowest", 131.3, []float64{-20, 0, -3, -6, -9, -14}, false},
	} {
		r := random(seed, "held/"+c.name, 0)
		s := newScene(c.name, c.name, "white", 50, 4, r)
		t := thing{heard: c.f, blown: true}
		for k, db := range c.db {
			t.modes = append(t.modes, mode{c.f * float64(k+1), 0, fromDB(db)})
		}
		if c.breath {
			s.strike(t, family{hand: analysis.Blown}, .3, 1)
		} else {
			for _, m := range t.modes {
				p := uniform(r, 0, 2*math.Pi)
				for i := range s.Samples {
					s.Samples[i] += full * m.amp * math.Sin(2*math.Pi*m.f*float64(i)/float64(rate)+p)
				}
			}
			s.Truth.Strikes = []TrueStrike{{Pitched: true, Heard: &TrueHeard{Frequency: c.f}}}
		}
		all = append(all, s.Take)
	}
	return all
}

// Track is our continuous track of a take's pitch, a point each 10 ms: YIN's,
// or refined by a harmonic fit over 0.1 s around each point.
func Track(t Take, refined bool) (at, hz []float64) {
	tracker := pitch.New(t.Rate, pitch.Options{})
	half := int(.05 * float64(t.Rate))
	fitter := pitch.NewFitter(t.Rate, 8, 2*half)
	step := tracker.Hop()
	for i := 0; i+step <= len(t.Samples); i += step {
		e, ok := tracker.Step(t.Samples[i : i+step])
		if !ok || e.Frequency <= 0 {
			continue
		}
		f := e.Frequency
		if k := int(e.At); refined && k >= half && k+half <= len(t.Samples) {
			if fit, ok := fitter.Fit(t.Samples[k-half:k+half], f); ok {
				f = fit.Frequency
			}
		}
		at, hz = append(at, t.Rate.Seconds(e.At)), append(hz, float64(f))
	}
	return at, hz
}

// OffTrack returns the median and the 95 % point of a track's error in cents
// from half a second after a held tone begins until a quarter before it ends.
func OffTrack(t Take, at, hz []float64) (median, most float64) {
	s := t.Truth.Strikes[0]
	var off []float64
	for i := range at {
		if at[i] > s.Onset+.5 && at[i] < t.Rate.Seconds(int64(len(t.Samples)))-.25 {
			off = append(off, math.Abs(s.Heard.away(hz[i])))
		}
	}
	slices.Sort(off)
	return quantile(off, .5), quantile(off, .95)
}

// HearAll runs a whole ear over a take and returns how many strikes it told of.
func HearAll(t Take) int { return len(hear(t, analysis.Unknown)) }
