package partial

import (
	"math"

	"ringwell/analysis"
)

// explained returns the share of the early energy that the reported partials
// (with what was merged into them) explain: the smaller of raw and whitened,
// noise taken off. The first 100 ms count; where they say nothing, 40 to
// 190 ms.
func (e *Estimator) explained() float64 {
	j, s := &e.judge, e.joint.cur
	n := min(e.n, int(0.19*e.fs))
	early, late := min(n, int(0.1*e.fs)), int(0.04*e.fs)
	e.restOf = 0
	white := e.rest[:n] // what the whole model leaves; give back what is not reported
	e.tmp = grown(e.tmp, n)
	raw := e.tmp[:n]
	copy(raw, e.x[e.skip:e.skip+n])
	mine := func(l *line) bool {
		for range j.lines { // what belongs to one that belongs to another
			if l.keep || l.of < 0 {
				break
			}
			l = &j.lines[l.of]
		}
		return l.keep
	}
	any := false
	for i := range j.lines {
		l := &j.lines[i]
		c := s.c[l.i]
		if !mine(l) {
			subtract(white, s.w[l.i], s.d[l.i], -c)
			continue
		}
		any = true
		h := e.white.response(s.w[l.i], s.d[l.i])
		c *= conj(h) / complex(abs2(h), 0)
		subtractDown(raw, s.w[l.i], s.d[l.i], c, silence)
	}
	if !any {
		return 0
	}
	var floor float64
	for _, p := range e.white.psd {
		floor += p / bins
	}
	share := func(from, to int, rest, whole []float64, power float64) (float64, bool) {
		m := float64(to - from)
		all := square(whole[from:to]) - m*power
		if all < 2*math.Sqrt(2*m)*power {
			return 0, false
		}
		return 1 - max(square(rest[from:to])-m*power, 0)/all, true
	}
	whole := e.x[e.skip : e.skip+n]
	a, okA := share(0, early, raw, whole, floor)
	b, okB := share(0, early, white, e.y[:n], 1)
	if !okA && n-late > int(0.02*e.fs) {
		a, okA = share(late, n, raw, whole, floor)
	}
	if !okB && n-late > int(0.02*e.fs) {
		b, okB = share(late, n, white, e.y[:n], 1)
	}
	switch {
	case okA && okB:
		a = min(a, b)
	case okB || !okA: // the raw share is what a microphone and a player hear
		return 0
	}
	return min(max(a, 0), 1)
}

// pitched decides between a struck thing with a ring and a knock, a syllable
// or a rustle. Measured on 440 synthetic strikes and 120 knocks of three kinds:
// strikes are explained to 0.84-1.0 (0.3-0.6 in speech at 5-10 dB), knocks to
// at most 0.48, mostly under 0.14; a strike falls from its first 24 ms on, a
// syllable rises for 40 ms and more.
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
	// A beat may bring the sound back to where it began: that is no rise.
	return r.Explained >= least && r.FirstDB > -2 && (r.RiseMS <= 40 || r.FirstDB > -0.7)
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
