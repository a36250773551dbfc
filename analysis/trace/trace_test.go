package trace

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

const rate = analysis.Rate(48000)

// wave makes a partial whose pitch and level go as they are told, in noise
// decibels under its first amplitude, and says where its pitch was.
func wave(seconds float64, f0 float64, t60 float64, noiseDB float64, cents, db func(t float64) float64, seed uint64) (x []float64, noise float64) {
	rng := rand.New(rand.NewPCG(seed, 3))
	x = make([]float64, int(seconds*float64(rate)))
	sigma := 0.2 / math.Sqrt2 * math.Pow(10, -noiseDB/20)
	phase := 2 * math.Pi * rng.Float64()
	for i := range x {
		t := float64(i) / float64(rate)
		phase += 2 * math.Pi * f0 * math.Exp2(cents(t)/1200) / float64(rate)
		a := 0.2 * math.Exp(-analysis.LnThousand*t/t60) * math.Pow(10, db(t)/20)
		x[i] = a*math.Sin(phase) + sigma*rng.NormFloat64()
	}
	return x, sigma * sigma
}

func none(float64) float64 { return 0 }

// TestGlide: a glide of 150 cents in 0.8 seconds, at 40 dB over the noise, is
// followed within half a cent, and told where it began and ended.
func TestGlide(t *testing.T) {
	for _, f0 := range []float64{220, 440, 1100, 2600} {
		for _, way := range []float64{-150, 150} {
			seed := uint64(f0 + way)
			cents := func(s float64) float64 { return way * min(max((s-0.3)/0.8, 0), 1) }
			x, noise := wave(1.6, f0, 4, 40, cents, none, seed)
			given := fmt.Sprintf("%v Hz gliding by %v c in 0.8 s, seed %d", f0, way, seed)
			f := New(rate)
			tr, ok := f.Follow(x, analysis.Hz(f0), noise)
			if !ok {
				t.Errorf("%s: not followed", given)
				continue
			}
			if f.Still() {
				t.Errorf("%s: taken for still", given)
			}
			var sum float64
			for i, c := range tr.Cents {
				truth := cents(tr.Start+float64(i)*tr.Step) - 1200*math.Log2(tr.Reference/f0)
				sum += (c - truth) * (c - truth) / float64(len(tr.Cents))
			}
			if rms := math.Sqrt(sum); rms > 0.5 {
				t.Errorf("%s: got a trace %.2f c rms from the truth, wanted at most 0.5", given, rms)
			}
			g, ok := tr.Glide()
			if !ok {
				t.Errorf("%s: no glide told", given)
				continue
			}
			if math.Abs(float64(g.Cents)-way) > 1 || math.Abs(g.Begin-0.3) > 0.01 || math.Abs(g.End-1.1) > 0.01 {
				t.Errorf("%s: got %.2f c from %.3f to %.3f s, wanted %v from 0.3 to 1.1", given, g.Cents, g.Begin, g.End, way)
			}
			if off := float64(g.From.Above(analysis.Hz(f0))); math.Abs(off) > 0.5 {
				t.Errorf("%s: got its beginning %.2f c off", given, off)
			}
			if _, ok := tr.Wobble(); ok {
				t.Errorf("%s: a wobble told", given)
			}
		}
	}
}

// TestWobble: swings of 5 to 60 cents, half a second to eight to the second
// long, at 40 dB over the noise, come out with their rate within 2 % and their
// depth within 5 %, and the still pitch within its sigma.
func TestWobble(t *testing.T) {
	for _, f0 := range []float64{250, 500, 800} {
		for _, per := range []float64{0.5, 1, 2, 4, 8} {
			for _, depth := range []float64{5, 20, 60} {
				seed := uint64(f0*100 + per*10 + depth)
				rng := rand.New(rand.NewPCG(seed, 8))
				start, swell := 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
				cents := func(s float64) float64 { return depth * math.Sin(2*math.Pi*per*s+start) }
				db := func(s float64) float64 { return 0.5 * math.Sin(2*math.Pi*per*s+swell) }
				x, noise := wave(4, f0, 6, 40, cents, db, seed)
				given := fmt.Sprintf("%v Hz swinging by %v c %v times a second, seed %d", f0, depth, per, seed)
				f := New(rate)
				tr, ok := f.Follow(x, analysis.Hz(f0), noise)
				if !ok {
					t.Errorf("%s: not followed", given)
					continue
				}
				if f.Still() {
					t.Errorf("%s: taken for still", given)
				}
				w, ok := tr.Wobble()
				if !ok {
					t.Errorf("%s: no wobble told", given)
					continue
				}
				if math.Abs(w.Rate-per) > 0.02*per || math.Abs(float64(w.Depth)-depth) > 0.05*depth {
					t.Errorf("%s: got ±%.2f c (±%.2f) at %.3f a second (±%.3f)", given, w.Depth, w.SigmaDepth, w.Rate, w.SigmaRate)
				}
				if off := float64(w.Still.Above(analysis.Hz(f0))); math.Abs(off) > 0.3+0.01*depth {
					t.Errorf("%s: got its still place %.2f c off", given, off)
				}
				if _, ok := tr.Glide(); ok {
					t.Errorf("%s: a glide told", given)
				}
			}
		}
	}
}

// TestPlainRingsAreStill: damped waves, near pairs that beat, and three near
// modes neither glide nor wobble.
func TestPlainRingsAreStill(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 12))
	const trials = 300
	wobbles, glides := 0, 0
	for trial := range trials {
		f0 := 150 * math.Exp2(4.5*rng.Float64())
		x, noise := wave(3, f0, 0.4+4*rng.Float64(), 40, none, none, uint64(trial))
		for range rng.IntN(3) {
			f := f0 + (0.3+7.7*rng.Float64())*math.Copysign(1, rng.Float64()-0.5)
			a := 0.2 * math.Pow(10, -15*rng.Float64()/20)
			d := analysis.LnThousand / (0.4 + 4*rng.Float64())
			phase := 2 * math.Pi * rng.Float64()
			for i := range x {
				s := float64(i) / float64(rate)
				x[i] += a * math.Exp(-d*s) * math.Sin(2*math.Pi*f*s+phase)
			}
		}
		tr, ok := New(rate).Follow(x, analysis.Hz(f0), noise)
		if !ok {
			continue
		}
		if w, ok := tr.Wobble(); ok {
			wobbles++
			t.Logf("trial %d: %.0f Hz wobbles by %.2f c, %.2f dB, %.2f a second", trial, f0, w.Depth, w.DepthDB, w.Rate)
		}
		if g, ok := tr.Glide(); ok {
			glides++
			t.Logf("trial %d: %.0f Hz glides by %.2f c from %.2f to %.2f s", trial, f0, g.Cents, g.Begin, g.End)
		}
	}
	if wobbles > trials/100 || glides > trials/100 {
		t.Errorf("got %d wobbles and %d glides in %d plain rings, wanted at most one in a hundred", wobbles, glides, trials)
	}
}

// TestNothingBreaksIt: sound that is none is not followed, or followed without
// a number that is none.
func TestNothingBreaksIt(t *testing.T) {
	for name, x := range map[string][]float64{
		"nothing": nil, "silence": make([]float64, 48000), "a moment": make([]float64, 100),
		"not a number": {0: math.NaN(), 48000: 0}, "infinity": {20000: math.Inf(1), 48000: 1}, "one click": {3000: 1, 48000: 0},
	} {
		for _, f := range []analysis.Hz{-1, 0, 30, 440, 30000} {
			tr, ok := New(rate).Follow(x, f, 1e-12)
			if !ok {
				continue
			}
			for i := range tr.Cents {
				if math.IsNaN(tr.Cents[i]) || math.IsInf(tr.Cents[i], 0) {
					t.Errorf("%s at %v Hz: got %v c", name, f, tr.Cents[i])
				}
			}
			tr.Glide()
			tr.Wobble()
		}
	}
}

func BenchmarkFollow(b *testing.B) {
	x, noise := wave(1, 440, 2, 40, none, none, 1)
	f := New(rate)
	b.ReportAllocs()
	for b.Loop() {
		f.follow(x, 440, noise)
	}
}
