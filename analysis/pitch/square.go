package pitch

import "math"

// square is a small symmetric positive definite matrix, factored in place
// without allocating (gonum's Cholesky allocates).
type square struct {
	n int
	a []float64 // row by row; the lower triangle is used
}

func newSquare(n int) square { return square{n, make([]float64, n*n)} }

func (m square) set(i, j int, v float64) { m.a[i*m.n+j] = v }

// factor replaces rows and columns from..to-1 by their Cholesky factor.
func (m square) factor(from, to int) {
	for i := from; i < to; i++ {
		for j := from; j <= i; j++ {
			s := m.a[i*m.n+j]
			for k := from; k < j; k++ {
				s -= m.a[i*m.n+k] * m.a[j*m.n+k]
			}
			if i == j {
				m.a[i*m.n+i] = math.Sqrt(max(s, 1e-12))
			} else {
				m.a[i*m.n+j] = s / m.a[j*m.n+j]
			}
		}
	}
}

// solve replaces b[from:] by the solution; factor(from, len(b)) came before.
func (m square) solve(b []float64, from int) {
	for i := from; i < len(b); i++ {
		for k := from; k < i; k++ {
			b[i] -= m.a[i*m.n+k] * b[k]
		}
		b[i] /= m.a[i*m.n+i]
	}
	for i := len(b) - 1; i >= from; i-- {
		for k := i + 1; k < len(b); k++ {
			b[i] -= m.a[k*m.n+i] * b[k]
		}
		b[i] /= m.a[i*m.n+i]
	}
}
