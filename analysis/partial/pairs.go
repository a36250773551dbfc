package partial

import "math"

// split fits two poles in place of pole i, all others held, from several
// starts: the scan's own peak, both sides of the line at several distances,
// around it, and one line of two decays. Amplitudes and phases need no starts,
// being solved for. It reports whether two win over one by more than noise
// does.
//
// One start at the peak of what is left finds equal members from
// split × T60 = 1 on; with these it is the noise that decides.
func (e *Estimator) split(i int, peak candidate, n int) (w, d [2]float64, ok bool) {
	s := e.joint.cur
	f := e.local
	f.n, f.wlo, f.whi, f.dlo, f.dhi = n, e.joint.wlo, e.joint.whi, e.joint.dlo, e.joint.dhi
	e.pairOf = i
	e.pairMom[0], e.pairMom[1] = e.mom[i], e.mom[i]
	for k := range e.pairSpare {
		e.pairSpare[k].refer(s.w[i])
	}
	// What the others leave: the residual and pole i. Only differences count.
	f.yy = 0
	if !f.start(s.w[i:i+1], s.d[i:i+1]) {
		return w, d, false
	}
	f.yy = s.energy - f.cur.energy
	f.cur.energy = s.energy
	f.run(6)
	single := f.cur.energy

	width := s.d[i] + 2/float64(n)
	wi, di := s.w[i], s.d[i]
	type start struct{ w, d [2]float64 }
	starts := [...]start{
		{[2]float64{wi, peak.w}, [2]float64{di, max(di/2, peak.d)}},
		{[2]float64{wi, peak.w}, [2]float64{di, di}},
		{[2]float64{wi - 0.3*width, wi + 0.3*width}, [2]float64{di, di}},
		{[2]float64{wi - 0.8*width, wi + 0.8*width}, [2]float64{di, di}},
		{[2]float64{wi - 1.6*width, wi + 1.6*width}, [2]float64{di, di}},
		{[2]float64{wi, wi + 0.7*width}, [2]float64{di, di}},
		{[2]float64{wi, wi - 0.7*width}, [2]float64{di, di}},
		{[2]float64{wi, wi + 1.5*width}, [2]float64{di, di}},
		{[2]float64{wi, wi - 1.5*width}, [2]float64{di, di}},
		{[2]float64{wi - 0.05*width, wi + 0.05*width}, [2]float64{0.6 * di, 2 * di}},
	}
	// The three best of the starts are followed to their end.
	var score [len(starts)]float64
	for k, st := range starts {
		score[k] = math.Inf(1)
		if f.start(st.w[:], st.d[:]) {
			score[k] = f.cur.energy
		}
	}
	best, unequal := math.Inf(1), 1.0
	for range 3 {
		k := 0
		for j := range score {
			if score[j] < score[k] {
				k = j
			}
		}
		if math.IsInf(score[k], 1) {
			break
		}
		score[k] = math.Inf(1)
		if !f.start(starts[k].w[:], starts[k].d[:]) {
			continue
		}
		f.run(12)
		if f.cur.energy < best {
			best = f.cur.energy
			copy(w[:], f.cur.w)
			copy(d[:], f.cur.d)
			a := abs2(f.cur.c[0]) * real(f.cur.diff[0].s0)
			b := abs2(f.cur.c[1]) * real(f.cur.diff[3].s0)
			unequal = max(a, b) / max(min(a, b), 1e-300)
		}
	}
	// Σr² falls by twice the log of the likelihood ratio. For one line in
	// noise the gain of a second is about χ² with four degrees of freedom:
	// more than 25 in one case of ten thousand.
	return w, d, single-best > 2*onLineThreshold()+4 && dB(unequal) < withinLine
}

// localMoments gives the moments of what the poles but pairOf leave.
func (e *Estimator) localMoments(k int, w, d float64) (z0, z1 complex128) {
	f, s := e.local, e.joint.cur
	m := e.pairMom[k]
	if math.Abs(w-m.w0)*(block/2) > maxDrift {
		m = &e.pairSpare[k]
		if math.Abs(w-m.w0)*(block/2) > maxDrift {
			m.refer(w)
		}
		e.pairMom[k] = m
	}
	m.extend(e.uv, f.n/block)
	z0, z1 = m.at(w, d, f.n/block)
	z, zn := expi(d, w), expi(d*float64(f.n), w*float64(f.n))
	for j, c := range s.c {
		if j == e.pairOf {
			continue
		}
		zj := s.z[j]
		p := geometric(z*conj(zj), zn*conj(s.zn[j]), f.n)
		q := geometric(z*zj, zn*s.zn[j], f.n)
		z0 -= 0.5 * (c*q.s0 + conj(c)*p.s0)
		z1 -= 0.5 * (c*q.s1 + conj(c)*p.s1)
	}
	return z0, z1
}
