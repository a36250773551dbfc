package partial

import "math"

// A hand, a support touched or the end of a recording makes every wave decay
// faster from one moment on. No sum of damped waves looks like that for long,
// so the fit of the whole window is held against two fits: one before the
// moment and one after it.

const (
	// watchBlock is the grain of the watch, in seconds: two periods of 200 Hz.
	watchBlock = 0.01
	// fallen is how far below the prediction the newest blocks must lie before
	// the costly comparison is made, in dB.
	fallen = 2.5
	// better is how many times less two fits must leave than one. Over windows
	// with beats or second stages the whole fit, free to add poles, wins.
	better = 2.0
)

// suspect returns the sample of the window at which the sound seems to leave
// what the poles of the window before predict, or 0.
func (e *Estimator) suspect(n int) int {
	s := e.joint.cur
	if len(s.w) == 0 || float64(e.n) < freshBelow*e.fs {
		return 0
	}
	b := int(watchBlock * e.fs)
	count := n / b
	e.rest = grown(e.rest, n)
	model := e.rest[:n]
	clear(model)
	for i := range s.w {
		subtract(model, s.w[i], s.d[i], s.c[i])
	}
	e.tmp = grown(e.tmp, count)
	g := e.tmp[:0] // ln of measured over predicted energy
	for k := range count {
		p := square(model[k*b:k*b+b]) / float64(b)
		if p < 10 { // too near the noise to tell
			break
		}
		m := square(e.y[k*b:k*b+b])/float64(b) - 1
		g = append(g, math.Log(max(m, 0.1)/p))
	}
	// A sound that stops leaves nothing above the noise where plenty was due;
	// one that goes on must show its fall for 40 ms.
	if len(g) < 8 {
		return 0
	}
	end := g[len(g)-4:]
	for _, v := range end {
		if v > -fallen*math.Ln10/10 {
			return 0
		}
	}
	// The moment: nought before it, a straight fall from it on, least squares.
	best, at := math.Inf(1), 0
	for k := 3; k <= len(g)-4; k++ {
		var before, tt, tg, gg float64
		for _, v := range g[:k] {
			before += v * v
		}
		for q, v := range g[k:] {
			t := float64(q) + 0.5
			tt += t * t
			tg += t * v
			gg += v * v
		}
		if tg >= 0 {
			continue
		}
		if c := before + gg - tg*tg/tt; c < best {
			best, at = c, k
		}
	}
	// A fall is steeper at first than a straight line in dB if the sound ends
	// at once; then the moment is where it passes half of it.
	return max(0, at*b/block*block)
}

// broken reports whether the window of n samples, fitted whole by the joint
// fit, is better told as the poles (w, d) up to sample at, and the same with
// stronger decay from there on. It leaves the joint fit undone.
func (e *Estimator) broken(at, n int, w, d []float64) bool {
	whole := e.joint.cur.energy
	e.at(at, w, d)
	before := e.joint.cur.energy
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
	// The tail must be a stronger decay, weighed by what is left to decay.
	var energy, rate float64
	for i := range w {
		p := abs2(f.cur.c[i])
		energy += p
		rate += p * min(f.cur.d[i]/max(d[i], 1e-9), 100)
	}
	return rate > 1.2*energy && better*(before+f.cur.energy) < whole
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
