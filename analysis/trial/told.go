package trial

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/analysis/listen"
	"ringwell/analysis/physics/wall"
)

// ToldBy counts how often struck and blown were told apart by their sound.
type ToldBy struct {
	Struck, Blown           int // sounds made
	StruckRight, BlownRight int // told rightly
	Silent                  int // of which the ear said neither
}

const soundRate = 48000

// Tell has the ear tell count struck and count blown sounds of a seed.
func Tell(seed uint64, count int) ToldBy {
	var out ToldBy
	for i := range count {
		for _, way := range []bench.Way{bench.Struck, bench.Blown} {
			r := rand.New(rand.NewPCG(seed, uint64(i)<<1|uint64(len(way)&1)))
			sound := StrikeSound(r, Glass(r), uniform(r, 0, .9))
			if way == bench.Blown {
				sound = BreathSound(r, Bottle(r), uniform(r, 0, .8))
			}
			told, ok := ListenTo(sound, soundRate)
			right := ok && told == way
			if !ok {
				out.Silent++
			}
			if way == bench.Struck {
				out.Struck++
				if right {
					out.StruckRight++
				}
			} else {
				out.Blown++
				if right {
					out.BlownRight++
				}
			}
		}
	}
	return out
}

// ListenTo runs the ear over a sound of full scale 1 and says how the loudest
// pitched strike in it was made.
func ListenTo(sound []float64, rate analysis.Rate) (way bench.Way, ok bool) {
	ear := listen.New(rate, listen.Options{Source: "trial"})
	last := map[string]analysis.Strike{}
	hear := func(all []analysis.Strike) {
		for _, s := range all {
			last[s.ID] = s
		}
	}
	const block = 4800
	for at := 0; at < len(sound); at += block {
		hear(ear.Step(analysis.Block{Start: int64(at), Samples: sound[at:min(at+block, len(sound))]}))
	}
	hear(ear.Flush())
	peak := -1.0
	for _, s := range last {
		if s.Stage == analysis.Withdrawn || s.Peak <= peak {
			continue
		}
		if told, is := bench.Told(s); is {
			way, ok, peak = told, true, s.Peak
		}
	}
	return way, ok
}

// StrikeSound is a vessel filled to a share and struck, after half a second of
// a quiet room: modes of two to five waves round the rim, each a near pair, and
// the contact of a beater.
func StrikeSound(r *rand.Rand, v Vessel, share float64) []float64 {
	x := room(r, 2.5, uniform(r, -75, -60))
	f := v.Sounds(share * v.Capacity)
	start := soundRate / 2
	t60 := uniform(r, .25, 2)
	for n := 2; n <= 5; n++ {
		mode := f * math.Pow(wall.Ring(n), uniform(r, .93, 1))
		if mode > 16000 {
			break
		}
		level := math.Pow(10, -float64(n-2)*uniform(r, 2, 9)/20) * .25
		for _, pair := range []float64{1, uniform(r, .1, .9)} {
			mode *= 1 + uniform(r, 0, .002)
			decay := analysis.LnThousand / (t60 * math.Pow(float64(n-1), -.6))
			phase := uniform(r, 0, 2*math.Pi)
			for i := start; i < len(x); i++ {
				t := float64(i-start) / soundRate
				x[i] += level * pair * math.Exp(-decay*t) * math.Cos(2*math.Pi*mode*t+phase)
			}
		}
	}
	for i := range soundRate / 250 {
		x[start+i] += .1 * r.NormFloat64() * math.Exp(-float64(i)/40)
	}
	return x
}

// BreathSound is a bottle filled to a share and blown for a second: a tone that
// swells in some tens of milliseconds and wavers, with a few harmonics and
// the breath's own noise.
func BreathSound(r *rand.Rand, v Vessel, share float64) []float64 {
	x := room(r, 2.5, uniform(r, -75, -60))
	f := v.Sounds(share * v.Capacity)
	start, length := soundRate/2, int(uniform(r, .7, 1.4)*soundRate)
	swell, fade := uniform(r, .03, .2), uniform(r, .05, .2)
	waver, rate := uniform(r, 0, 6), uniform(r, 3, 6)
	level := uniform(r, .05, .3)
	second, third := math.Pow(10, uniform(r, -40, -15)/20), math.Pow(10, uniform(r, -50, -20)/20)
	hiss := math.Pow(10, uniform(r, -45, -25)/20)
	phase, smooth := 0.0, 0.0
	for i := range length {
		t, left := float64(i)/soundRate, float64(length-i)/soundRate
		shape := (1 - math.Exp(-t/swell)) * min(1, left/fade)
		phase += 2 * math.Pi * f * math.Exp2(waver*math.Sin(2*math.Pi*rate*t)/1200) / soundRate
		smooth = .9*smooth + .1*r.NormFloat64()
		x[start+i] += level * shape * (math.Sin(phase) + second*math.Sin(2*phase) + third*math.Sin(3*phase) + hiss*3*smooth)
	}
	return x
}

// room is so many seconds of noise at a level in dB of full scale.
func room(r *rand.Rand, seconds, db float64) []float64 {
	x := make([]float64, int(seconds*soundRate))
	level := math.Pow(10, db/20)
	for i := range x {
		x[i] = level * r.NormFloat64()
	}
	return x
}
