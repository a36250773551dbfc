package partial

import "math"

// drift returns how far the frequency in the first part of the partial's own
// energy lies from that in the second, beyond what noise explains, in rad a
// sample. seq is what the fit leaves, decimated at the pole; one Gauss-Newton
// step in each part tells what the part alone would have said.
func (e *Estimator) drift(seq []complex128, i, n int, noise float64) float64 {
	s := e.joint.cur
	first := int(min(float64(n)/2, 0.35/s.d[i])) / block
	second := min(n/block, 4*first)
	if float64(first*block) < 0.008*e.fs || second <= first {
		return 0
	}
	d1, v1 := e.part(seq[:first], s.w[i], s.d[i], s.c[i])
	t := float64(first * block)
	d2, v2 := e.part(seq[first:second], s.w[i], s.d[i], s.c[i]*expi(s.d[i]*t, s.w[i]*t))
	ex, v := (d1-d2)*(d1-d2), noise*noise*(v1+v2)
	// The parts know far less than the whole: what noise does to their
	// difference once in a hundred times is no drift yet.
	if !(ex > 6.6*v) {
		return 0
	}
	ex -= v
	// A step beyond a line width is no measurement any more.
	return min(math.Sqrt(ex), 2*s.d[i]+2*math.Pi/t)
}

// part returns the step of ω that a stretch alone would take, and its variance
// in unit noise. c is the amplitude where the stretch begins.
func (e *Estimator) part(seq []complex128, w, d float64, c complex128) (step, variance float64) {
	const mid = (block - 1) / 2.0
	u, z := expi(d*mid, w*mid), expi(d*block, w*block)
	var z0, z1 complex128
	t := mid
	for _, v := range seq {
		p := u * v
		z0 += p
		z1 += complex(t, 0) * p
		t += block
		u *= z
	}
	one := &e.judge.one
	one.resize(1)
	one.w[0], one.d[0], one.c[0] = w, d, c
	one.relate([]bool{true}, len(seq)*block)
	lm := &e.judge.lm
	lm.resize(4)
	one.fisher(lm.a, 4, []int{0})
	if !lm.prepare() || !lm.factor(1e-12) {
		return 0, math.Inf(1)
	}
	a, b := c*z0, c*z1
	g := [4]float64{real(a), -imag(a), -imag(b), -real(b)}
	lm.solve(g[:])
	var col [4]float64
	lm.column(col[:], 2)
	return g[2], col[2]
}
