package listen

import (
	"math"
	"testing"

	"ringwell/analysis"
)

func toldTwo(s analysis.Strike) (words string) {
	for _, m := range s.Remarks {
		if m.Code == analysis.RemarkTwo {
			words = m.Words
		}
	}
	return words
}

// TestTwoAtOnce: two bars struck 12 ms apart are two, each with its pitch; one
// bar is one.
func TestTwoAtOnce(t *testing.T) {
	const rate = 48000
	x, y := bar(rate, 440, rate), bar(rate, 607, rate+rate*12/1000)
	both := make([]float64, len(x))
	for i := range both {
		both[i] = x[i] + y[i]
	}
	all := lastOnes(hearAll(rate, both, 480, Options{Epoch: epoch}))
	s, ok := nearest(all, 1)
	if !ok || toldTwo(s) != "perhaps two things, struck 12 ms apart" || s.Heard == nil || s.Second == nil {
		t.Fatalf("two bars 12 ms apart: got %+v", all)
	}
	if a, b := s.Heard.Frequency.Above(440), s.Second.Frequency.Above(607); math.Abs(float64(a)) > 1 || math.Abs(float64(b)) > 1 {
		t.Errorf("two bars of 440 and 607 Hz: got %.2f and %.2f Hz", s.Heard.Frequency, s.Second.Frequency)
	}
	if s, ok := nearest(lastOnes(hearAll(rate, x, 480, Options{Epoch: epoch})), 1); !ok || toldTwo(s) != "" {
		t.Errorf("one bar: got %q", toldTwo(s))
	}
}

// No recording of one thing is told as two.
func TestRecordingsAreOneThing(t *testing.T) {
	for _, name := range recordingNames(t) {
		r := openRecording(t, name[0], name[1])
		for _, s := range lastOnes(hearAll(r.rate, r.x, 480, Options{LSB: lsb16})) {
			if w := toldTwo(s); w != "" {
				t.Errorf("%s at %.3f s: got %q", name[1], r.rate.Seconds(s.Onset), w)
			}
		}
	}
}
