package accuracy

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis/partial"
)

// score counts what readings got right, over many strikes.
type score struct {
	strikes            int
	detectable, missed int
	spurious           int
	pitched            int
	freq, ring         []float64 // error over the bound, of matched partials
	cents              []float64 // |error|
	insideF, countF    int       // within two sigma
	insideT, countT    int
	failed             []string  // strikes that missed or invented something
	told, asOne, third int       // pairs told apart, told as one, made three of; also: faults noticed
	could              []float64 // pairs: the chance the sound itself gives of being told apart
	since              [][3]float64
	bound              []float64
}

func (s *score) join(o *score) {
	s.strikes += o.strikes
	s.detectable += o.detectable
	s.missed += o.missed
	s.spurious += o.spurious
	s.pitched += o.pitched
	s.freq = append(s.freq, o.freq...)
	s.ring = append(s.ring, o.ring...)
	s.cents = append(s.cents, o.cents...)
	s.insideF += o.insideF
	s.countF += o.countF
	s.insideT += o.insideT
	s.countT += o.countT
	s.failed = append(s.failed, o.failed...)
	s.told += o.told
	s.asOne += o.asOne
	s.third += o.third
	s.could = append(s.could, o.could...)
	s.since = append(s.since, o.since...)
	s.bound = append(s.bound, o.bound...)
}

// match pairs reported partials with true ones, nearest first, each once: m[k]
// is the reported index for true k, or -1.
func match(t take, r partial.Reading, bounds []partial.Bound) (m []int, free []bool) {
	type pair struct {
		k, j int
		away float64
	}
	hz := float64(rate) / (2 * math.Pi)
	var all []pair
	for k, o := range t.object.modes {
		for j, p := range r.Partials {
			away := math.Abs(float64(p.Frequency) - o.f)
			gap := math.Inf(1)
			for q, other := range t.object.modes {
				if q != k {
					gap = min(gap, math.Abs(other.f-o.f))
				}
			}
			// As near as its line is wide, but nearer to it than to the next.
			if away < max(6*bounds[k].Omega*hz, min(0.5+2.2/o.t60, 0.45*gap)) {
				all = append(all, pair{k, j, away})
			}
		}
	}
	slices.SortFunc(all, func(a, b pair) int { return cmp.Compare(a.away, b.away) })
	m, free = make([]int, len(t.object.modes)), make([]bool, len(r.Partials))
	for k := range m {
		m[k] = -1
	}
	for j := range free {
		free[j] = true
	}
	for _, p := range all {
		if m[p.k] < 0 && free[p.j] {
			m[p.k], free[p.j] = p.j, false
		}
	}
	return m, free
}

// judge adds one reading.
func (s *score) judge(t take, r partial.Reading, name string) {
	s.strikes++
	skip := int(contact * float64(rate))
	n := min(len(t.sound)-skip, int(2.5*float64(rate)))
	b := partial.Bounds(t.ring, skip, n, t.noise)
	m, free := match(t, r, b)
	eta := math.Log(4 * float64(n) / 0.01)
	bad := false
	for k, o := range t.object.modes {
		c := t.ring[k]
		detectable := detectable(o, c, t.noise[k], b[k], skip, n, eta)
		if detectable {
			s.detectable++
			if m[k] < 0 {
				s.missed++
				bad = true
			}
		}
		if m[k] < 0 || !detectable {
			continue
		}
		p := r.Partials[m[k]]
		err := float64(p.Frequency) - o.f
		s.freq = append(s.freq, err/(b[k].Omega*float64(rate)/(2*math.Pi)))
		cents := 1200 * math.Log2(float64(p.Frequency)/o.f)
		s.cents = append(s.cents, math.Abs(cents))
		s.countF++
		if math.Abs(cents) <= 2*float64(p.Sigma) {
			s.insideF++
		}
		if p.T60 > 0 {
			s.ring = append(s.ring, (p.T60-o.t60)/o.t60/(b[k].Decay/c.Decay))
			s.countT++
			if math.Abs(p.T60-o.t60) <= 2*p.SigmaT60 {
				s.insideT++
			}
		}
	}
	for _, f := range free {
		if f {
			s.spurious++
			bad = true
		}
	}
	if r.Pitched {
		s.pitched++
	}
	if bad {
		s.failed = append(s.failed, name)
	}
}

func rms(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// trimmed is the root mean square without the worst twentieth, over what that
// leaves of a normal deviate (0.874), so that an efficient estimator reads 1.
func trimmed(v []float64) float64 {
	if len(v) < 20 {
		return rms(v)
	}
	a := slices.Clone(v)
	for i := range a {
		a[i] = math.Abs(a[i])
	}
	slices.Sort(a)
	return rms(a[:len(a)-len(a)/20]) / 0.874
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	a := slices.Clone(v)
	slices.Sort(a)
	return a[min(int(q*float64(len(a))), len(a)-1)]
}

func mean(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
