package partial

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/lapack/gonum"
)

var lapack gonum.Implementation

// spd solves symmetric positive definite systems of its own size, again and
// again, in memory it keeps. Rows and columns are scaled to a unit diagonal
// first: phases, frequencies and dampings differ by many powers of ten.
type spd struct {
	n     int
	a     []float64 // n×n by rows; the caller fills it, whole
	scale []float64
	f     []float64 // Cholesky factor of the scaled matrix
}

func (s *spd) resize(n int) {
	s.n = n
	s.a, s.f = grown(s.a, n*n), grown(s.f, n*n)
	s.scale = grown(s.scale, n)
	clear(s.a)
}

// prepare scales a. A diagonal that is nought or not finite makes it fail.
func (s *spd) prepare() bool {
	for i := range s.n {
		d := s.a[i*s.n+i]
		if !(d > 0) || math.IsInf(d, 0) {
			return false
		}
		s.scale[i] = 1 / math.Sqrt(d)
	}
	for i := range s.n {
		row := s.a[i*s.n : i*s.n+s.n]
		si := s.scale[i]
		for j := range row {
			row[j] *= si * s.scale[j]
		}
	}
	return true
}

// factor decomposes the scaled matrix with ridge added to its unit diagonal.
func (s *spd) factor(ridge float64) bool {
	n := s.n
	copy(s.f, s.a[:n*n])
	for i := range n {
		s.f[i*n+i] += ridge
	}
	if n <= 8 {
		return s.small()
	}
	return lapack.Dpotrf(blas.Lower, n, s.f, n)
}

// small is the textbook Cholesky decomposition: for a few rows the library's
// bookkeeping costs more than the work.
func (s *spd) small() bool {
	n, f := s.n, s.f
	for j := range n {
		d := f[j*n+j]
		for k := range j {
			d -= f[j*n+k] * f[j*n+k]
		}
		if !(d > 1e-15) {
			return false
		}
		d = math.Sqrt(d)
		f[j*n+j] = d
		for i := j + 1; i < n; i++ {
			v := f[i*n+j]
			for k := range j {
				v -= f[i*n+k] * f[j*n+k]
			}
			f[i*n+j] = v / d
		}
	}
	return true
}

// solve turns b into the solution of a·x = b, a being the unscaled matrix.
func (s *spd) solve(b []float64) {
	n, f := s.n, s.f
	for i := range n {
		v := b[i] * s.scale[i]
		row := f[i*n : i*n+i]
		for k, r := range row {
			v -= r * b[k]
		}
		b[i] = v / f[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		v := b[i] / f[i*n+i]
		b[i] = v
		row := f[i*n : i*n+i]
		for k, r := range row {
			b[k] -= r * v
		}
	}
	for i := range n {
		b[i] *= s.scale[i]
	}
}

// column writes column j of the inverse of a into b.
func (s *spd) column(b []float64, j int) {
	clear(b[:s.n])
	b[j] = 1
	s.solve(b)
}
