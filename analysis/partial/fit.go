package partial

import "math"

// fitter finds the poles that leave least: the maximum of the likelihood for
// white noise. Amplitudes are linear and are solved for at every trial
// (variable projection: Golub & Pereyra, SIAM J. Numer. Anal. 10, 1973, from
// memory, unchecked); frequencies and dampings move by Levenberg's and
// Marquardt's damped Gauss-Newton steps from the closed-form Fisher matrix.
type fitter struct {
	n        int     // samples in the window
	yy       float64 // Σ y²
	wlo, whi float64 // ω stays between them
	dlo, dhi float64 // d stays between them

	// at gives the data's moments Σ y·z^n and Σ n·y·z^n of pole i at (w, d).
	at func(i int, w, d float64) (z0, z1 complex128)

	cur, try *state
	lin, lm  spd
	rhs      []float64
	active   []bool
	moved    []bool
	set      []int
	group    []int
	step     []float64
	steps    int // of the last run, for tests and benchmarks
}

func newFitter() *fitter { return &fitter{cur: &state{}, try: &state{}} }

// amplitudes solves for s.c and sets s.energy.
func (f *fitter) amplitudes(s *state) bool {
	k := len(s.w)
	f.lin.resize(2 * k)
	f.rhs = grown(f.rhs, 2*k)
	a, n := f.lin.a, 2*k
	for i := range k {
		for j := range k {
			p, q := s.diff[i*k+j].s0, s.sum[i*k+j].s0
			o := a[2*i*n+2*j:]
			o[0] = 0.5 * (real(p) + real(q))
			o[1] = 0.5 * (imag(p) - imag(q))
			o = o[n:]
			o[0] = 0.5 * (-imag(p) - imag(q))
			o[1] = 0.5 * (real(p) - real(q))
		}
		f.rhs[2*i] = real(s.z0[i])
		f.rhs[2*i+1] = -imag(s.z0[i])
	}
	// The ridge keeps two equal poles solvable; 1e-11 of the diagonal biases
	// amplitudes by less than rounding does.
	if !f.lin.prepare() || !f.lin.factor(1e-11) {
		return false
	}
	f.lin.solve(f.rhs)
	var won float64
	for i := range k {
		re, im := f.rhs[2*i], f.rhs[2*i+1]
		s.c[i] = complex(re, im)
		won += re*real(s.z0[i]) - im*imag(s.z0[i])
	}
	s.energy = f.yy - won
	return !math.IsNaN(s.energy) && !math.IsInf(s.energy, 0)
}

// evaluate brings s up to date after the marked poles moved.
func (f *fitter) evaluate(s *state, moved []bool) bool {
	for i := range s.w {
		if moved[i] {
			s.z0[i], s.z1[i] = f.at(i, s.w[i], s.d[i])
		}
	}
	s.relate(moved, f.n)
	return f.amplitudes(s)
}

// start puts the fit at the given poles.
func (f *fitter) start(w, d []float64) bool {
	k := len(w)
	f.cur.resize(k)
	for i := range k {
		f.cur.w[i] = min(max(w[i], f.wlo), f.whi)
		f.cur.d[i] = min(max(d[i], f.dlo), f.dhi)
	}
	f.active = grown(f.active, k)
	for i := range f.active {
		f.active[i] = true
	}
	if k == 0 {
		f.cur.energy = f.yy
		return true
	}
	return f.evaluate(f.cur, f.active)
}

// place moves to the poles (w, d). The first of them are the poles kept of the
// present point, where not marked changed; only what is new is summed anew.
func (f *fitter) place(w, d []float64, kept []int, changed []bool) bool {
	s, old, k := f.try, f.cur, len(w)
	n := len(old.w)
	s.resize(k)
	f.active = grown(f.active, k)
	f.moved = grown(f.moved, k)
	for i := range k {
		s.w[i] = min(max(w[i], f.wlo), f.whi)
		s.d[i] = min(max(d[i], f.dlo), f.dhi)
		f.active[i] = true
		f.moved[i] = i >= len(kept) || changed[i]
		if f.moved[i] {
			continue
		}
		a := kept[i]
		s.z0[i], s.z1[i], s.z[i], s.zn[i] = old.z0[a], old.z1[a], old.z[a], old.zn[a]
		for j := range i {
			if !f.moved[j] {
				b := kept[j]
				s.diff[i*k+j], s.diff[j*k+i] = old.diff[a*n+b], old.diff[b*n+a]
				s.sum[i*k+j], s.sum[j*k+i] = old.sum[a*n+b], old.sum[b*n+a]
			}
		}
		s.diff[i*k+i], s.sum[i*k+i] = old.diff[a*n+a], old.sum[a*n+a]
	}
	f.cur, f.try = s, old
	if k == 0 {
		f.cur.energy = f.yy
		return true
	}
	return f.evaluate(f.cur, f.moved)
}

// strangers is the squared correlation below which two poles are moved apart
// from each other: the gradient is exact all the same, only the curvature
// between them is left out, at the price of a step more. 0.1 takes two steps
// more in short windows, 0.001 solves large systems for nothing.
const strangers = 0.01

// groups labels the poles so that coupled ones share a label.
func (f *fitter) groups() int {
	s, k := f.cur, len(f.cur.w)
	f.group = grown(f.group, k)
	for i := range k {
		f.group[i] = -1
	}
	n := 0
	for i := range k {
		if f.group[i] >= 0 {
			continue
		}
		f.group[i] = n
		f.set = append(f.set[:0], i)
		for len(f.set) > 0 {
			a := f.set[len(f.set)-1]
			f.set = f.set[:len(f.set)-1]
			for b := range k {
				if f.group[b] < 0 && s.couple(a, b) > strangers {
					f.group[b] = n
					f.set = append(f.set, b)
				}
			}
		}
		n++
	}
	return n
}

// members collects the poles of group g into f.set and tells whether any of
// them is still moving.
func (f *fitter) members(g int) bool {
	f.set = f.set[:0]
	moving := false
	for i, gi := range f.group {
		if gi == g {
			f.set = append(f.set, i)
			moving = moving || f.active[i]
		}
	}
	return moving
}

// propose fills f.step with (Δω, Δd) of all poles for Marquardt's λ.
func (f *fitter) propose(groups int, lambda float64) bool {
	s := f.cur
	f.step = grown(f.step, 2*len(s.w))
	clear(f.step)
	for g := range groups {
		if !f.members(g) {
			continue
		}
		n := 4 * len(f.set)
		f.lm.resize(n)
		s.fisher(f.lm.a, n, f.set)
		f.rhs = grown(f.rhs, n)
		for a, i := range f.set {
			f.active[i] = true
			r := s.left(i)
			v := s.c[i] * r
			f.rhs[4*a], f.rhs[4*a+1] = 0, 0
			f.rhs[4*a+2] = -imag(v)
			f.rhs[4*a+3] = -real(v)
		}
		if !f.lm.prepare() || !f.lm.factor(lambda) {
			return false
		}
		f.lm.solve(f.rhs)
		for a, i := range f.set {
			f.step[2*i], f.step[2*i+1] = f.rhs[4*a+2], f.rhs[4*a+3]
		}
	}
	return true
}

// run takes at most most steps and reports whether the fit is sound. It ends
// where a step moves every pole by less than 1e-4 of its line width or wins
// less than 0.001 of the noise's variance: a thirtieth of a standard deviation.
func (f *fitter) run(most int) bool {
	f.steps = 0
	if len(f.cur.w) == 0 {
		return true
	}
	lambda := 1e-3
	for range most {
		groups := f.groups()
		won, ok := 0.0, false
		for range 7 {
			if f.propose(groups, lambda) {
				f.try.from(f.cur)
				f.bound()
				if f.evaluate(f.try, f.active) && f.try.energy <= f.cur.energy+1e-13*f.yy {
					ok = true
					break
				}
			}
			lambda = max(lambda*8, 1e-6)
		}
		if !ok {
			break
		}
		f.steps++
		won = f.cur.energy - f.try.energy
		moving := false
		for i := range f.cur.w {
			width := f.cur.d[i] + 1/float64(f.n)
			m := math.Abs(f.try.w[i]-f.cur.w[i]) + math.Abs(f.try.d[i]-f.cur.d[i])
			f.active[i] = f.active[i] && m > 1e-4*width
			moving = moving || f.active[i]
		}
		f.cur, f.try = f.try, f.cur
		lambda = max(lambda/10, 1e-9)
		if !moving || won < 1e-3 {
			break
		}
	}
	return true
}

// bound applies the step to f.try: at most two line widths at a time, and
// never out of the range a sampled wave can have.
func (f *fitter) bound() {
	for i := range f.try.w {
		if !f.active[i] {
			continue
		}
		most := 0.5 * (f.cur.d[i] + 4/float64(f.n))
		w := f.cur.w[i] + min(max(f.step[2*i], -2*most), 2*most)
		d := f.cur.d[i] + min(max(f.step[2*i+1], -most), most)
		f.try.w[i] = min(max(w, f.wlo), f.whi)
		f.try.d[i] = min(max(d, f.dlo), f.dhi)
	}
}
