package partial

import (
	"cmp"
	"math"
	"slices"
)

// judge holds the buffers of pruning and reporting.
type judge struct {
	cov   [][16]float64
	cross []crossing
	group []int
	inv   []float64
	keep  []bool
	used  []bool
	kept  []int
	w, d  []float64
	one   state
	lm    spd
	seq   []complex128
	lines []line
	loud  []int
}

// line is one pole of the joint fit under judgement.
type line struct {
	i      int        // pole
	f      float64    // Hz
	t60    float64    // s
	width  float64    // Hz: 2.2/T60, the line's width at half power
	amp    complex128 // raw, at the onset
	energy float64    // raw, in the window
	lam    float64    // likelihood ratio
	sigma  float64    // Hz
	noise  float64    // how much what is left beside the line exceeds the noise, as a factor of sigma; at least 1
	beside float64    // power left on the line against its own
	drift  float64    // Hz
	keep   bool
	of     int     // index of the line this one belongs to (a second stage, a shadow, a cluster), -1 for none
	spread float64 // Hz: how far the members merged into it lie apart
	stages bool    // more than one pole makes this line
	many   int     // members merged into it
	weight float64 // lasting energy of the members merged into it
}

const (
	leastT60 = 0.014 // s: below it lies the contact, not a ring
	leastQ   = 6.0   // a wave that dies within two periods has no pitch
	// steady is the T60 a window of 0.9 s and more can tell from no decay.
	steady = 30.0 // s
)

// weigh makes a line of every pole and drops what is no partial of the strike.
func (e *Estimator) weigh() {
	s, j := e.joint.cur, &e.judge
	n, k := e.n, len(s.w)
	e.covariances()
	e.residual(n)
	e.restUV = fold(e.restUV[:0], e.rest, 0, n/block)
	j.lines = grown(j.lines, k)
	top := 0.0
	hz := e.fs / (2 * math.Pi)
	for i := range k {
		h := e.white.response(s.w[i], s.d[i])
		back := expi(-s.d[i]*float64(e.skip), -s.w[i]*float64(e.skip))
		l := line{i: i, f: s.w[i] * hz, t60: lnThousand / (s.d[i] * e.fs), noise: 1, keep: true, of: -1, many: 1}
		l.amp = s.c[i] * back * conj(h) / complex(abs2(h), 0)
		l.width = 2.2 / l.t60
		l.lam = abs2(s.c[i]) * real(s.diff[i*k+i].s0) / 4
		l.energy = l.lam * e.white.raw(s.w[i])
		l.sigma = math.Sqrt(max(j.cov[i][10], 0)) * hz
		top = max(top, l.energy)
		j.lines[i] = l
	}
	seconds := float64(n) / e.fs
	for i := range j.lines {
		l := &j.lines[i]
		q := math.Pi * l.f * l.t60 / lnThousand
		l.keep = l.t60 >= leastT60 && q >= leastQ && l.f*seconds >= 2.5 && j.cov[i][10] > 0
		if seconds >= 0.9 && l.t60 > steady && l.energy < 0.3*top {
			l.keep = false // a tone of the room, not of the strike
		}
		if !l.keep {
			continue
		}
		j.seq = decimate(j.seq, e.restUV, s.w[i], n/block)
		mean, most, chance := e.ev.neighbours(j.seq, s.w[i], s.d[i], e.fs)
		l.noise = math.Sqrt(max(1, mean))
		l.beside = max(0, mean-2) / l.lam
		// What does not stand out from what is left around it is left over
		// itself; neither is a wave that is over within the window and still
		// not known in its decay, once what is left is taken for noise.
		if most > chance && (4*most > l.lam && l.lam < 3000 || 2*most > l.lam) {
			l.keep = false
			continue
		}
		if s.d[i]*float64(n) > 3 && l.noise*math.Sqrt(j.cov[i][15]) > 0.5*s.d[i] {
			l.keep = false
			continue
		}
		if e.heardBefore(s.w[i], s.d[i], l.lam, n) {
			l.keep = false
			continue
		}
		l.drift = e.drift(j.seq, i, n, l.noise) * hz
	}
}

// byEnergy lists the kept lines, loudest first.
func (j *judge) byEnergy() []int {
	j.loud = j.loud[:0]
	for i := range j.lines {
		if j.lines[i].keep {
			j.loud = append(j.loud, i)
		}
	}
	slices.SortFunc(j.loud, func(a, b int) int { return cmp.Compare(j.lines[b].energy, j.lines[a].energy) })
	return j.loud
}

// byFrequency lists the kept lines, lowest first.
func (j *judge) byFrequency() []int {
	j.byEnergy()
	slices.SortFunc(j.loud, func(a, b int) int { return cmp.Compare(j.lines[a].f, j.lines[b].f) })
	return j.loud
}
