package fourier

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// goertzel is one bin of a transform by a recursion of two states, sharing
// nothing with a fast one: G. Goertzel, Amer. Math. Monthly 65 (1958) 34, from
// memory, unchecked.
func goertzel(x []float64, bin int) complex128 {
	w := 2 * math.Pi * float64(bin) / float64(len(x))
	s1, s2 := 0.0, 0.0
	for _, v := range x {
		s1, s2 = v+2*math.Cos(w)*s1-s2, s1
	}
	return complex(s1*math.Cos(w)-s2, s1*math.Sin(w))
}

// TestAgainstGoertzel: bin by bin the same as a recursion of another kind. It
// loses digits where the sine of a bin is small, as theory has it: hence the
// bound.
func TestAgainstGoertzel(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, n := range []int{8, 60, 512, 1280, 12288} {
		x, size := make([]float64, n), 0.0
		for i := range x {
			x[i] = rng.NormFloat64()
			size += x[i] * x[i]
		}
		got := New(n).Coefficients(make([]complex128, n/2+1), x)
		for _, k := range []int{0, 1, n / 7, n / 4, n/2 - 1, n / 2} {
			sine := max(math.Abs(math.Sin(2*math.Pi*float64(k)/float64(n))), 1/float64(n))
			if want := goertzel(x, k); cmplx.Abs(got[k]-want) > 1e-14*float64(n)*math.Sqrt(size)/sine {
				t.Errorf("length %d, bin %d: got %v, Goertzel's recursion has %v", n, k, got[k], want)
			}
		}
	}
}
