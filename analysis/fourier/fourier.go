// Package fourier has the one transform the ear spends its time in: the
// discrete Fourier transform of real sound, in lengths of 2, 3 or 5 times
// powers of two. It is a Stockham autosort transform of half the length in
// passes of radix 4, and one of 2, 3 or 5 where the length wants it:
// P. N. Swarztrauber, "FFT algorithms for vector computers", Parallel Computing
// 1 (1984) 45 (from memory, unchecked).
//
// gonum's FFTPACK, against which it is tested, takes about three times as long.
package fourier

import (
	"fmt"
	"math"
)

// Real transforms real sequences of one length. It allocates only in New, and
// is for one goroutine.
type Real struct {
	n      int
	passes []pass
	half   []complex128 // exp(-2πi·k/n), k = 0..n/4
	a, b   []complex128
}

type pass struct {
	radix  int
	length int          // of the transforms that are left
	stride int          // how many of them lie interleaved
	w      []complex128 // exp(-2πi·p·k/length), k = 1..radix-1 for each p
}

// New returns a transform of n real values. n must be even, and n/2 a product
// of 2, 3 and 5; it panics if not.
func New(n int) *Real {
	m := n / 2
	t := &Real{n: n, a: make([]complex128, m), b: make([]complex128, m), half: make([]complex128, n/4+1)}
	for k := range t.half {
		t.half[k] = unit(k, n)
	}
	if n < 2 || n%2 != 0 {
		panic(fmt.Sprint("fourier: no transform of length ", n))
	}
	stride := 1
	for left := m; left > 1; {
		radix := 0
		for _, r := range [...]int{5, 3, 4, 2} {
			if left%r == 0 {
				radix = r
				break
			}
		}
		if radix == 0 {
			panic(fmt.Sprint("fourier: no transform of length ", n))
		}
		p := pass{radix: radix, length: left, stride: stride}
		for i := range left / radix {
			for k := 1; k < radix; k++ {
				p.w = append(p.w, unit(i*k, left))
			}
		}
		t.passes = append(t.passes, p)
		left /= radix
		stride *= radix
	}
	return t
}

// unit is exp(-2πi·k/n).
func unit(k, n int) complex128 {
	s, c := math.Sincos(-2 * math.Pi * float64(k%n) / float64(n))
	return complex(c, s)
}

// Len is the length of the sequences.
func (t *Real) Len() int { return t.n }

// Coefficients writes Σ x[m]·exp(-2πi·k·m/n) for k = 0..n/2 into dst and
// returns it. x holds n values and dst n/2+1; it panics if not.
func (t *Real) Coefficients(dst []complex128, x []float64) []complex128 {
	m := t.n / 2
	if len(x) != t.n || len(dst) != m+1 {
		panic("fourier: Coefficients wants n values and n/2+1 places")
	}
	a, b := t.a, t.b
	for i := range a {
		a[i] = complex(x[2*i], x[2*i+1])
	}
	for i := range t.passes {
		t.passes[i].run(b, a)
		a, b = b, a
	}
	dst[0] = complex(real(a[0])+imag(a[0]), 0)
	dst[m] = complex(real(a[0])-imag(a[0]), 0)
	for k := 1; k <= m/2; k++ {
		p, q := a[k], a[m-k]
		er, ei := 0.5*(real(p)+real(q)), 0.5*(imag(p)-imag(q))
		or, oi := 0.5*(imag(p)+imag(q)), -0.5*(real(p)-real(q))
		wr, wi := real(t.half[k]), imag(t.half[k])
		zr, zi := or*wr-oi*wi, or*wi+oi*wr
		dst[k] = complex(er+zr, ei+zi)
		dst[m-k] = complex(er-zr, zi-ei)
	}
	return dst
}

// run does one pass from x to y.
func (p *pass) run(y, x []complex128) {
	n1, s := p.length/p.radix, p.stride
	switch p.radix {
	case 4:
		for i := range n1 {
			w1, w2, w3 := p.w[3*i], p.w[3*i+1], p.w[3*i+2]
			x0, x1 := x[s*i:s*i+s], x[s*(i+n1):s*(i+n1)+s]
			x2, x3 := x[s*(i+2*n1):s*(i+2*n1)+s], x[s*(i+3*n1):s*(i+3*n1)+s]
			o := y[4*s*i : 4*s*i+4*s]
			y0, y1, y2, y3 := o[:s], o[s:2*s], o[2*s:3*s], o[3*s:4*s]
			for q := range y0 {
				a, b, c, d := x0[q], x1[q], x2[q], x3[q]
				e, f, g := a+c, a-c, b+d
				h := complex(imag(b)-imag(d), real(d)-real(b)) // -i·(b-d)
				y0[q] = e + g
				y1[q] = w1 * (f + h)
				y2[q] = w2 * (e - g)
				y3[q] = w3 * (f - h)
			}
		}
	case 2:
		for i := range n1 {
			w := p.w[i]
			for q := range s {
				a, b := x[s*i+q], x[s*(i+n1)+q]
				y[2*s*i+q] = a + b
				y[2*s*i+s+q] = w * (a - b)
			}
		}
	default:
		p.odd(y, x)
	}
}

// odd does a pass of radix 3 or 5, by the sums that define it.
func (p *pass) odd(y, x []complex128) {
	r, n1, s := p.radix, p.length/p.radix, p.stride
	var root [5]complex128
	for k := range r {
		root[k] = unit(k, r)
	}
	var v [5]complex128
	for i := range n1 {
		for q := range s {
			for j := range r {
				v[j] = x[s*(i+j*n1)+q]
			}
			y[r*s*i+q] = v[0] + v[1] + v[2] + v[3] + v[4] // radix 3 leaves two of them 0
			for k := 1; k < r; k++ {
				sum := v[0]
				for j := 1; j < r; j++ {
					sum += v[j] * root[j*k%r]
				}
				y[s*(r*i+k)+q] = p.w[(r-1)*i+k-1] * sum
			}
		}
	}
}
