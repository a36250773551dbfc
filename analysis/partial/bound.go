package partial

import "math"

// Bound is the least standard deviation any unbiased estimator can reach: the
// Cramér-Rao bound.
type Bound struct {
	Omega float64 // rad a sample
	Decay float64 // neper a sample
	Log   float64 // of ln amplitude at the first sample of the window
}

// Bounds returns the Cramér-Rao bound of each component of ring when all are
// estimated together from the n samples that begin skip samples after the
// onset. noise[k] is the standard deviation that white noise of the power
// density at component k would have. A component that carries nothing, or two
// that are the same, give infinities.
//
// After D. C. Rife & R. R. Boorstyn, "Single tone parameter estimation from
// discrete-time observations", IEEE Trans. Inf. Theory 20 (1974), carried over
// to damped real waves.
func Bounds(ring []Component, skip, n int, noise []float64) []Bound {
	k := len(ring)
	out := make([]Bound, k)
	if k == 0 || n < 1 {
		return out
	}
	var s state
	s.resize(k)
	moved := make([]bool, k)
	set := make([]int, k)
	for i, c := range ring {
		s.w[i], s.d[i] = c.Omega, c.Decay
		s.c[i] = c.Amp * expi(c.Decay*float64(skip), c.Omega*float64(skip)) / complex(noise[i], 0)
		moved[i], set[i] = true, i
	}
	s.relate(moved, n)
	var m spd
	m.resize(4 * k)
	s.fisher(m.a, 4*k, set)
	if !m.prepare() || !m.factor(1e-14) {
		for i := range out {
			out[i] = Bound{math.Inf(1), math.Inf(1), math.Inf(1)}
		}
		return out
	}
	col := make([]float64, 4*k)
	sd := func(i int) float64 {
		m.column(col, i)
		return math.Sqrt(max(col[i], 0))
	}
	for i := range out {
		out[i] = Bound{Omega: sd(4*i + 2), Decay: sd(4*i + 3), Log: sd(4 * i)}
	}
	return out
}
