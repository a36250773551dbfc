package accuracy

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

// rate of all sound made here.
const rate analysis.Rate = 48000

// mode is one damped wave of an object, as it truly is.
type mode struct {
	f, t60 float64 // Hz, s
	amp    float64 // at the onset, strongest mode 1
}

// object is a thing that can be struck.
type object struct {
	kind  string
	modes []mode
}

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func logUniform(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(r.Float64()*math.Log(hi/lo))
}

func fromDB(db float64) float64 { return math.Pow(10, db/20) }

// kinds of objects. Their ratios are the ideal ones of the free bar (1, 2.757,
// 5.404, 8.933: Euler-Bernoulli, Fletcher & Rossing, The Physics of Musical
// Instruments, from memory) or of a church bell (hum 0.5, prime 1, tierce 1.2,
// quint 1.5, nominal 2, ...: ibid.), scattered; plain draws where there is no
// law.
var kinds = []string{"wood bar", "metal bar", "bowl", "bell", "tile", "any"}

// draw makes an object of a kind.
func draw(kind string, r *rand.Rand) object {
	o := object{kind: kind}
	add := func(f, t60, db float64) {
		if f > 60 && f < 16000 {
			o.modes = append(o.modes, mode{f, t60, fromDB(db)})
		}
	}
	bar := []float64{1, 2.757, 5.404, 8.933}
	switch kind {
	case "wood bar":
		f, t, p := uniform(r, 200, 1200), uniform(r, .12, .5), uniform(r, .4, .9)
		db := 0.0
		for k, q := range bar {
			if k > 0 {
				q *= 1 + uniform(r, -.04, .02)
				db -= uniform(r, 3, 12)
			}
			add(f*q, t*math.Pow(q, -p), db)
		}
	case "metal bar":
		f, t, p := uniform(r, 250, 1500), uniform(r, 1, 4), uniform(r, .3, .9)
		for k, q := range bar {
			db := 0.0
			if k > 0 {
				q *= 1 + uniform(r, -.03, .01)
				db = -uniform(r, 0, 35)
			}
			add(f*q, t*math.Pow(q, -p), db)
		}
	case "bowl": // every mode a pair
		f, t, p := uniform(r, 220, 900), uniform(r, 1, 4), uniform(r, .3, .8)
		for k, q := range []float64{1, 2.3, 4.2, 6.6, 9.4} {
			q *= 1 + uniform(r, -.05, .05)
			db := 0.0
			if k > 0 {
				db = -uniform(r, 0, 30)
			}
			split := min(logUniform(r, .6, 6)*math.Sqrt(q), 8)
			a, b := 0.0, -uniform(r, 0, 15)
			if r.IntN(2) == 0 {
				a, b = b, a
			}
			tt := t * math.Pow(q, -p)
			add(f*q-split/2, tt*uniform(r, .85, 1.15), db+a)
			add(f*q+split/2, tt*uniform(r, .85, 1.15), db+b)
		}
	case "bell":
		f, t, p := uniform(r, 250, 700), uniform(r, 2, 4), uniform(r, .5, .9)
		level := []float64{10, 3, 0, 12, 0, 12, 14, 4, 8, 15}
		for k, q := range []float64{.5, 1, 1.2, 1.5, 2, 2.5, 2.67, 3, 4.15, 5.4} {
			q *= 1 + uniform(r, -.01, .01)
			add(f*q, t*math.Pow(q/.5, -p), -level[k]-uniform(r, 0, 5))
		}
	case "tile":
		f := uniform(r, 500, 2500)
		add(f, uniform(r, .05, .35), -uniform(r, 0, 25))
		for range 4 {
			add(f*uniform(r, 1.25, 5), uniform(r, .05, .35), -uniform(r, 0, 25))
		}
	default: // the whole of the distributions
		for range 1 + r.IntN(20) {
			f, t, db := logUniform(r, 100, 6000), logUniform(r, .05, 4), -uniform(r, 0, 40)
			add(f, t, db)
			if r.IntN(5) == 0 {
				add(f+uniform(r, .3, 8), t*uniform(r, .8, 1.25), db-uniform(r, 0, 15))
			}
		}
	}
	top := 0.0
	for _, m := range o.modes {
		top = max(top, m.amp)
	}
	for k := range o.modes {
		o.modes[k].amp /= top
	}
	return o
}

// ring gives the object's modes random phases.
func (o object) ring(r *rand.Rand) []partial.Component {
	ring := make([]partial.Component, len(o.modes))
	for k, m := range o.modes {
		s, c := math.Sincos(2 * math.Pi * r.Float64())
		ring[k] = component(m, complex(m.amp*c, m.amp*s))
	}
	return ring
}

func component(m mode, amp complex128) partial.Component {
	return partial.Component{
		Omega: 2 * math.Pi * m.f / float64(rate),
		Decay: analysis.LnThousand / (m.t60 * float64(rate)),
		Amp:   amp,
	}
}

// click adds the contact of a mallet: noise that dies within 2 to 5 ms.
func click(x []float64, amp float64, r *rand.Rand) {
	n := int(uniform(r, .002, .005) * float64(rate))
	for i := range min(n, len(x)) {
		x[i] += amp * r.NormFloat64() * math.Exp(-3*float64(i)/float64(n))
	}
}
