package bench

import "math"

// law is one guess at how the relative period squared t of a vessel goes with
// its fill, as a Gaussian process: a mean, a covariance, and how t changes a
// millilitre, by which an error in pouring becomes one in t.
type law interface {
	mean(fill float64) float64
	cov(a, b float64) float64
	slope(fill float64) float64
	logPrior() float64
}

// seen is one entry as the laws see it.
type seen struct {
	fill   float64 // ml, by what was poured
	t      float64 // period squared over that of the first entry
	noise  float64 // variance of t: strike scatter, hearing, rounding
	poured float64 // variance of the fill, ml²: every pour so far
}

// fitted is a law with what the entries say for and of it.
type fitted struct {
	law
	seen   []seen
	low    []float64 // Cholesky factor of the entries' covariance, row by row
	alpha  []float64 // its inverse times the residuals
	slopes []float64
	weight float64
}

// fit conditions a law on what was seen and returns its log evidence; ok is
// false where the covariance is no covariance to machine precision.
//
// Errors in pouring stay in the vessel: the fill of entry i is off by the sum
// of all pours up to it, so two entries share those up to the earlier.
func (f *fitted) fit(seen []seen) (evidence float64, ok bool) {
	n := len(seen)
	f.seen = seen
	f.low, f.alpha = make([]float64, n*n), make([]float64, n)
	f.slopes = make([]float64, n)
	for i, s := range seen {
		f.slopes[i] = f.slope(s.fill)
		f.alpha[i] = s.t - f.mean(s.fill)
	}
	for i := range n {
		for j := range i + 1 {
			v := f.cov(seen[i].fill, seen[j].fill) + f.slopes[i]*f.slopes[j]*min(seen[i].poured, seen[j].poured)
			if i == j {
				v += seen[i].noise
			}
			for k := range j {
				v -= f.low[i*n+k] * f.low[j*n+k]
			}
			if i == j {
				if !(v > 1e-14) {
					return 0, false
				}
				f.low[i*n+i] = math.Sqrt(v)
				evidence -= math.Log(f.low[i*n+i])
			} else {
				f.low[i*n+j] = v / f.low[j*n+j]
			}
		}
	}
	f.forward(f.alpha)
	for _, z := range f.alpha {
		evidence -= z * z / 2
	}
	return evidence, true
}

// forward solves low·x = b in place.
func (f *fitted) forward(b []float64) {
	n := len(b)
	for i := range n {
		for k := range i {
			b[i] -= f.low[i*n+k] * b[k]
		}
		b[i] /= f.low[i*n+i]
	}
}

// at predicts t at a fill counted from the last entry's as it was entered, and
// the variance of it where that pour is off by more, a variance in ml². work
// has room for one number an entry.
func (f *fitted) at(fill, more float64, work []float64) (mean, variance float64) {
	n := len(f.seen)
	last, slope := 0.0, f.slope(fill)
	if n > 0 {
		last = f.seen[n-1].poured
	}
	mean, variance = f.mean(fill), f.cov(fill, fill)+slope*slope*(last+more)
	work = work[:n]
	for i, s := range f.seen {
		work[i] = f.cov(fill, s.fill) + slope*f.slopes[i]*min(s.poured, last)
	}
	f.forward(work)
	for i, v := range work {
		mean += v * f.alpha[i]
		variance -= v * v
	}
	return mean, max(variance, 1e-12)
}
