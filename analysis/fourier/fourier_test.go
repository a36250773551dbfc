package fourier

import (
	"fmt"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// TestAgainstFFTPACK: the same as gonum's translation of FFTPACK, to within
// what doubles round away, at every length the ear asks for.
func TestAgainstFFTPACK(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{2, 4, 6, 8, 10, 12, 16, 20, 24, 32, 60, 90, 512, 1024, 1280, 1536, 2048, 10240, 12288, 16384, 163840} {
		x := make([]float64, n)
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		got := New(n).Coefficients(make([]complex128, n/2+1), x)
		want := fourier.NewFFT(n).Coefficients(nil, x)
		for k := range want {
			if d := cmplx.Abs(got[k] - want[k]); d > 1e-11*float64(n) {
				t.Errorf("length %d, bin %d: got %v, wanted %v", n, k, got[k], want[k])
				break
			}
		}
	}
}

func TestNoAllocations(t *testing.T) {
	f, x, dst := New(1280), make([]float64, 1280), make([]complex128, 641)
	if n := testing.AllocsPerRun(10, func() { f.Coefficients(dst, x) }); n != 0 {
		t.Errorf("length 1280: got %v allocations, wanted none", n)
	}
}

func TestLengthsRefused(t *testing.T) {
	for _, n := range []int{0, 1, 7, 14, 1023} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("length %d: got a transform, wanted a panic", n)
				}
			}()
			New(n)
		}()
	}
}

func BenchmarkCoefficients(b *testing.B) {
	for _, n := range []int{512, 1024, 5120, 6144, 16384} {
		x, dst := make([]float64, n), make([]complex128, n/2+1)
		for i := range x {
			x[i] = float64(i % 17)
		}
		b.Run(fmt.Sprint("ours/", n), func(b *testing.B) {
			f := New(n)
			for b.Loop() {
				f.Coefficients(dst, x)
			}
		})
		b.Run(fmt.Sprint("gonum/", n), func(b *testing.B) {
			f := fourier.NewFFT(n)
			for b.Loop() {
				f.Coefficients(dst, x)
			}
		})
	}
}
