package audio

import (
	"context"
	"io"
	"math"
	"slices"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// The ear, from samples to strikes, against the exact truth of the demo scene.
// The scene keeps to the damped sinusoids the ear looks for, so this proves the
// way of the sound and the arithmetic, not that real things are so tidy.
func TestTheEarHearsTheDemoScene(t *testing.T) {
	d, err := NewDemo(DemoOptions{Seed: 4, Free: true, Once: true})
	if err != nil {
		t.Fatal(err)
	}
	ear := listen.New(d.Rate(), listen.Options{})
	last := map[string]analysis.Strike{}
	hear := func(told []analysis.Strike) {
		for _, s := range told {
			last[s.ID] = s
		}
	}
	for {
		b, err := d.Next(context.Background())
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		hear(ear.Step(b))
	}
	hear(ear.Flush())
	var strikes []analysis.Strike
	for _, s := range last {
		if s.Stage != analysis.Withdrawn {
			strikes = append(strikes, s)
		}
	}
	slices.SortFunc(strikes, func(a, b analysis.Strike) int { return int(a.Onset - b.Onset) })

	for _, e := range DemoScene() {
		// A struck thing is found to 3 ms; a blown one begins when it begins to
		// be heard.
		tolerance := 3e-3
		if e.Hold > 0 {
			tolerance = e.Contact
		}
		found := slices.IndexFunc(strikes, func(s analysis.Strike) bool {
			return math.Abs(d.Rate().Seconds(s.Onset-e.Sample(d.Rate()))) <= tolerance
		})
		if found < 0 {
			if e.Pitched {
				t.Errorf("%s at %v s: not found within %v ms", e.Object, e.Start, 1000*tolerance)
			}
			continue
		}
		s := strikes[found]
		strikes = slices.Delete(strikes, found, found+1)
		if !e.Pitched {
			if s.Pitched() {
				t.Errorf("%s at %v s: a knock is heard at %v Hz", e.Object, e.Start, s.Heard.Frequency)
			}
			continue
		}
		if !s.Pitched() {
			t.Errorf("%s at %v s: no pitch", e.Object, e.Start)
			continue
		}
		if e.Heard != 0 {
			low, high := e.twins()
			if f := s.Heard.Frequency; f < low.Shift(-1) || f > high.Shift(1) {
				t.Errorf("%s at %v s: heard at %.2f Hz, want %.2f to %.2f within 1 cent", e.Object, e.Start, f, low, high)
			}
		}
		e.mustBeResolved(t, s)
	}
	for _, s := range strikes {
		t.Errorf("a strike at %.3f s that nobody made", d.Rate().Seconds(s.Onset))
	}
}

// twins is the range of the modes that are one to the ear with the one heard:
// a near pair is heard as one pitch anywhere between its members.
func (e Event) twins() (low, high analysis.Hz) {
	low, high = e.Heard, e.Heard
	for _, m := range e.Modes {
		if math.Abs(float64(m.Frequency.Above(e.Heard))) < 20 {
			low, high = min(low, m.Frequency), max(high, m.Frequency)
		}
	}
	return low, high
}

// mustBeResolved checks the modes within 20 dB of the strongest, and that
// nothing was made up.
func (e Event) mustBeResolved(t *testing.T, s analysis.Strike) {
	t.Helper()
	var most float64
	for _, m := range e.Modes {
		most = max(most, m.Amplitude)
	}
	for _, m := range e.Modes {
		if m.Amplitude < most/10 {
			continue
		}
		if !slices.ContainsFunc(s.Partials, func(p analysis.Partial) bool {
			return math.Abs(float64(p.Frequency.Above(m.Frequency))) < 2
		}) {
			t.Errorf("%s at %v s: the mode at %.2f Hz, %.0f dB below the strongest, is missed",
				e.Object, e.Start, m.Frequency, 20*math.Log10(most/m.Amplitude))
		}
	}
	for _, p := range s.Partials {
		if !slices.ContainsFunc(e.Modes, func(m Mode) bool {
			return math.Abs(float64(p.Frequency.Above(m.Frequency))) < 10
		}) {
			t.Errorf("%s at %v s: a partial at %.2f Hz (%.0f dB) that is not there", e.Object, e.Start, p.Frequency, p.Level)
		}
	}
}
