package hearing

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis"
)

// heardCase is one strike whose pitch is known.
type heardCase struct {
	name     string
	partials []analysis.Partial
	hz       float64 // what is heard
	within   float64 // cents
}

// family makes objects of one kind whose heard pitch is published or agreed.
type family struct {
	name string
	kind analysis.Kind
	make func(r *rand.Rand) heardCase
}

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// logUniform is uniform in the logarithm.
func logUniform(r *rand.Rand, lo, hi float64) float64 {
	return math.Exp(uniform(r, math.Log(lo), math.Log(hi)))
}

// object is a list of partials: ratios to f1, levels in dB, T60 of the first in
// seconds, and how fast T60 falls with the ratio. Ratios scatter by the share
// given, levels by 4 dB and T60 by 30 %, one standard deviation each.
func object(r *rand.Rand, f1, t60, fall, scatter float64, ratios, levels []float64) []analysis.Partial {
	ps := make([]analysis.Partial, len(ratios))
	top := math.Inf(-1)
	for i, q := range ratios {
		f := f1 * q
		if i > 0 {
			f *= 1 + scatter*r.NormFloat64()
		}
		ps[i] = analysis.Partial{
			Frequency: analysis.Hz(f),
			Sigma:     0.1,
			Level:     levels[i] + 4*r.NormFloat64(),
			T60:       max(0.03, t60*math.Pow(q/ratios[0], -fall)*(1+0.3*r.NormFloat64())),
		}
		top = max(top, ps[i].Level)
	}
	kept := ps[:0]
	for _, p := range ps {
		p.Level -= top
		if p.Level > -45 && p.Frequency < 18000 {
			kept = append(kept, p)
		}
	}
	return kept
}

// slope gives n levels that fall by db from one to the next.
func slope(n int, db float64) []float64 {
	l := make([]float64, n)
	for i := range l {
		l[i] = -db * float64(i)
	}
	return l
}

// families are the objects of the trade. Ratios: thin free bar from
// cos x cosh x = 1; tuned bars 1:4:10 and 1:3:6 and handbells (second mode a
// twelfth up, no strike note) as in Rossing, Science of Percussion Instruments
// (from memory, unchecked); bells after the founders' names hum, prime, tierce,
// quint, nominal, twelfth, double octave 1:2:2.4:3:4:6:8 with the strike note
// an octave under the nominal (Terhardt & Seewann 1984); glasses, bowls,
// handbell and tabla from the mode tables compiled by J. Bower in the Csound
// manual's appendix E; membranes and timpani as in Rossing.
func families() []family {
	lowest := func(ps []analysis.Partial, f1 float64) heardCase { return heardCase{partials: ps, hz: f1, within: 50} }
	return []family{
		{"metal bar", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 250, 2500)
			return lowest(object(r, f, uniform(r, 1, 5), uniform(r, .3, .9), .01, []float64{1, 2.757, 5.404, 8.933}, []float64{0, -6, -12, -18}), f)
		}},
		{"wooden plank", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 150, 1200)
			return lowest(object(r, f, uniform(r, .12, .5), uniform(r, .4, .9), .02, []float64{1, 2.65, 4.9, 7.6}, []float64{0, -5, -12, -20}), f)
		}},
		{"bar struck off its middle", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 250, 1200)
			return lowest(object(r, f, uniform(r, .3, 3), uniform(r, .6, .9), .01, []float64{1, 2.74, 5.3}, []float64{-2, 0, -6}), f)
		}},
		{"bar tuned 1:4:10", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 110, 1500)
			return lowest(object(r, f, uniform(r, .5, 5), uniform(r, .6, 1), .004, []float64{1, 4, 9.8}, []float64{0, -12, -20}), f)
		}},
		{"bar tuned 1:3:6", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 200, 2500)
			return lowest(object(r, f, uniform(r, .2, 1), uniform(r, .5, .9), .004, []float64{1, 3, 6}, []float64{0, -10, -18}), f)
		}},
		{"glass or bowl", analysis.Glass, func(r *rand.Rand) heardCase {
			f := logUniform(r, 250, 2500)
			return lowest(object(r, f, uniform(r, 1, 5), uniform(r, .3, .9), .02, []float64{1, 2.32, 4.25, 6.63, 9.38}, []float64{0, -6, -10, -16, -22}), f)
		}},
		{"thick bowl", analysis.Glass, func(r *rand.Rand) heardCase {
			f := logUniform(r, 150, 900)
			return lowest(object(r, f, uniform(r, 2, 12), uniform(r, .6, .9), .02, []float64{1, 2.74, 5.05, 7.9, 11.2}, []float64{0, -4, -9, -15, -20}), f)
		}},
		{"struck bottle", analysis.Bottle, func(r *rand.Rand) heardCase {
			f := logUniform(r, 700, 2600)
			return lowest(object(r, f, uniform(r, .15, .8), uniform(r, .3, .6), .03, []float64{1, 2.33, 2.89, 4.21, 5.69}, []float64{0, -5, -11, -13, -20}), f)
		}},
		{"tile or pot", analysis.Plate, func(r *rand.Rand) heardCase {
			f := logUniform(r, 400, 2500)
			return lowest(object(r, f, uniform(r, .1, .5), uniform(r, .4, .8), .03, []float64{1, 1.46, 1.8, 2.58, 4.6}, []float64{0, -8, -9, -13, -22}), f)
		}},
		{"handbell", analysis.Bell, func(r *rand.Rand) heardCase {
			f := logUniform(r, 250, 2000)
			return lowest(object(r, f, uniform(r, 2, 8), uniform(r, .5, 1), .01, []float64{1, 3, 1.8, 2.52, 3.79, 4.57}, []float64{0, -6, -22, -22, -25, -28}), f)
		}},
		{"church bell", analysis.Bell, func(r *rand.Rand) heardCase {
			f := logUniform(r, 250, 800)
			ps := object(r, f/2, uniform(r, 4, 14), uniform(r, .7, 1.2), .008,
				[]float64{1, 2, 2.4, 3, 4, 5, 5.33, 6, 8, 10.66},
				[]float64{-10, -6, 0, -15, 0, -12, -14, -3, -8, -15})
			return heardCase{partials: ps, hz: f, within: 60}
		}},
		{"bell with a sharp prime", analysis.Bell, func(r *rand.Rand) heardCase {
			f := logUniform(r, 300, 700)
			p := uniform(r, 1.06, 1.12)
			ps := object(r, f/2, uniform(r, 4, 14), uniform(r, .7, 1.2), .008,
				[]float64{1, 2 * p, 2.45, 3.2, 4, 5, 5.4, 5.92, 7.8, 10},
				[]float64{-10, -6, 0, -15, 0, -12, -14, -3, -8, -15})
			return heardCase{partials: ps, hz: f, within: 60}
		}},
		{"tubular bell", analysis.Bell, func(r *rand.Rand) heardCase {
			f := logUniform(r, 260, 700) // C4 to F5
			ps := object(r, 2*f/8.933, uniform(r, 5, 15), uniform(r, .2, .5), .008,
				[]float64{2.757, 5.404, 8.933, 13.344, 18.638, 24.81},
				[]float64{-20, -13, 0, -5, -10, -16})
			return heardCase{partials: ps, hz: f, within: 80}
		}},
		{"string", analysis.Unknown, func(r *rand.Rand) heardCase {
			f := logUniform(r, 70, 1000)
			n := 4 + r.IntN(8)
			l := slope(n, uniform(r, 1, 5))
			for i := range l {
				l[i] += 4 * r.NormFloat64()
			}
			q := make([]float64, n)
			for i := range q { // a little stiff
				q[i] = float64(i+1) * math.Sqrt(1+2e-4*float64(i*i))
			}
			return lowest(object(r, f, uniform(r, 1, 6), uniform(r, .3, .8), .0005, q, l), f)
		}},
		{"weak fundamental", analysis.Unknown, func(r *rand.Rand) heardCase {
			f := logUniform(r, 80, 500)
			return lowest(object(r, f, uniform(r, 1, 6), .4, .001, []float64{1, 2, 3, 4, 5, 6}, []float64{-22, -4, 0, -3, -6, -10}), f)
		}},
		{"missing fundamental", analysis.Unknown, func(r *rand.Rand) heardCase {
			f := logUniform(r, 120, 400)
			first := 2 + r.IntN(3)
			n := 3 + r.IntN(3)
			ps := make([]analysis.Partial, n)
			for i := range ps {
				ps[i] = analysis.Partial{Frequency: analysis.Hz(f * float64(first+i) * (1 + .002*r.NormFloat64())), Level: -2 * r.Float64(), T60: 4}
			}
			return heardCase{partials: ps, hz: f, within: 50}
		}},
		{"steel drum", analysis.Drum, func(r *rand.Rand) heardCase {
			f := logUniform(r, 200, 1000)
			return lowest(object(r, f, uniform(r, .3, 1.5), uniform(r, .1, .5), .005, []float64{1, 2, 3, 4}, []float64{-4, 0, -14, -10}), f)
		}},
		{"timpani", analysis.Drum, func(r *rand.Rand) heardCase {
			f := logUniform(r, 70, 180)
			return lowest(object(r, f, uniform(r, .6, 2), uniform(r, 0, .4), .01, []float64{1, 1.5, 1.98, 2.44, 2.9}, []float64{0, -3, -8, -14, -18}), f)
		}},
		{"tine", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 150, 1500)
			return lowest(object(r, f, uniform(r, .5, 2), .5, .01, []float64{1, 6.27, 17.55}, []float64{0, -16, -30}), f)
		}},
		{"loud upper mode", analysis.Bar, func(r *rand.Rand) heardCase {
			f := logUniform(r, 600, 1600)
			return lowest(object(r, f, uniform(r, 2, 6), uniform(r, .6, .9), .01, []float64{1, 2.74, 5.3, 6.88, 10.5}, []float64{-3, -13, -24, 0, -16}), f)
		}},
	}
}
