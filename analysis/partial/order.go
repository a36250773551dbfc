package partial

import (
	"math"

	"ringwell/analysis"
)

const lnThousand = analysis.LnThousand

// A real ring is no sum of exponentials to the last digit: two-stage decay,
// the room, a mallet's second touch. What a fit leaves beside a strong partial
// is mostly that. So a candidate must stand out the more the nearer it lies.
// The figures below were tuned on two dozen recordings of bars, plates,
// glasses, bells, wood and drums: without them a strike gave 50 components in
// place of 2 to 8; 6 dB tighter lost true weak pair members.
const (
	withinLine  = 23.0 // dB below, within 4 line widths or 2/T: asked of a pair once it is fitted
	onLine      = 45.0 // dB below, same place, before: one line fitted to two leaves little
	within40Hz  = 31.0 // dB below, within 40 Hz
	within100Hz = 38.0 // dB below, within 100 Hz or 3 %
	anywhere    = 50.0 // dB below the strongest of all
)

// energies fills dst with the raw energy of each pole in the window (up to a
// common factor) and returns the largest.
func (e *Estimator) energies(dst []float64) (top float64) {
	s := e.joint.cur
	k := len(s.w)
	for i := range s.w {
		dst[i] = abs2(s.c[i]) * real(s.diff[i*k+i].s0) / 4 * e.white.raw(s.w[i])
		top = max(top, dst[i])
	}
	return top
}

func dB(power float64) float64 { return 10 * math.Log10(max(power, 1e-300)) }

// admit keeps the candidates that may stand beside what is fitted, at most
// addMost of them.
func (e *Estimator) admit(found []candidate, n int) []candidate {
	s := e.joint.cur
	e.tmp = grown(e.tmp, len(s.w))
	energy := e.tmp
	top := e.energies(energy)
	for _, c := range found {
		top = max(top, c.lam*e.white.raw(c.w))
	}
	hz := 2 * math.Pi / e.fs
	kept := found[:0]
	room := min(addMost, polesMost-len(s.w))
	for _, c := range found {
		if len(kept) == room {
			break
		}
		own := c.lam * e.white.raw(c.w)
		ok, online := dB(top/own) < anywhere, false
		for i := 0; i < len(s.w); i++ {
			away := math.Abs(c.w - s.w[i])
			most := anywhere
			switch {
			case away < max(4*s.d[i], 2*2*math.Pi/float64(n)):
				online = online || dB(energy[i]/own) < onLine
				continue
			case away < 40*hz:
				most = within40Hz
			case away < max(100*hz, 0.03*s.w[i]):
				most = within100Hz
			}
			ok = ok && dB(energy[i]/own) < most
		}
		ok = ok || online
		if ok {
			kept = append(kept, c)
		} else {
			e.shut(c.w, 2*math.Pi*3/float64(n))
		}
	}
	return kept
}

// band is a stretch of frequency, in rad a sample.
type band struct{ lo, hi float64 }

// shut keeps the scan of this window from looking at w again.
func (e *Estimator) shut(w, half float64) {
	e.closed = append(e.closed, band{w - half, w + half})
}

// add puts the candidates into the joint fit. One beside a pole that is there
// already is first fitted together with it, from several starts; add reports
// whether there was one.
func (e *Estimator) add(found []candidate, n int) (split bool) {
	s := e.joint.cur
	have := len(s.w)
	w, d := e.judge.w[:0], e.judge.d[:0]
	w, d = append(w, s.w...), append(d, s.d...)
	used := grown(e.judge.used, have)
	clear(used)
	for _, c := range found {
		near, size := -1, 0.0
		for i := range have {
			if math.Abs(s.w[i]-c.w) < 4*(s.d[i]+math.Pi/float64(n))+2*c.d && abs2(s.c[i]) > size {
				near, size = i, abs2(s.c[i])
			}
		}
		nw, nd := c.w, c.d
		if near >= 0 {
			if used[near] {
				continue // one split of a line a pass
			}
			used[near] = true
			split = true
			pw, pd, ok := e.split(near, c, n)
			if !ok {
				e.shut(c.w, max(2*math.Pi*3/float64(n), 2*s.d[near]))
				continue
			}
			w[near], d[near] = pw[0], pd[0]
			nw, nd = pw[1], pd[1]
		}
		w, d = append(w, nw), append(d, nd)
		e.mom = append(e.mom, e.moments(nw))
	}
	j := &e.judge
	j.w, j.d, j.used, j.kept = w, d, used, j.kept[:0]
	for i := range have {
		j.kept = append(j.kept, i)
	}
	e.joint.place(w, d, j.kept, used)
	return split
}

const (
	// clearSplit is how many standard deviations the split of two poles must
	// be for them to stay two while neither level is known well.
	clearSplit = 1.5
	// sharedLevel is the same for such a pole's own level, as Wald's 1/(2·var):
	// a standard deviation of 8.7 dB.
	sharedLevel = 0.5
	// bothFall is by how many neper both must fall within the window, 10 dB: two
	// that hardly do imitate a breath's restlessness.
	bothFall = 1.15
)

// clear returns how many standard deviations of their difference two poles lie
// apart in frequency. It wants covariances of the present fit.
func (e *Estimator) clear(a, b int) float64 {
	s, j := e.joint.cur, &e.judge
	v, _ := j.between(a, b)
	variance := j.cov[a][10] + j.cov[b][10] - 2*v[10]
	if !(variance > 0) {
		return 0
	}
	return math.Abs(s.w[a]-s.w[b]) / math.Sqrt(variance)
}

// prune drops poles that are not significant (Wald's test on their level),
// too short, out of range, or doubles of a stronger one.
func (e *Estimator) prune(n int) {
	s := e.joint.cur
	k := len(s.w)
	if k == 0 {
		return
	}
	e.covariances()
	j := &e.judge
	j.keep = grown(j.keep, k)
	all := true
	eta := threshold(n)
	hz := 2 * math.Pi / e.fs
	fits := func(i int) bool {
		va, vw := j.cov[i][0], j.cov[i][10]
		need := eta * 0.7
		for m := range k {
			// A member of a near pair was let in by the likelihood ratio of
			// the pair; its own level is known worse as long as they overlap:
			// their sum is known, and how it moves, but not who has what.
			if m != i && math.Abs(s.w[m]-s.w[i]) < 4*(s.d[i]+math.Pi/float64(n)) {
				need = min(need, 2)
				if j.keep[m] && e.clear(i, m) > clearSplit && min(s.d[i], s.d[m])*float64(n) > bothFall {
					need = sharedLevel
				}
			}
		}
		if !(va > 0) || !(vw > 0) || 1/(2*va) < need || va > 0.25 && need > sharedLevel {
			return false
		}
		if s.d[i] > decayOf(0.0115, e.fs) || s.w[i] < 45*hz || s.w[i] > 0.93*math.Pi {
			return false
		}
		for m := range k {
			if m != i && j.keep[m] && abs2(s.c[m]) >= abs2(s.c[i]) {
				if math.Abs(s.w[m]-s.w[i]) < 0.25*math.Sqrt(vw+max(j.cov[m][10], 0))+0.02*(min(s.d[i], s.d[m])+1/float64(n)) {
					return false
				}
			}
		}
		return true
	}
	for i := range j.keep {
		j.keep[i] = true
	}
	for i := range k {
		j.keep[i] = fits(i)
		all = all && j.keep[i]
	}
	if !all {
		e.keepOnly(j.keep)
	}
}
