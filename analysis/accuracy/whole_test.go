package accuracy

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ringwell/analysis"
)

// told makes a course of one telling.
func told(onset int64, hz float64, sigma analysis.Cents, partials ...float64) course {
	s := analysis.Strike{Stage: analysis.Final, Onset: onset, Rate: rate}
	if hz > 0 {
		s.Heard = &analysis.Pitch{Frequency: analysis.Hz(hz), Sigma: sigma, Likelihood: 0.95}
	}
	for _, f := range partials {
		s.Partials = append(s.Partials, analysis.Partial{Frequency: analysis.Hz(f), Sigma: sigma})
	}
	return course{{onset + 2400, s}}
}

// One of everything that can go right and wrong is counted as what it is.
func TestWholeEarIsScored(t *testing.T) {
	heard := func(f float64) *TrueHeard { return &TrueHeard{Frequency: f} }
	k := Take{Name: "made up", Rate: rate, Samples: make([]float64, 10*48000), Truth: Truth{Strikes: []TrueStrike{
		{Onset: 1, Within: .03, Pitched: true, Heard: heard(440), Partials: []TruePartial{{Frequency: 440, T60: 1, Scored: true, Bound: 0.5}, {Frequency: 1200, T60: 1, Scored: true}}},
		{Onset: 2, Within: .03, Pitched: true, Heard: heard(440)}, // heard an octave up
		{Onset: 3, Within: .03, Pitched: true, Heard: heard(440)}, // heard as something else
		{Onset: 4, Within: .03, Pitched: true, Heard: heard(440)}, // not found
		{Onset: 5, Within: .03},                                   // a knock, heard as a pitch
		{Onset: 6, Within: .03},                                   // a knock, told as one
		{Onset: 7, Within: .03, Pitched: true, Heard: heard(440)}, // told without a pitch
	}}}
	withdrawn := told(8*48000, 300, 1)
	withdrawn[0].Stage = analysis.Withdrawn
	var g group
	g.judge(k, []course{
		told(48000+48, 440.1, 1, 440.1, 900), told(2*48000+480, 880, 1), told(3*48000, 500, 1), told(5*48000, 300, 1),
		told(6*48000, 0, 0), told(7*48000, 0, 0), withdrawn, told(9*48000, 600, 1),
	})
	for _, c := range []struct {
		what      string
		got, want int
	}{
		{"strikes", g.strikes, 5}, {"found", g.found, 4}, {"found within 3 ms", g.near, 3}, {"without a pitch", g.refused, 1},
		{"gross", g.gross, 2}, {"by an octave", g.octave, 1}, {"certain and wrong", g.sure, 2}, {"right", len(g.away), 1}, {"within two sigma", g.inside2, 1},
		{"knocks", g.knocks, 2}, {"knocks with a pitch", g.knocksTold, 1}, {"pitched where nothing is", g.extra, 1}, {"events where nothing is", g.extraEvents, 1},
		{"partials scored", g.scored, 2}, {"missed", g.missed, 1}, {"invented", g.spurious, 1}, {"faults listed", len(g.failed), 6},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %d, want %d", c.what, c.got, c.want)
		}
	}
	if want := cents(440.1, 440) / 0.5; len(g.overBound) != 1 || math.Abs(g.overBound[0]-want) > 1e-9 {
		t.Errorf("error over bound: got %v, want %.4f", g.overBound, want)
	}
}

// An answer counts from when it stays, not from when it first passes by.
func TestWhenAnAnswerStays(t *testing.T) {
	at := func(clock int64, hz float64) telling {
		return telling{clock, analysis.Strike{Stage: analysis.Early, Heard: &analysis.Pitch{Frequency: analysis.Hz(hz)}}}
	}
	c := course{at(100, 440), at(200, 460), at(300, 441), at(400, 440)}
	if got := c.stays(440, 5); got != 300 {
		t.Errorf("within 5 cents of 440 Hz for good: got sample %g, want 300", got)
	}
	if got := c.stays(450, 5); !math.IsInf(got, 1) {
		t.Errorf("within 5 cents of 450 Hz: got sample %g, want never", got)
	}
}

// The rival finds a lone tone, and half a hertz between its bins of 0.37 Hz is
// no matter to it.
func TestStrongestPeak(t *testing.T) {
	for _, f := range []float64{110.2, 440.13, 3000.7} {
		k := lone(family{name: "tone"}, thing{object: object{modes: []mode{{f, 4, 1}}}, heard: f}, "white", 60, 1, rand.New(rand.NewPCG(1, 2)), "tone")
		if got := strongest(k, k.Truth.Strikes[0].Onset); math.Abs(cents(got, f)) > 1 {
			t.Errorf("%g Hz: got %.3f Hz, want it within a cent", f, got)
		}
	}
}

// Every kind of thing holds what it is said to: a strongest mode of 1, ring
// times and a heard pitch in range, and for what is heard by its lowest mode
// that mode.
func TestThingsAreWhatTheySay(t *testing.T) {
	for _, f := range families() {
		for i := range 50 {
			o := f.make(random(1, f.name, i))
			top, lowest := 0.0, math.Inf(1)
			for _, m := range o.modes {
				top, lowest = max(top, m.amp), min(lowest, m.f)
				if !o.blown && !(m.t60 >= .05 && m.t60 <= 4) {
					t.Errorf("%s #%d: T60 %g s, want 0.05 to 4 s", f.name, i, m.t60)
				}
			}
			if math.Abs(top-1) > 1e-9 && f.name != "bowl of pairs" || !(o.heard >= 80 && o.heard <= 3000) {
				t.Errorf("%s #%d: strongest %g, heard %g Hz; want 1, and 80 to 3000 Hz", f.name, i, top, o.heard)
			}
			switch f.name {
			case "church bell", "tube", "missing lowest", "bowl of pairs":
			default:
				if c := cents(lowest, o.heard); math.Abs(c) > 10 {
					t.Errorf("%s #%d: heard %.1f Hz, lowest mode %.1f Hz", f.name, i, o.heard, lowest)
				}
			}
		}
	}
}

// A kilohertz bar in little noise: found, named and timed by the whole ear.
func TestWholeEarHearsABar(t *testing.T) {
	f := families()[0]
	k := lone(f, f.make(random(5, "bar", 0)), "white", 40, 2, random(5, "bar", 1), "bar")
	var g group
	g.judge(k, hear(k, analysis.Unknown))
	if g.found != 1 || g.near != 1 || len(g.away) != 1 || g.away[0] > 0.2 || g.extra+g.missed+g.spurious > 0 || !(g.first[0] > 0 && g.first[0] < 0.2) {
		t.Errorf("a metal bar at 40 dB: got %+v", g)
	}
}

func TestReadTruth(t *testing.T) {
	good := `{"strikes":[{"onset_s":1,"pitched":true,"heard":{"frequency_hz":440},"in_hand":"bar","partials":[{"frequency_hz":440,"t60_s":null}]},{"onset_s":2,"pitched":false,"heard":null}],"more":1}`
	got, err := ReadTruth(strings.NewReader(good))
	if err != nil || len(got.Strikes) != 2 || got.Category != "other" || got.Strikes[0].Within != 0.03 || got.Strikes[0].InHand != analysis.Bar {
		t.Errorf("a good truth: got %+v, error %v", got, err)
	}
	for what, c := range map[string][2]string{
		"no JSON":                 {"strikes", "not the JSON"},
		"cut short":               {good[:40], "not the JSON"},
		"no strikes":              {`{"file":"x.wav"}`, `no "strikes"`},
		"a word for a number":     {strings.Replace(good, "440", `"A4"`, 1), "heard.frequency_hz"},
		"before the file":         {strings.Replace(good, `_s":1`, `_s":-1`, 1), "strikes[0].onset_s"},
		"out of order":            {strings.Replace(good, `_s":1`, `_s":9`, 1), "order"},
		"pitched without a pitch": {`{"strikes":[{"onset_s":1,"pitched":true}]}`, "no heard"},
		"no frequency":            {strings.Replace(good, "440", "0", 1), "strikes[0].heard"},
		"unknown kind":            {strings.Replace(good, `"bar"`, `"spoon"`, 1), "spoon"},
		"a partial below 0":       {strings.Replace(good, `z":440,"t`, `z":-440,"t`, 1), "partials[0]"},
	} {
		if _, err := ReadTruth(strings.NewReader(c[0])); err == nil || !strings.Contains(err.Error(), c[1]) {
			t.Errorf("%s: got error %v, want one that says %q", what, err, c[1])
		}
	}
}
