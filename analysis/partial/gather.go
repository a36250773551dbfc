package partial

import "math"

// gather joins poles that make one partial, and drops what the attack left.
// The figures were tuned on two dozen recordings and two hundred synthetic
// takes; what each does is said beside it.
func (e *Estimator) gather() {
	j := &e.judge
	e.join()
	e.weakest()
	j.cluster()
	j.adopt()
}

// adopt gives what lies on a kept line, and is not ten times stronger than it, to
// that line: it tells how the line differs from one exponential.
func (j *judge) adopt() {
	for i := range j.lines {
		l := &j.lines[i]
		if l.keep || l.of >= 0 {
			continue
		}
		for k := range j.lines {
			p := &j.lines[k]
			reach := max(2.5*p.width, min(1.5*l.width, 0.005*p.f))
			if p.keep && math.Abs(p.f-l.f) < reach && l.energy < 10*p.energy {
				l.of = k
			}
		}
	}
}

// join finds second stages, attack shadows and pairs too close to tell apart.
func (e *Estimator) join() {
	j := &e.judge
	seconds := float64(e.n) / e.fs
	loud := j.byEnergy()
	for a, i := range loud {
		p := &j.lines[i]
		if !p.keep {
			continue
		}
		for _, k := range loud[a+1:] {
			q := &j.lines[k]
			if !q.keep {
				continue
			}
			away := math.Abs(p.f - q.f)
			switch {
			case q.t60 < p.t60/3 && away < 0.7*q.width && q.energy < 0.25*p.energy:
				// a short pole under a long one: what the contact left
			case p.t60 < 0.12 && q.t60 > 3*p.t60 && away < 1.5*p.width && q.energy > 0.15*p.energy:
				// the same, and the contact was the louder: the ring counts
				p.keep, p.of = false, k
			case q.t60 > 3*p.t60 && away < 1.5*p.width && q.energy < 0.1*p.energy:
				p.stages = true // a long weak one under a short: second stage
			case e.onePair(p, q, away, seconds):
				p.stages = true
				p.merge(q)
			default:
				continue
			}
			if !p.keep {
				break
			}
			q.keep, q.of = false, i
		}
	}
}

// A near pair is told as two if the beat shows while both ring: split times the
// mean T60 at least leastSplit (the first null of the beat then lies 36 dB
// down), and at least leastCycles of it within the window. Closer ones, down to
// closestSplit and closestCycles, are two only if their split is sureSplit
// standard deviations and their decays are alike: what two stages of one decay
// or a room make of one line differs threefold in ring time.
const (
	leastSplit    = 0.6
	leastCycles   = 0.5
	closestSplit  = 0.4
	closestCycles = 0.35
	sureSplit     = 2.5
	alike         = 1.6
)

// onePair reports whether two near poles are to be told as one partial.
func (e *Estimator) onePair(p, q *line, away, seconds float64) bool {
	split, cycles := away*math.Sqrt(p.t60*q.t60), away*seconds
	if split >= leastSplit && cycles >= leastCycles {
		return false
	}
	if split >= closestSplit && cycles >= closestCycles && max(p.t60/q.t60, q.t60/p.t60) < alike &&
		e.clear(p.i, q.i) > sureSplit*max(p.noise, q.noise) {
		return false
	}
	return split < 0.8 || cycles < 0.8
}

// lasting is the energy of a line after the first 100 ms: a pitch is judged
// by what rings on, and the stages of a decay differ by some cents.
func (l *line) lasting() float64 {
	return l.energy * math.Exp(-2*lnThousand/l.t60*0.1)
}

// merge takes q into p: the frequency is the mean by lasting energy.
func (p *line) merge(q *line) {
	a, b := p.lasting(), q.lasting()
	if p.many == 1 {
		p.weight = a
	}
	away := q.f - p.f
	if sum := p.weight + b; sum > 0 {
		p.f += away * b / sum
		p.weight = sum
	}
	p.spread = max(p.spread, math.Abs(q.f-p.f))
	p.many++
}

// weakest drops what lies too far below the strongest to be trusted, and what
// is over before the ring has begun.
func (e *Estimator) weakest() {
	j := &e.judge
	// Level over the first 60 ms: an attack transient, carried back to the
	// onset, would outshine every ring.
	early := func(l *line) float64 {
		x := 2 * lnThousand / l.t60 * 0.06
		return dB(abs2(l.amp)) + dB(-math.Expm1(-x)/x)
	}
	top, energy, ringing := math.Inf(-1), 0.0, 0.0
	for _, i := range j.byEnergy() {
		l := &j.lines[i]
		top = max(top, early(l))
		energy = max(energy, l.energy)
		if l.t60 > 0.1 {
			ringing = max(ringing, l.energy)
		}
	}
	long := 0.0
	for _, i := range j.loud {
		if l := &j.lines[i]; l.t60 > 0.1 && l.energy > 0.01*ringing {
			long = max(long, l.t60)
		}
	}
	for _, i := range j.loud {
		l := &j.lines[i]
		if early(l) < top-42 || dB(energy/l.energy) > 44 || l.t60 < 0.04*min(long, 1) {
			l.keep = false
		}
	}
}

// cluster turns three lines or more within 6 Hz or 0.6 % of each other into
// one that is no single exponential (resampled or looped sounds, a rattling
// support) unless the model holds to the noise there, and keeps the stronger of a pair that is unequal by 20 dB.
func (j *judge) cluster() {
	order := j.byFrequency()
	for a := 0; a < len(order); {
		b := a + 1
		for b < len(order) && j.lines[order[b]].f-j.lines[order[b-1]].f < max(6, 0.006*j.lines[order[a]].f) {
			b++
		}
		best := order[a]
		var sum, mean float64
		sound := true // all of them stand clear of each other, with nothing left between
		for k, i := range order[a:b] {
			l := &j.lines[i]
			if k > 0 {
				q := &j.lines[order[a+k-1]]
				sound = sound && (l.f-q.f)*min(l.t60, q.t60) > 1.5
			}
			sound = sound && l.noise < 2
			if l.energy > j.lines[best].energy {
				best = i
			}
			sum += l.lasting()
			mean += l.lasting() * l.f
		}
		top := &j.lines[best]
		switch b - a {
		case 1:
		case 2:
			other := order[a] + order[a+1] - best
			if l := &j.lines[other]; l.energy < 0.01*top.energy {
				l.keep, l.of = false, best
			}
		default:
			if sound || sum == 0 {
				break
			}
			mean /= sum
			var square float64
			for _, i := range order[a:b] {
				l := &j.lines[i]
				square += l.lasting() * (l.f - mean) * (l.f - mean) / sum
				if i != best {
					l.keep, l.of = false, best
				}
			}
			top.f = mean
			top.spread = max(top.spread, math.Sqrt(square))
			top.stages = true
			top.many = b - a
		}
		a = b
	}
}
