package match

// pair joins the i-th of one list to the j-th of another.
type pair struct{ i, j int }

// aligner finds best monotone alignments; it keeps its memory between them.
type aligner struct {
	best  []float64
	pairs []pair
}

// align returns the pairs, in order, of that alignment of 0..n-1 with 0..m-1
// which keeps both orders and whose gains sum to the most. Pairs that do not
// gain are left apart. The slice is the aligner's until its next call.
func (a *aligner) align(n, m int, gain func(i, j int) float64) []pair {
	w := m + 1
	if need := (n + 1) * w; cap(a.best) < need {
		a.best = make([]float64, need)
	} else {
		a.best = a.best[:need]
		clear(a.best[:w])
	}
	for i := 1; i <= n; i++ {
		a.best[i*w] = 0
		for j := 1; j <= m; j++ {
			b := max(a.best[(i-1)*w+j], a.best[i*w+j-1])
			if g := gain(i-1, j-1); g > 0 {
				b = max(b, a.best[(i-1)*w+j-1]+g)
			}
			a.best[i*w+j] = b
		}
	}
	a.pairs = a.pairs[:0]
	for i, j := n, m; i > 0 && j > 0; {
		switch b := a.best[i*w+j]; b {
		case a.best[(i-1)*w+j]:
			i--
		case a.best[i*w+j-1]:
			j--
		default:
			a.pairs = append(a.pairs, pair{i - 1, j - 1})
			i, j = i-1, j-1
		}
	}
	for l, r := 0, len(a.pairs)-1; l < r; l, r = l+1, r-1 {
		a.pairs[l], a.pairs[r] = a.pairs[r], a.pairs[l]
	}
	return a.pairs
}
