package partial

import (
	"math"

	"ringwell/analysis"
)

// explained returns the share of the early energy that the reported partials
// (with what was merged into them) explain: the smaller of raw and whitened,
// noise taken off. The first 100 ms count; where they say nothing, 40 to
// 190 ms. lasting is the same share of what comes after the first 100 ms,
// whitened; 0 where that is no longer than they are or only noise.
func (e *Estimator) explained() (atFirst, lasting float64) {
	j, s := &e.judge, e.joint.cur
	early := [2]int{0, min(e.n, int(0.1*e.fs))}
	late := [2]int{int(0.04 * e.fs), min(e.n, int(0.19*e.fs))}
	e.restOf = 0
	left := e.rest[:e.n] // what the whole model leaves; given back what is not reported
	any := false
	back := chord{dst: left, least: faint}
	for i := range j.lines {
		if l := &j.lines[i]; j.told(l) {
			any = true
		} else {
			back.add(s.w[l.i], s.d[l.i], s.c[l.i])
		}
	}
	back.end()
	if !any {
		return 0, 0
	}
	// white and raw give the share of a stretch, where it stands out.
	white := func(at [2]int) (part, doubt float64) {
		return share(left[at[0]:at[1]], e.y[at[0]:at[1]], 1, 1)
	}
	raw := func(at [2]int) (part, doubt float64) {
		e.tmp = grown(e.tmp, at[1]-at[0])
		copy(e.tmp, e.x[e.skip+at[0]:e.skip+at[1]])
		h := chord{dst: e.tmp, least: inaudible}
		for i := range j.lines {
			l := &j.lines[i]
			if !j.told(l) {
				continue
			}
			// The amplitude after the contact: at the onset a short one is a guess.
			n := float64(e.skip + at[0])
			h.add(s.w[l.i], s.d[l.i], -l.amp*expi(s.d[l.i]*n, s.w[l.i]*n))
		}
		h.end()
		var floor float64
		for _, p := range e.white.psd {
			floor += p / bins
		}
		return share(e.tmp, e.x[e.skip+at[0]:e.skip+at[1]], floor, e.white.breadth())
	}
	if e.n > 2*early[1] {
		if v, doubt := white([2]int{early[1], e.n}); doubt <= stands {
			lasting = min(max(v, 0), 1)
		}
	}
	a, doubtA := raw(early)
	b, doubtB := white(early)
	if long := late[1]-late[0] > int(0.02*e.fs); long {
		if doubtA > stands {
			a, doubtA = raw(late)
		}
		if doubtB > stands {
			b, doubtB = white(late)
		}
	}
	// Against a guessed background the whitened share says how good the guess is.
	known := doubtB <= stands && !e.guessed
	switch {
	case known && doubtA <= stands:
		// A ventilation swells and sinks: that is not held against the ring.
		a = min(a+2*doubtA, b)
	case known: // under it the raw sound says nothing, and the ring is plain all the same
		a = b
	case doubtA > stands:
		return 0, lasting
	}
	return min(max(a, 0), 1), lasting
}

// stands is the doubt up to which a share says something: two standard
// deviations of the noise.
const stands = 0.5

// told reports whether a line is reported, or belongs to one that is.
func (j *judge) told(l *line) bool {
	for range j.lines { // what belongs to one that belongs to another
		if l.keep || l.of < 0 {
			break
		}
		l = &j.lines[l.of]
	}
	return l.keep
}

// share returns how much of the energy of whole is not in rest, noise of the
// given power a sample taken off both, and by how much chance alone moves it (one
// standard deviation): at least a half where whole does not stand out of the
// noise. breadth is the part of the band that the noise fills: the energy of a
// narrow one is less even.
func share(rest, whole []float64, power, breadth float64) (part, doubt float64) {
	m := float64(len(whole))
	all := square(whole) - m*power
	if all <= 0 {
		return 0, math.Inf(1)
	}
	return 1 - max(square(rest)-m*power, 0)/all, math.Sqrt(2*m/breadth) * power / all
}

// LastingShare of the energy after the first 100 ms is what a voice's glides and
// gaps never leave to waves that only fall.
const LastingShare = 0.95

// pitched decides between a struck thing with a ring and a knock, a syllable
// or a rustle. Measured on 440 synthetic strikes and 120 knocks of three kinds:
// strikes are explained to 0.84-1.0 (0.3-0.6 in speech at 5-10 dB), knocks to
// at most 0.48, mostly under 0.14; a strike falls from its first 24 ms on, a
// syllable rises for 40 ms and more. What swells as a syllable does but is a ring
// for longer than that, to LastingShare of its energy, is a bar over its
// resonator.
func pitched(r *Reading) bool {
	if len(r.Partials) == 0 {
		return false
	}
	if r.Explained >= 0.9 {
		return true
	}
	long := false
	for _, p := range r.Partials {
		long = long || p.T60 == 0 || p.T60 >= 0.1
	}
	least := 0.7
	if long {
		least = 0.4
	}
	return r.Explained >= least && (r.FirstDB > -2 && r.RiseMS <= 40 || long && r.Lasting >= LastingShare)
}

// rise returns where the loudest 8 ms of the first 320 ms begin, in ms after
// the onset, and the loudest of the first three 8 ms against them, in dB.
func rise(sound []float64, rate analysis.Rate) (ms, firstDB float64) {
	b := int(0.008 * float64(rate))
	var best, first float64
	for k := 0; k < 40 && (k+1)*b <= len(sound); k++ {
		p := square(sound[k*b : (k+1)*b])
		if p > best {
			best, ms = p, float64(8*k)
		}
		if k < 3 {
			first = max(first, p)
		}
	}
	if best <= 0 {
		return 0, 0
	}
	return ms, min(dB(max(first, 1e-12*best)/best), 0)
}
