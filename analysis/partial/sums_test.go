package partial

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// naiveSums adds term by term.
func naiveSums(q complex128, n int) (s sums) {
	p := complex128(1)
	for k := range n {
		f := complex(float64(k), 0)
		s.s0 += p
		s.s1 += f * p
		s.s2 += f * f * p
		p *= q
	}
	return s
}

// sizeSums bounds the three sums by those of |q|^n.
func sizeSums(q complex128, n int) [3]float64 {
	s := naiveSums(complex(cmplx.Abs(q), 0), n)
	return [3]float64{real(s.s0), real(s.s1), real(s.s2)}
}

func TestSumsAgainstAddingUp(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		n := 1 + r.IntN(5000)
		d := math.Exp(-3 - 10*r.Float64())
		w := math.Pi * math.Pow(r.Float64(), 4) // many near nought, where differences cancel
		q := expi(d, w)
		want := naiveSums(q, n)
		size := sizeSums(q, n)
		for name, got := range map[string]sums{"doubling": doubling(q, n), "geometric": geometric(q, expi(d*float64(n), w*float64(n)), n)} {
			for k, e := range []float64{cmplx.Abs(got.s0 - want.s0), cmplx.Abs(got.s1 - want.s1), cmplx.Abs(got.s2 - want.s2)} {
				if e > 1e-10*size[k] {
					t.Fatalf("%s: q = exp(-%.3g+%.3gi), n %d: S%d off by %.3g of Σ n^r|q|^n, want under 1e-10", name, d, w, n, k, e/size[k])
				}
			}
		}
	}
}

func TestSumsOfOnes(t *testing.T) {
	for _, n := range []int{1, 2, 3, 7, 1000, 120000} {
		s, f := doubling(1, n), float64(n)
		want := sums{complex(f, 0), complex(f*(f-1)/2, 0), complex(f*(f-1)*(2*f-1)/6, 0)}
		if cmplx.Abs(s.s0-want.s0) > 1e-12*f || cmplx.Abs(s.s1-want.s1) > 1e-12*f*f || cmplx.Abs(s.s2-want.s2) > 1e-12*f*f*f {
			t.Errorf("q = 1, n %d: got %v, want %v", n, s, want)
		}
	}
}

func TestMomentsAgainstAddingUp(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	y := make([]float64, 4096)
	for i := range y {
		y[i] = r.NormFloat64()
	}
	uv := fold(nil, y, 0, len(y)/block)
	for range 100 {
		w := 0.01 + 3*r.Float64()
		d := math.Exp(-4 - 6*r.Float64())
		away := (2*r.Float64() - 1) * settledDrift / (block / 2)
		var m moments
		m.refer(w + away)
		// The window grows: what was summed stays.
		m.extend(uv, 17)
		m.extend(uv, len(y)/block)
		z0, z1 := m.at(w, d, len(y)/block)
		z := expi(d, w)
		p := complex128(1)
		var want0, want1 complex128
		var size0, size1 float64
		for n, v := range y {
			want0 += complex(v, 0) * p
			want1 += complex(float64(n)*v, 0) * p
			size0 += abs2(p)
			size1 += float64(n) * float64(n) * abs2(p)
			p *= z
		}
		// In units of what noise of variance 1 gives: 1e-3 is 60 dB under it.
		if e0, e1 := cmplx.Abs(z0-want0)/math.Sqrt(size0), cmplx.Abs(z1-want1)/math.Sqrt(size1); e0 > 1e-3 || e1 > 1e-2 {
			t.Errorf("ω %.3f, d %.2g, reference %.1g away: Z0 off by %.2g, Z1 by %.2g of their deviation, want under 1e-3 and 1e-2", w, d, away, e0, e1)
		}
	}
}
