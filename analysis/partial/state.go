package partial

import "math"

// state is one point of a fit: the poles, what the data say at them, and all
// inner products among them.
type state struct {
	w, d   []float64    // rad and neper a sample
	c      []complex128 // amplitudes at the first sample of the window, by least squares
	z0, z1 []complex128 // Σ y·z^n, Σ n·y·z^n
	z      []complex128
	zn     []complex128 // z^N
	diff   []sums       // [i*k+j]: sums of z_i·z_j*
	sum    []sums       // [i*k+j]: sums of z_i·z_j
	energy float64      // what the model leaves: Σ (y - model)²
}

func grown[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, 2*n)
	}
	return s[:n]
}

func (s *state) resize(k int) {
	s.w, s.d = grown(s.w, k), grown(s.d, k)
	s.c, s.z0, s.z1 = grown(s.c, k), grown(s.z0, k), grown(s.z1, k)
	s.z, s.zn = grown(s.z, k), grown(s.zn, k)
	s.diff, s.sum = grown(s.diff, k*k), grown(s.sum, k*k)
}

// from makes s a copy of o, ready for some of its poles to move.
func (s *state) from(o *state) {
	s.resize(len(o.w))
	copy(s.w, o.w)
	copy(s.d, o.d)
	copy(s.c, o.c)
	copy(s.z0, o.z0)
	copy(s.z1, o.z1)
	copy(s.z, o.z)
	copy(s.zn, o.zn)
	copy(s.diff, o.diff)
	copy(s.sum, o.sum)
	s.energy = o.energy
}

func expi(d, w float64) complex128 {
	g := math.Exp(-d)
	sn, cs := math.Sincos(w)
	return complex(g*cs, g*sn)
}

func conj(z complex128) complex128 { return complex(real(z), -imag(z)) }

func abs2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// relate computes the sums of every pair one of whose poles moved, over n
// samples.
func (s *state) relate(moved []bool, n int) {
	k := len(s.w)
	for i := range k {
		if moved[i] {
			s.z[i] = expi(s.d[i], s.w[i])
			s.zn[i] = expi(s.d[i]*float64(n), s.w[i]*float64(n))
		}
	}
	for i := range k {
		zi := s.z[i]
		for j := range i + 1 {
			if !moved[i] && !moved[j] {
				continue
			}
			zj := s.z[j]
			p := geometric(zi*conj(zj), s.zn[i]*conj(s.zn[j]), n)
			q := geometric(zi*zj, s.zn[i]*s.zn[j], n)
			s.diff[i*k+j], s.sum[i*k+j] = p, q
			if i != j {
				s.diff[j*k+i] = sums{conj(p.s0), conj(p.s1), conj(p.s2)}
				s.sum[j*k+i] = q
			}
		}
	}
}

// couple returns the squared correlation of the waves of poles i and j: 0 for
// strangers, 1 for the same wave.
func (s *state) couple(i, j int) float64 {
	k := len(s.w)
	ii, jj := real(s.diff[i*k+i].s0), real(s.diff[j*k+j].s0)
	a := (abs2(s.diff[i*k+j].s0) + abs2(s.sum[i*k+j].s0)) / (ii * jj)
	ii, jj = real(s.diff[i*k+i].s2), real(s.diff[j*k+j].s2)
	return max(a, (abs2(s.diff[i*k+j].s2)+abs2(s.sum[i*k+j].s2))/(ii*jj))
}

// left returns what the data say beyond the model at pole i:
// Σ n^p·(y - model)·z_i^n for p = 1 (for p = 0 it is nought, the amplitudes
// being the least-squares ones).
func (s *state) left(i int) complex128 {
	k := len(s.w)
	var x complex128
	for j, c := range s.c {
		x += c*s.sum[i*k+j].s1 + conj(c)*s.diff[i*k+j].s1
	}
	return s.z1[i] - x/2
}

// fisher writes into g (side 4·len(set), row length ld) the inner products of
// the derivatives of the model by (ln a, φ, ω, d) of the poles in set. For
// noise of unit variance that is the Fisher information.
func (s *state) fisher(g []float64, ld int, set []int) {
	k := len(s.w)
	for a, i := range set {
		ci := s.c[i]
		for b, j := range set[:a+1] {
			p, q := &s.diff[i*k+j], &s.sum[i*k+j]
			// u·v* and u·v for u = c_i, v = c_j; the columns are c, jc, n·jc, -n·c.
			x, y := ci*conj(s.c[j]), ci*s.c[j]
			d0, m0 := x*p.s0, y*q.s0
			d1, m1 := x*p.s1, y*q.s1
			d2, m2 := x*p.s2, y*q.s2
			o := g[4*a*ld+4*b:]
			// ln a row
			o[0] = 0.5 * (real(d0) + real(m0))
			o[1] = 0.5 * (imag(d0) - imag(m0))
			o[2] = 0.5 * (imag(d1) - imag(m1))
			o[3] = -0.5 * (real(d1) + real(m1))
			// φ row: u = jc
			o = o[ld:]
			o[0] = 0.5 * (-imag(d0) - imag(m0))
			o[1] = 0.5 * (real(d0) - real(m0))
			o[2] = 0.5 * (real(d1) - real(m1))
			o[3] = 0.5 * (imag(d1) + imag(m1))
			// ω row
			o = o[ld:]
			o[0] = 0.5 * (-imag(d1) - imag(m1))
			o[1] = 0.5 * (real(d1) - real(m1))
			o[2] = 0.5 * (real(d2) - real(m2))
			o[3] = 0.5 * (imag(d2) + imag(m2))
			// d row: u = -c
			o = o[ld:]
			o[0] = -0.5 * (real(d1) + real(m1))
			o[1] = -0.5 * (imag(d1) - imag(m1))
			o[2] = -0.5 * (imag(d2) - imag(m2))
			o[3] = 0.5 * (real(d2) + real(m2))
			if a != b {
				for r := range 4 {
					for t := range 4 {
						g[(4*b+t)*ld+4*a+r] = g[(4*a+r)*ld+4*b+t]
					}
				}
			}
		}
	}
}
