package match

import (
	"math/rand/v2"
	"testing"
)

// slowAlign tries every alignment.
func slowAlign(n, m int, gain func(i, j int) float64) float64 {
	if n == 0 || m == 0 {
		return 0
	}
	best := max(slowAlign(n-1, m, gain), slowAlign(n, m-1, gain))
	if g := gain(n-1, m-1); g > 0 {
		best = max(best, g+slowAlign(n-1, m-1, gain))
	}
	return best
}

func TestAlignAgainstEveryAlignment(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	var a aligner
	for range 500 {
		n, m := rnd.IntN(6), rnd.IntN(6)
		table := make([]float64, 36)
		for i := range table {
			table[i] = rnd.NormFloat64()
		}
		gain := func(i, j int) float64 { return table[6*i+j] }
		got, li, lj := 0.0, -1, -1
		for _, p := range a.align(n, m, gain) {
			if p.i <= li || p.j <= lj {
				t.Fatalf("%d by %d, gains %v: pair %v does not follow (%d, %d)", n, m, table, p, li, lj)
			}
			li, lj = p.i, p.j
			got += gain(p.i, p.j)
		}
		if want := slowAlign(n, m, gain); got < want-1e-12 {
			t.Fatalf("%d by %d, gains %v: got a sum of %v, want %v", n, m, table, got, want)
		}
	}
}
