package trace

import (
	"math"
	"testing"

	"ringwell/analysis"
)

// TestLeastMoves: what moves by less than is told is not told, what moves by
// somewhat more is, and a plain ring is seen to be still without asking.
func TestLeastMoves(t *testing.T) {
	glide := func(cents float64) func(float64) float64 {
		return func(s float64) float64 { return cents * min(max((s-0.3)/0.8, 0), 1) }
	}
	swing := func(cents float64) func(float64) float64 {
		return func(s float64) float64 { return cents * math.Sin(2*math.Pi*2*s) }
	}
	for _, c := range []struct {
		what                  string
		cents                 func(float64) float64
		still, glides, wobble bool
	}{
		{"a plain ring", none, true, false, false},
		{"a glide of 7 c", glide(7), false, false, false},
		{"a glide of 14 c", glide(14), false, true, false},
		{"a swing of 1.4 c", swing(1.4), false, false, false},
		{"a swing of 3 c", swing(3), false, false, true},
	} {
		x, noise := wave(2, 600, 4, 60, c.cents, none, 4)
		f := New(rate)
		tr, ok := f.Follow(x, 600, noise)
		if !ok {
			t.Errorf("%s: not followed", c.what)
			continue
		}
		_, glides := tr.Glide()
		_, wobbles := tr.Wobble()
		if still := f.Still(); still != c.still || glides != c.glides || wobbles != c.wobble {
			t.Errorf("%s: got still %v, glide %v, wobble %v, wanted %v, %v, %v", c.what, still, glides, wobbles, c.still, c.glides, c.wobble)
		}
	}
}

// TestBreaks: a hand at 0.5 s makes the level fall faster from there on, a pitch
// that moves does not.
func TestBreaks(t *testing.T) {
	hand := func(s float64) float64 { return -60 * max(0, s-0.5) }
	glide := func(s float64) float64 { return 150 * min(max((s-0.5)/0.8, 0), 1) }
	for _, c := range []struct {
		what      string
		cents, db func(float64) float64
		want      bool
	}{{"a hand", none, hand, true}, {"a glide", glide, none, false}, {"nothing", none, none, false}} {
		x, noise := wave(1.2, 600, 4, 60, c.cents, c.db, 5)
		tr, ok := New(rate).Follow(x, analysis.Hz(600), noise)
		if !ok {
			t.Errorf("%s: not followed", c.what)
			continue
		}
		if got := tr.Breaks(0.5); got != c.want {
			t.Errorf("%s at 0.5 s: got break %v, wanted %v", c.what, got, c.want)
		}
	}
}
