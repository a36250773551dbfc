package partial

import "math"

// A hand, a support touched or the end of a recording makes every wave decay
// faster from one moment on. No sum of damped waves looks like that for long,
// so the fit of the whole window is held against two fits: one before the
// moment and one after it.

const (
	// watchBlock is the grain of the watch, in seconds: two periods of 200 Hz.
	watchBlock = 0.01
	// fallen is how far below the prediction the newest four blocks must lie
	// before the costly comparison is made, in dB; or the newest two twice and
	// more as far.
	fallen = 2.5
	// better is how many times less over the noise two fits must leave than
	// one. Over windows with beats or second stages the whole fit, free to add
	// poles, wins.
	better = 2.0
	// quicker is how many times faster the ring must fall after it. A hand gives
	// 5 and more, a bar whose resonator has taken its share 1.3.
	quicker = 1.5
)

// model is what one window's fit says of the sound.
type model struct {
	n    int
	w, d []float64
	c    []complex128
}

func (m *model) keep(n int, s *state) {
	m.n = n
	m.w = append(m.w[:0], s.w...)
	m.d = append(m.d[:0], s.d...)
	m.c = append(m.c[:0], s.c...)
}

// suspect returns the sample of the window at which the sound seems to leave
// what an earlier fit predicts, or 0.
func (e *Estimator) suspect(n int, old *model) int {
	if len(old.w) == 0 || float64(old.n) < freshBelow*e.fs {
		return 0
	}
	// What the old fit was made of says nothing against it; its last quarter
	// shows that it held.
	b := int(watchBlock * e.fs)
	from := old.n * 3 / 4 / b
	count := n/b - from
	if count < 8 {
		return 0
	}
	// Four milliseconds of each block stand for it.
	const look = 3 * run
	if b < look {
		return 0
	}
	e.restOf = 0
	e.rest = grown(e.rest, max(count*look, n))
	model := e.rest[:count*look]
	clear(model)
	var top float64
	at := float64(from * b)
	for i := range old.w {
		top = max(top, abs2(old.c[i])*math.Exp(-2*old.d[i]*at))
	}
	var q wave
	for i := range old.w {
		c := old.c[i] * expi(old.d[i]*at, old.w[i]*at)
		if abs2(c) < 1e-3*top { // 30 dB down says nothing
			continue
		}
		q.set(old.w[i], old.d[i])
		z := expi(old.d[i]*float64(b), old.w[i]*float64(b))
		for k := range count {
			q.add(model[k*look:(k+1)*look], c, faint)
			c *= z
		}
	}
	e.tmp = grown(e.tmp, 2*count)
	g, t := e.tmp[:0], e.tmp[count:count] // measured over predicted energy, dB; block
	recent := 0.0
	for k := range count {
		p := square(model[k*look:(k+1)*look]) / look
		// Too near the noise, or in the null of a beat: nothing to tell.
		if recent = max(p, 0.95*recent); p < 10 || p < 0.03*recent {
			continue
		}
		m := square(e.y[(from+k)*b:(from+k)*b+look])/look - 1
		g = append(g, dB(max(m, 0.1)/p))
		t = append(t, float64(from+k))
	}
	down := func(k int, by float64) bool {
		for _, v := range g[len(g)-k:] {
			if v > -by {
				return false
			}
		}
		return true
	}
	if len(g) < 8 || !down(4, fallen) && !down(2, 2.5*fallen) {
		return 0
	}
	// The moment: from the first block that stays a decibel down to the end, a
	// straight line through the first 12 dB of the fall, back to nought.
	first := len(g)
	for first > 0 && g[first-1] < -1 {
		first--
	}
	if first == len(g) {
		return 0
	}
	var m, x, xx, v, xv float64
	for k := first; k < len(g) && g[k] > -12 && m < 30; k++ {
		c := t[k] + 0.5*look/float64(b)
		m, x, xx, v, xv = m+1, x+c, xx+c*c, v+g[k], xv+c*g[k]
	}
	at = t[first]
	if slope := (m*xv - x*v) / (m*xx - x*x); m >= 3 && slope < -0.05 {
		at = min(at, (x-v/slope)/m)
	}
	return max(0, int(at*float64(b))/block*block)
}

// broken reports whether the window of n samples, fitted whole by the joint
// fit, is better told as the poles (w, d) up to sample at, and the same with
// stronger decay from there on. It leaves the joint fit at the former part.
func (e *Estimator) broken(at, n int, w, d []float64) bool {
	whole := e.joint.cur.energy
	e.at(at, w, d)
	e.fit(at, true)
	before := e.joint.cur.energy
	w, d = e.joint.cur.w, e.joint.cur.d
	free := e.slowest(at)
	left := make([]float64, len(w))
	for i, c := range e.joint.cur.c {
		left[i] = abs2(c) * math.Exp(-2*d[i]*float64(at))
	}
	f := e.tail
	f.n = n - at
	f.yy = square(e.y[at:n])
	f.wlo, f.whi = e.joint.wlo, e.joint.whi
	f.dlo, f.dhi = 0.02/float64(f.n), decayOf(0.005, e.fs)
	for len(e.tailMom) < len(w) {
		e.tailMom = append(e.tailMom, &moments{})
	}
	faster := make([]float64, len(d))
	for i := range w {
		e.tailMom[i].refer(w[i])
		faster[i] = 3 * d[i]
	}
	e.tailFrom = at
	if !f.start(w, faster) {
		return false
	}
	f.run(10)
	if f.cur.energy < 0 {
		return false // two poles ran into one: no fit at all
	}
	// The tail must be a stronger decay, weighed by what was left to decay.
	var energy, rate float64
	for i := range w {
		p := min(abs2(f.cur.c[i]), left[i])
		energy += p
		rate += p * min(f.cur.d[i]/free[i], 100)
	}
	two := before + f.cur.energy
	// The second fit has four parameters a pole more: noise alone lets it win
	// by as much, and 60 on top of that never.
	return rate > quicker*energy && whole-two > 4*float64(len(w))+60 && better*(two-float64(n)) < whole-float64(n)
}

// slowest returns how fast each pole of the joint fit over n samples may decay
// after all: two standard deviations more than it says, of what the fit leaves.
// A wave that swells first, as a bar over its resonator does, seems not to decay
// at all until its top; that it does from there on is no hand.
func (e *Estimator) slowest(n int) []float64 {
	e.covariances()
	s, j := e.joint.cur, &e.judge
	noise := max(1, s.energy/float64(n))
	j.d = grown(j.d, len(s.d))
	for i, d := range s.d {
		j.d[i] = max(d+2*math.Sqrt(noise*max(j.cov[i][15], 0)), 1e-9)
	}
	return j.d
}

// at puts the joint fit at the given poles over n samples and lets it settle.
func (e *Estimator) at(n int, w, d []float64) {
	e.spare = append(e.spare, e.mom...)
	e.mom = e.mom[:0]
	for _, v := range w {
		e.mom = append(e.mom, e.moments(v))
	}
	f := e.joint
	f.n, f.yy = n, square(e.y[:n])
	f.start(w, d)
	f.run(6)
}

// tailMoments gives the data after the break.
func (e *Estimator) tailMoments(i int, w, d float64) (z0, z1 complex128) {
	m := e.tailMom[i]
	if math.Abs(w-m.w0)*(block/2) > maxDrift {
		m.refer(w)
	}
	blocks := e.tail.n / block
	m.extend(e.uv[e.tailFrom:], blocks)
	return m.at(w, d, blocks)
}
