package accuracy

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"ringwell/analysis/partial"
)

const (
	pairAlarm = 1e-4 // a single mode taken for a pair
	pairRight = 0.25 // of the split: so near it must come
)

// pairLimit is what the sound itself allows of telling two near modes apart.
// told is the chance that the likelihood ratio of two damped waves over the
// best single one passes a test that makes a pair of one mode in alarm cases:
// for one mode that ratio's double log is χ² with four degrees of freedom, for
// two it is off centre by what the best single wave leaves of them. right is
// the chance that the split is then right within the share given, from the
// Cramér-Rao bound of the difference of the two frequencies (a standard
// deviation of an unbiased estimator: an estimate that leans may do a little
// better). S. M. Kay, Fundamentals of Statistical Signal Processing: Detection
// Theory (1998), section 6.5, from memory, unchecked.
//
// ring is seen from skip samples after the onset for n samples, in white noise
// of standard deviation noise.
func pairLimit(ring []partial.Component, skip, n int, noise, alarm, within float64) (told, right float64) {
	v := newPairView(ring, skip, n, noise)
	told = offCentre(v.left(), pairTest(alarm))
	s := v.splitSigma()
	if s == 0 {
		return told, 0
	}
	return told, math.Erf(within * v.split / s / math.Sqrt2)
}

// pairView is the envelope of two modes, from the middle between them.
type pairView struct {
	pole  [2]complex128 // -decay + i·(ω - middle), a sample
	amp   [2]complex128 // at the start of what is seen
	split float64       // rad a sample
	step  float64       // samples between points
	at    []float64     // samples from the start
	x     []complex128
	unit  float64 // of Σ|x|² in units of the noise
}

// points of the envelope: it turns at most three times and a half.
const points = 1000

func newPairView(ring []partial.Component, skip, n int, noise float64) *pairView {
	v := &pairView{split: math.Abs(ring[1].Omega - ring[0].Omega), step: float64(n) / points}
	// A real wave carries half the power of its envelope.
	v.unit = v.step / (2 * noise * noise)
	mid := (ring[0].Omega + ring[1].Omega) / 2
	for k, c := range ring[:2] {
		v.pole[k] = complex(-c.Decay, c.Omega-mid)
		v.amp[k] = c.Amp * cmplx.Exp(v.pole[k]*complex(float64(skip), 0))
	}
	v.at, v.x = make([]float64, points), make([]complex128, points)
	for i := range v.x {
		v.at[i] = (float64(i) + 0.5) * v.step
		for k := range v.pole {
			v.x[i] += v.amp[k] * cmplx.Exp(v.pole[k]*complex(v.at[i], 0))
		}
	}
	return v
}

// rest is what one wave of the pole p leaves of the envelope, over the noise.
func (v *pairView) rest(p complex128) float64 {
	var all, own float64
	var with complex128
	g, q := cmplx.Exp(p*complex(v.at[0], 0)), cmplx.Exp(p*complex(v.step, 0))
	for _, x := range v.x {
		all += real(x)*real(x) + imag(x)*imag(x)
		own += real(g)*real(g) + imag(g)*imag(g)
		with += cmplx.Conj(g) * x
		g *= q
	}
	return v.unit * (all - (real(with)*real(with)+imag(with)*imag(with))/own)
}

// left is what the best single wave leaves, over the noise: the least of a grid
// of frequency and decay that closes in on its best point.
func (v *pairView) left() float64 {
	decay := -(real(v.pole[0]) + real(v.pole[1])) / 2
	w, d := 0.0, decay
	reachW, reachD := v.split, 0.8*decay
	least := math.Inf(1)
	for range 14 {
		bw, bd := w, d
		for i := -3; i <= 3; i++ {
			for j := -3; j <= 3; j++ {
				tw, td := w+reachW*float64(i)/3, d+reachD*float64(j)/3
				if got := v.rest(complex(-td, tw)); got < least {
					least, bw, bd = got, tw, td
				}
			}
		}
		w, d = bw, bd
		reachW, reachD = reachW/2, reachD/2
	}
	return max(least, 0)
}

// splitSigma is the Cramér-Rao bound of the split, rad a sample; 0 if the
// Fisher matrix has no inverse.
func (v *pairView) splitSigma() float64 {
	f := mat.NewSymDense(8, nil)
	for _, t := range v.at {
		var col [8]complex128
		for k := range v.pole {
			c := v.amp[k] * cmplx.Exp(v.pole[k]*complex(t, 0))
			// ln amplitude, phase, frequency and decay, time in units of all that is
			// seen: else the matrix has no good inverse.
			s := complex(t/(points*v.step), 0)
			col[4*k], col[4*k+1], col[4*k+2], col[4*k+3] = c, 1i*c, 1i*s*c, -s*c
		}
		for a := range col {
			for b := a; b < len(col); b++ {
				f.SetSym(a, b, f.At(a, b)+v.unit*real(cmplx.Conj(col[a])*col[b]))
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(f) {
		return 0
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return 0
	}
	return math.Sqrt(max(inv.At(2, 2)+inv.At(6, 6)-2*inv.At(2, 6), 0)) / (points * v.step)
}

// chi4 is the chance that χ² with 4+2j degrees of freedom exceeds x, j = 0, 1,
// ...: a Poisson sum.
func chi4(x float64, j int) float64 {
	term := math.Exp(-x / 2)
	sum := term
	for i := 1; i <= 1+j; i++ {
		term *= x / 2 / float64(i)
		sum += term
	}
	return sum
}

// pairTest is the double log of the likelihood ratio that one mode in alarm
// cases exceeds.
func pairTest(alarm float64) float64 {
	lo, hi := 0.0, 200.0
	for range 60 {
		if mid := (lo + hi) / 2; chi4(mid, 0) > alarm {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// offCentre is the chance that χ² with four degrees of freedom, off centre by
// away, exceeds x.
func offCentre(away, x float64) float64 {
	if away > 600 {
		return 1 // some twenty standard deviations over any x in use
	}
	weight, sum := math.Exp(-away/2), 0.0
	for j := range int(away/2+12*math.Sqrt(away/2)) + 20 {
		sum += weight * chi4(x, j)
		weight *= away / 2 / float64(j+1)
	}
	return min(sum, 1)
}
