package listen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// moving makes a struck bowl whose pitch goes as it is told.
func moving(rate analysis.Rate, seconds, f0 float64, cents, db func(t float64) float64, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 5))
	x := quiet(rate, 1+seconds, rng)
	for i := range x {
		x[i] *= 14 // 40 dB under the strongest partial
	}
	for k, r := range [...]float64{1, 2.78, 5.2} {
		phase := 2 * math.Pi * rng.Float64()
		for i := int(rate); i < len(x); i++ {
			t := float64(i)/float64(rate) - 1
			phase += 2 * math.Pi * f0 * r * math.Exp2(cents(t)/1200) / float64(rate)
			d := analysis.LnThousand / 4 * math.Sqrt(r)
			x[i] += 0.2 * math.Pow(10, (-6*float64(k)+db(t))/20) * math.Exp(-d*t) * math.Sin(phase)
		}
	}
	return x
}

// TestMotion: a bowl whose pitch glides or swings is told once, with how it
// moved, and with the pitch and the partials of what held still.
func TestMotion(t *testing.T) {
	const rate = analysis.Rate(48000)
	none := func(float64) float64 { return 0 }
	for _, f0 := range []float64{300, 700} {
		for _, way := range []float64{-150, 100} {
			x := moving(rate, 3, f0, func(s float64) float64 { return way * min(max((s-0.5)/0.8, 0), 1) }, none, 1)
			s := onlyOne(t, hearAll(rate, x, 480, Options{}))
			given := fmt.Sprintf("a bowl at %v Hz gliding by %v c from 0.5 to 1.3 s", f0, way)
			g := s.Glide
			switch {
			case g == nil || s.Wobble != nil || s.Heard == nil:
				t.Errorf("%s: got glide %v, wobble %v, heard %v", given, g, s.Wobble, s.Heard)
			case math.Abs(float64(g.From.Above(analysis.Hz(f0)))) > 0.5, math.Abs(float64(g.To.Above(g.From))-way) > 1,
				math.Abs(g.Begin-0.5) > 0.02, math.Abs(g.End-1.3) > 0.02:
				t.Errorf("%s: got %+v", given, *g)
			case math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(f0)))) > max(0.05, 4*float64(s.Heard.Sigma)) || len(s.Partials) != 3:
				t.Errorf("%s: heard %+v and %d partials, wanted the bowl's own and 3", given, *s.Heard, len(s.Partials))
			}
		}
		for _, per := range []float64{1, 3, 7} {
			x := moving(rate, 4.5, f0, func(s float64) float64 { return 15 * math.Sin(2*math.Pi*per*s) }, none, 2)
			s := onlyOne(t, hearAll(rate, x, 480, Options{}))
			given := fmt.Sprintf("a bowl at %v Hz swinging by 15 c %v times a second", f0, per)
			w := s.Wobble
			switch {
			case w == nil || s.Glide != nil || s.Heard == nil:
				t.Errorf("%s: got wobble %v, glide %v, heard %v", given, w, s.Glide, s.Heard)
			case math.Abs(w.Rate-per) > 0.02*per || math.Abs(float64(w.Depth)-15) > 0.75:
				t.Errorf("%s: got %+v", given, *w)
			case math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(f0)))) > 0.5:
				t.Errorf("%s: heard %+v, wanted the still pitch", given, *s.Heard)
			}
		}
	}
}

// onlyOne returns the last telling of the strike after the first half second,
// and fails where there is more than one.
func onlyOne(t *testing.T, told []analysis.Strike) analysis.Strike {
	t.Helper()
	var got []analysis.Strike
	for _, s := range lastOnes(told) {
		if s.Rate.Seconds(s.Onset) > 0.5 {
			got = append(got, s)
		}
	}
	if len(got) != 1 {
		t.Fatalf("got %d strikes, wanted one", len(got))
	}
	return got[0]
}

// TestRecordingsStand: of what was recorded nothing wobbles or glides, for
// all of it was struck and left alone.
func TestRecordingsStand(t *testing.T) {
	for _, name := range recordingNames(t) {
		r := openRecording(t, name[0], name[1])
		for _, s := range lastOnes(hearAll(r.rate, r.x, 480, Options{})) {
			if s.Glide != nil || s.Wobble != nil {
				t.Errorf("%s: got glide %+v, wobble %+v", name[1], s.Glide, s.Wobble)
			}
		}
	}
}
