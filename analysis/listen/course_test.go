package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

func pitchOf(f, sigma float64) *analysis.Pitch {
	return &analysis.Pitch{Frequency: analysis.Hz(f), Sigma: analysis.Cents(sigma), Basis: analysis.OnPartial, Likelihood: 1}
}

// TestCourse holds the stages against the rules of the package comment.
func TestCourse(t *testing.T) {
	const no = analysis.Stage("")
	type step struct {
		seconds   float64
		heard     *analysis.Pitch
		t60       float64
		explained float64
		want      analysis.Stage // no: nothing is told
		second    float64        // Hz, 0 none
	}
	cases := []struct {
		name  string
		steps []step
	}{
		{"plain: told at the second window, settled when two agree closely", []step{
			{0.020, pitchOf(440, 5), 0, 0.99, no, 0},
			{0.026, pitchOf(440.5, 3), 0, 0.99, analysis.Early, 0},
			{0.040, pitchOf(440.2, 0.8), 0, 0.99, analysis.Settled, 0},
			{0.080, pitchOf(440.2, 0.1), 0, 0.99, analysis.Settled, 0},
		}},
		{"clear: told at the first window", []step{
			{0.019, pitchOf(440, 2), 0, 0.99, analysis.Early, 0},
			{0.026, pitchOf(440.2, 1), 0, 0.99, analysis.Early, 0},
		}},
		{"a little unexplained: told at the second window", []step{
			{0.019, pitchOf(440, 2), 0, 0.93, no, 0},
			{0.026, pitchOf(440.2, 1), 0, 0.93, analysis.Early, 0},
		}},
		{"clear, then an octave off: both are told", []step{
			{0.019, pitchOf(880, 1), 0, 0.99, analysis.Early, 0},
			{0.026, pitchOf(440, 1), 0, 0.99, analysis.Early, 880},
			{0.040, pitchOf(440, 0.1), 0, 0.99, analysis.Settled, 0},
		}},
		{"most of the sound unexplained: not before 80 ms", []step{
			{0.020, pitchOf(440, 1), 0, 0.5, no, 0},
			{0.040, pitchOf(440, 1), 0, 0.5, no, 0},
			{0.080, pitchOf(440, 1), 0, 0.5, analysis.Settled, 0},
		}},
		{"unclear pitch: not before 80 ms", []step{
			{0.020, pitchOf(440, 40), 0, 0.99, no, 0},
			{0.040, pitchOf(440, 40), 0, 0.99, no, 0},
			{0.080, pitchOf(440, 30), 0, 0.99, analysis.Early, 0},
		}},
		{"octaves: the one left behind is told until two windows agree", []step{
			{0.020, pitchOf(880, 5), 0, 0.99, no, 0},
			{0.026, pitchOf(880, 1), 0, 0.99, analysis.Early, 0},
			{0.040, pitchOf(440, 0.1), 0, 0.99, analysis.Early, 880},
			{0.080, pitchOf(440, 0.1), 0, 0.99, analysis.Settled, 0},
		}},
		{"undecided at 80 ms", []step{
			{0.040, pitchOf(880, 5), 0, 0.99, no, 0},
			{0.080, pitchOf(440, 1), 0, 0.99, analysis.Early, 880},
		}},
		{"never within a cent: settled after a quarter of the ring", []step{
			{0.040, pitchOf(300, 8), 0.4, 0.99, no, 0},
			{0.080, pitchOf(300.5, 6), 0.4, 0.99, analysis.Early, 0},
			{0.160, pitchOf(301, 5), 0.4, 0.99, analysis.Settled, 0},
		}},
		{"a knock that looked like a note is taken back", []step{
			{0.020, pitchOf(300, 8), 0, 0.9, no, 0},
			{0.026, pitchOf(301, 8), 0, 0.9, analysis.Early, 0},
			{0.040, nil, 0, 0.2, no, 0},
			{0.080, nil, 0, 0.2, no, 0},
			{0.160, nil, 0, 0.1, analysis.Withdrawn, 0},
		}},
		{"one window that says no takes nothing back", []step{
			{0.080, pitchOf(300, 1), 0, 0.9, analysis.Early, 0},
			{0.160, nil, 0, 0.2, no, 0},
			{0.320, pitchOf(300, 1), 0, 0.9, analysis.Early, 0},
		}},
		{"a knock: nothing is told on the way", []step{
			{0.080, nil, 0, 0.2, no, 0},
			{0.160, nil, 0, 0.2, no, 0},
			{0.320, nil, 0, 0.2, no, 0},
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var course course
			for i, s := range c.steps {
				v := course.next(answer{seconds: s.seconds, heard: s.heard, t60: s.t60, explained: s.explained})
				got := v.stage
				if !v.tell {
					got = no
				}
				if got != s.want {
					t.Errorf("window %d of %v s: got %q, wanted %q", i, s.seconds, got, s.want)
				}
				second := 0.0
				if v.tell && v.second != nil {
					second = float64(v.second.Frequency)
				}
				if second != s.second {
					t.Errorf("window %d of %v s: got second %v Hz, wanted %v", i, s.seconds, second, s.second)
				}
			}
		})
	}
}

// TestHandOnTheRing: a hand stops a pipe of T60 3 s; the strike ends when that
// is noticed, at the latest when as much has sounded again, says so, and its
// ring time is that of the free ring.
func TestHandOnTheRing(t *testing.T) {
	const rate = 48000
	for _, at := range []float64{0.35, 0.8, 1.2} {
		rng := rand.New(rand.NewPCG(2, 9))
		x := make([]float64, 3*rate)
		for i := range x {
			x[i] = 3e-4 * rng.NormFloat64()
		}
		hand := int(rate * (0.5 + at))
		ring := make([]float64, len(x))
		strike(ring, rate, 0.5, 0.3, 520, 3, rng)
		for i := range ring {
			if i > hand {
				ring[i] *= math.Exp(-analysis.LnThousand * float64(i-hand) / rate / 0.25)
			}
			x[i] += ring[i]
		}
		var got []analysis.Strike
		for _, s := range lastOnes(hearAll(rate, x, 480, Options{})) {
			if s.Heard != nil {
				got = append(got, s)
			}
		}
		if len(got) != 1 {
			t.Errorf("a hand after %v s: got %d strikes with a pitch, wanted 1", at, len(got))
			continue
		}
		s := got[0]
		damped := false
		for _, r := range s.Remarks {
			damped = damped || r.Code == analysis.RemarkDamped
		}
		p := closest(s.Partials, 520)
		if !damped || math.Abs(p.T60/3-1) > 0.03 || s.To < int64(hand) || s.Rate.Seconds(s.To) > 0.5+2*at {
			t.Errorf("a hand after %v s: got remarks %v, T60 %.3f s, sound to %.3f s; wanted %q, 3 s within 3 %%, %.3f to %.3f s",
				at, s.Remarks, p.T60, s.Rate.Seconds(s.To), analysis.RemarkDamped, 0.5+at, 0.5+2*at)
		}
	}
}
