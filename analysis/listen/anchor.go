package listen

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"

	"ringwell/analysis/partial"
)

const (
	anchorSeconds  = 0.080 // of sound before a moment from which amplitudes are taken
	anchorLeast    = 0.020
	contactSeconds = 0.008 // after a strike that no model describes
	doubtShare     = 0.3   // of its amplitude by which a prediction may be off, one sigma
	sameHz         = 0.25  // poles nearer than this and half their line widths are one
	anchoredMost   = 64    // components kept
)

// anchor gathers all that still rings at a moment into one ring that begins
// there. Predictions of several strikes drift from the truth, each in its own
// way, and more so where twin modes were heard too briefly to be told apart;
// therefore the amplitudes are brought up to date by what sounded just before,
// as a Kalman filter would: the prediction with an uncertainty of its own, and
// the sound with that of the background. since is the last strike's onset, the
// sound is free of contact noise from a little later on; floor is the power of
// the background.
func (r *rings) anchor(sound *history, since, at int64, steady, floor float64) {
	var old []partial.Component // with the sign turned back, as they are at the moment
	for i := len(r.list) - 1; i >= 0; i-- {
		if r.list[i].until <= at {
			continue
		}
		old = r.merge(old, r.list[i], at)
	}
	if len(old) > anchoredMost {
		slices.SortStableFunc(old, func(a, b partial.Component) int {
			return int(math.Copysign(1, cmplx.Abs(b.Amp)-cmplx.Abs(a.Amp)))
		})
		old = old[:anchoredMost]
	}
	r.list = r.list[:0]
	if len(old) == 0 {
		return
	}
	to := at - int64(0.004*float64(r.rate))
	from := max(sound.from, since+int64(contactSeconds*float64(r.rate)), to-int64(anchorSeconds*float64(r.rate)))
	if float64(to-from) >= anchorLeast*float64(r.rate) {
		x := make([]float64, to-from)
		sound.copy(x, from)
		for i := range x {
			x[i] -= steady
		}
		update(old, x, int(from-at), floor)
	}
	r.add(at, math.MaxInt64, old)
}

// merge adds the components of g as they are at a moment to those of newer
// rings; one that is the same as a newer one's goes into it.
func (r *rings) merge(into []partial.Component, g ring, at int64) []partial.Component {
	newer := len(into)
	n := float64(at - g.onset)
	for _, c := range g.components {
		c.Amp = -c.Amp * cmplx.Rect(math.Exp(-c.Decay*n), c.Omega*n)
		best, nearest := -1, math.Inf(1)
		for i, o := range into[:newer] {
			d := math.Abs(o.Omega - c.Omega)
			if d < nearest && d < (o.Decay+c.Decay)/2+2*math.Pi*sameHz/float64(r.rate) {
				best, nearest = i, d
			}
		}
		if best < 0 {
			into = append(into, c)
			continue
		}
		into[best].Amp += c.Amp
	}
	return into
}

// update moves the amplitudes of the components towards what x says, whose
// first sample lies from samples after (before, if negative) the moment the
// amplitudes stand for: the minimum of
//
//	Σ (x[n] - Σ_k Re a_k·z_k^(from+n))² / floor  +  Σ_k |a_k - predicted_k|² / (doubtShare·|predicted_k|)²
func update(c []partial.Component, x []float64, from int, floor float64) {
	k := len(c)
	z := make([]complex128, k)     // poles
	start := make([]complex128, k) // z^from
	whole := make([]complex128, k) // z^len(x)
	for i, v := range c {
		z[i] = cmplx.Rect(math.Exp(-v.Decay), v.Omega)
		start[i] = cmplx.Rect(math.Exp(-v.Decay*float64(from)), v.Omega*float64(from))
		n := float64(len(x))
		whole[i] = cmplx.Rect(math.Exp(-v.Decay*n), v.Omega*n)
	}
	// What no amplitude explains is noise as well: the floor is at least a
	// thousandth of what is there.
	noise := max(floor, 1e-3*power(x), leastFloor)
	normal := mat.NewSymDense(2*k, nil)
	for i := range c {
		for j := i; j < k; j++ {
			// Inner products of the columns Re(u·z^n), with u = 1 and u = i.
			sum := start[i] * start[j] * geometric(z[i]*z[j], whole[i]*whole[j], len(x)) / complex(2*noise, 0)
			dif := start[i] * cmplx.Conj(start[j]) * geometric(z[i]*cmplx.Conj(z[j]), whole[i]*cmplx.Conj(whole[j]), len(x)) / complex(2*noise, 0)
			normal.SetSym(2*i, 2*j, real(dif)+real(sum))
			normal.SetSym(2*i+1, 2*j+1, real(dif)-real(sum))
			normal.SetSym(2*i, 2*j+1, imag(dif)-imag(sum))
			if i != j {
				normal.SetSym(2*i+1, 2*j, -imag(dif)-imag(sum))
			}
		}
	}
	// The right side is what the sound says less what the predictions say; the
	// latter is the matrix times their amplitudes, without another pass.
	predicted := mat.NewVecDense(2*k, nil)
	for i, v := range c {
		predicted.SetVec(2*i, real(v.Amp))
		predicted.SetVec(2*i+1, imag(v.Amp))
	}
	right := mat.NewVecDense(2*k, nil)
	right.MulVec(normal, predicted)
	for i := range c {
		s := project(x, z[i]) * start[i]
		right.SetVec(2*i, real(s)/noise-right.AtVec(2*i))
		right.SetVec(2*i+1, -imag(s)/noise-right.AtVec(2*i+1))
		prior := 1 / math.Pow(max(doubtShare*cmplx.Abs(c[i].Amp), 1e-9), 2)
		normal.SetSym(2*i, 2*i, normal.At(2*i, 2*i)+prior)
		normal.SetSym(2*i+1, 2*i+1, normal.At(2*i+1, 2*i+1)+prior)
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return
	}
	var change mat.VecDense
	if err := chol.SolveVecTo(&change, right); err != nil {
		return
	}
	for i := range c {
		d := complex(change.AtVec(2*i), change.AtVec(2*i+1))
		if !cmplx.IsNaN(d) && !cmplx.IsInf(d) {
			c[i].Amp += d
		}
	}
}

// project returns Σ x[n]·z^n by Horner's rule, odd and even samples apart so
// that one chain of products does not wait for the other.
func project(x []float64, z complex128) complex128 {
	q := z * z
	qr, qi := real(q), imag(q)
	var er, ei, or, oi float64
	n := len(x) &^ 1
	if n < len(x) {
		er = x[n]
	}
	for n -= 2; n >= 0; n -= 2 {
		er, ei = er*qr-ei*qi+x[n], er*qi+ei*qr
		or, oi = or*qr-oi*qi+x[n+1], or*qi+oi*qr
	}
	return complex(er, ei) + z*complex(or, oi)
}

// geometric returns Σ_{0≤m<n} q^m; qn is q^n. Where q^n is within a millionth of
// 1 the closed form would lose digits, and the sum is n to a millionth.
func geometric(q, qn complex128, n int) complex128 {
	gr, gi := 1-real(q), -imag(q)
	m := gr*gr + gi*gi
	if m*float64(n)*float64(n) < 1e-12 {
		return complex(float64(n), 0)
	}
	return (1 - qn) * complex(gr/m, -gi/m)
}
