package accuracy

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis"
)

// thing is an object whose heard pitch is published or agreed in the trade.
type thing struct {
	object
	heard      float64   // Hz
	anyOf      []float64 // right as well
	definition float64   // cents: how loosely the pitch is defined
	blown      bool      // modes do not decay; slow attack, breath
}

// family makes things of one kind.
type family struct {
	name string
	hand analysis.Kind
	make func(r *rand.Rand) thing
}

// modes draws an object: ratios to f scattered by the share given, levels in
// dB by 3 dB, ring times t·(q/q0)^-fall by 25 %, one standard deviation each.
func modes(r *rand.Rand, f, t, fall, scatter float64, ratios, levels []float64) object {
	var o object
	top := 0.0
	for i, q := range ratios {
		at := f * q
		if i > 0 {
			at *= 1 + scatter*r.NormFloat64()
		}
		amp := fromDB(levels[i] + 3*r.NormFloat64())
		ring := t * math.Pow(q/ratios[0], -fall) * max(0.4, 1+0.25*r.NormFloat64())
		if at < 60 || at > 16000 {
			continue
		}
		top = max(top, amp)
		o.modes = append(o.modes, mode{at, min(max(ring, 0.05), 4), amp})
	}
	for i := range o.modes {
		o.modes[i].amp /= top
	}
	return o
}

// families are what is struck in the rows about the pitch heard. The lowest
// mode is heard, if nothing else is said. Ratios: free bar from cos x cosh x = 1;
// bars tuned 1:4:10 and 1:3:6, handbell with its second mode a twelfth up,
// kettledrum 1:1.5:1.98:2.44: T.D. Rossing, Science of Percussion Instruments
// (from memory, unchecked); wine glass, bowl, pot lid: Csound manual, appendix
// E; church bell: the founders' names, strike note half the nominal (Terhardt &
// Seewann, Acustica 54 (1984) 129); tube: free bar modes 4, 5, 6 near 2:3:4,
// heard an octave under mode 4 (Rossing, ibid.). Tile, tine, levels and ring
// times: common practice, no source.
func families() []family {
	lowest := func(o object, f float64) thing { return thing{object: o, heard: f} }
	return []family{
		{"metal bar", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 250, 2500)
			return lowest(modes(r, f, uniform(r, 1, 4), uniform(r, .3, .9), .01, []float64{1, 2.757, 5.404, 8.933}, []float64{0, -6, -12, -18}), f)
		}},
		{"dull wood", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 150, 1200)
			return lowest(modes(r, f, uniform(r, .08, .4), uniform(r, .4, .9), .02, []float64{1, 2.65, 4.9, 7.6}, []float64{0, -5, -12, -20}), f)
		}},
		{"bar 1:4:10", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 110, 1500)
			return lowest(modes(r, f, uniform(r, .3, 4), uniform(r, .6, 1), .004, []float64{1, 4, 10}, []float64{0, -10, -18}), f)
		}},
		{"bar 1:3:6", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 200, 2500)
			return lowest(modes(r, f, uniform(r, .2, 1), uniform(r, .5, .9), .004, []float64{1, 3, 6}, []float64{0, -9, -17}), f)
		}},
		{"wine glass", analysis.Glass, func(r *rand.Rand) thing {
			f := logUniform(r, 300, 2200)
			return lowest(modes(r, f, uniform(r, .8, 3), uniform(r, .3, .9), .02, []float64{1, 2.32, 4.25, 6.63, 9.38}, []float64{0, -6, -10, -16, -22}), f)
		}},
		{"bowl of pairs", analysis.Glass, func(r *rand.Rand) thing {
			f, split := logUniform(r, 200, 900), logUniform(r, .6, 4)
			o := modes(r, f, uniform(r, 2, 4), uniform(r, .5, .8), .015, []float64{1, 2.778, 5.181, 8.163}, []float64{0, -4, -9, -15})
			a := o.modes[0].amp
			second := o.modes[0]
			second.f += split
			second.amp = a * fromDB(-uniform(r, 0, 15))
			o.modes = append(o.modes, second)
			w, v := a*a, second.amp*second.amp
			mean := (w*f + v*second.f) / (w + v)
			return thing{object: o, heard: mean, anyOf: []float64{f, second.f}}
		}},
		{"bottle", analysis.Bottle, func(r *rand.Rand) thing {
			f := logUniform(r, 700, 2600)
			return lowest(modes(r, f, uniform(r, .15, .8), uniform(r, .3, .6), .02, []float64{1, 2.33, 2.89, 4.21, 5.69}, []float64{0, -5, -11, -13, -20}), f)
		}},
		{"tile or pot", analysis.Plate, func(r *rand.Rand) thing {
			f := logUniform(r, 400, 2500)
			return lowest(modes(r, f, uniform(r, .1, .5), uniform(r, .4, .8), .02, []float64{1, 1.46, 1.8, 2.58, 4.6}, []float64{0, -8, -9, -13, -22}), f)
		}},
		{"pot lid", analysis.Plate, func(r *rand.Rand) thing {
			f := logUniform(r, 200, 900)
			return lowest(modes(r, f, uniform(r, .5, 3), uniform(r, .4, .8), .02, []float64{1, 3.2, 6.23, 9.92, 14.15}, []float64{0, -4, -8, -14, -20}), f)
		}},
		{"handbell", analysis.Bell, func(r *rand.Rand) thing {
			f := logUniform(r, 250, 2000)
			return lowest(modes(r, f, uniform(r, 2, 4), uniform(r, .5, 1), .008, []float64{1, 3, 1.8, 2.52, 3.79, 4.57}, []float64{0, -6, -22, -22, -25, -28}), f)
		}},
		{"church bell", analysis.Bell, func(r *rand.Rand) thing {
			f := logUniform(r, 250, 800)
			o := modes(r, f/2, 4, uniform(r, .5, 1), .006, []float64{1, 2, 2.4, 3, 4, 5, 5.33, 6, 8, 10.66}, []float64{-10, -6, 0, -15, 0, -12, -14, -3, -8, -15})
			half := f
			for _, m := range o.modes {
				if math.Abs(m.f/(2*f)-1) < .04 {
					half = m.f / 2
				}
			}
			return thing{object: o, heard: half, definition: 15}
		}},
		{"tube", analysis.Bell, func(r *rand.Rand) thing {
			f := logUniform(r, 260, 700)
			o := modes(r, 2*f/8.933, 4, uniform(r, .2, .5), .005, []float64{2.757, 5.404, 8.933, 13.344, 18.638, 24.81}, []float64{-20, -13, 0, -5, -10, -16})
			return thing{object: o, heard: f, definition: 35}
		}},
		{"string", analysis.Unknown, func(r *rand.Rand) thing {
			f := logUniform(r, 80, 1000)
			q, l := make([]float64, 4+r.IntN(6)), []float64(nil)
			fall := uniform(r, 1, 5)
			for i := range q { // a little stiff
				q[i] = float64(i+1) * math.Sqrt(1+2e-4*float64(i*i))
				l = append(l, -fall*float64(i))
			}
			return thing{object: modes(r, f, uniform(r, 1, 4), uniform(r, .3, .8), .0005, q, l), heard: f, definition: 3}
		}},
		{"weak lowest", analysis.Unknown, func(r *rand.Rand) thing {
			f := logUniform(r, 80, 500)
			o := modes(r, f, uniform(r, 1, 4), .4, .001, []float64{1, 2, 3, 4, 5, 6}, []float64{-22, -4, 0, -3, -6, -10})
			return thing{object: o, heard: f, definition: 5}
		}},
		{"missing lowest", analysis.Unknown, func(r *rand.Rand) thing {
			f, first := logUniform(r, 120, 400), 2+r.IntN(2)
			var q, l []float64
			for i := range 3 + r.IntN(3) {
				q, l = append(q, float64(first+i)), append(l, 0)
			}
			return thing{object: modes(r, f, uniform(r, 2, 4), .1, .001, q, l), heard: f, definition: 5}
		}},
		{"kettledrum", analysis.Drum, func(r *rand.Rand) thing {
			f := logUniform(r, 100, 200)
			return lowest(modes(r, f, uniform(r, .6, 2), uniform(r, 0, .4), .008, []float64{1, 1.5, 1.98, 2.44, 2.9}, []float64{0, -4, -9, -14, -18}), f)
		}},
		{"loud upper", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 600, 1600)
			return lowest(modes(r, f, uniform(r, 2, 4), uniform(r, .6, .9), .01, []float64{1, 2.74, 5.3, 6.88}, []float64{-4, -13, -24, 0}), f)
		}},
		{"tine", analysis.Bar, func(r *rand.Rand) thing {
			f := logUniform(r, 150, 1200)
			return lowest(modes(r, f, uniform(r, .5, 2), .5, .01, []float64{1, 6.27, 17.55}, []float64{0, -14, -28}), f)
		}},
		{"blown", analysis.Blown, func(r *rand.Rand) thing {
			f := logUniform(r, 110, 900)
			o := object{modes: []mode{{f, 0, 1}}}
			for k := 2; k < 6; k++ {
				o.modes = append(o.modes, mode{f * float64(k), 0, fromDB(-uniform(r, 8, 14) * float64(k-1))})
			}
			return thing{object: o, heard: f, blown: true}
		}},
	}
}
