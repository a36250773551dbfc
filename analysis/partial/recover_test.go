package partial

import (
	"math"
	"testing"
)

func TestOneTone(t *testing.T) {
	const fs = 48000
	x := make([]float64, fs/2)
	want := Component{2 * math.Pi * 523.25 / fs, 6.9078 / 0.8 / fs, 0.3}
	Render(x, 0, []Component{want})
	e := New(fs)
	e.Begin(Take{Rate: fs})
	r := e.Grow(x)
	if len(r.Partials) < 1 || !r.Pitched {
		t.Fatalf("one tone 523.25 Hz: got %+v", r)
	}
	if c := math.Abs(1200 * math.Log2(float64(r.Partials[0].Frequency)/523.25)); c > 2 {
		t.Errorf("one tone 523.25 Hz: got %.3f Hz, %.2f cents away, want within 2", r.Partials[0].Frequency, c)
	}
}
