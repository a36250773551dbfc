package partial

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis/fourier"
)

// candidate is a place where the fit leaves more than noise.
type candidate struct {
	w, d   float64
	lam    float64 // likelihood ratio |Σ r·z^n|²/Σ|z|^2n; for white noise it is exponential, mean 1
	excess float64 // lam over the local floor
}

// scanner looks through what a fit leaves. Its buffers serve all windows.
type scanner struct {
	plan      map[int]*fourier.Real
	buf       []float64
	spec      []complex128
	lam, lam1 []float64
	damp      []float64 // best damping by bin, when several were tried
	floor     []float64
	sample    []float64
	hidden    bool // the last scan left out peaks as side lobes
	found     []candidate
}

func (s *scanner) fft(n int) *fourier.Real {
	if s.plan == nil {
		s.plan = map[int]*fourier.Real{}
	}
	p := s.plan[n]
	if p == nil {
		p = fourier.New(n)
		s.plan[n] = p
	}
	return p
}

const (
	lowest  = 55.0  // Hz: below it lie rumble and the room's own modes, no struck thing a player tunes
	highest = 18000 // Hz, or 0.42 of the rate: above it converters' filters bend the decay
	// side is how far below the strongest peak of one pass another may lie:
	// 20 dB hides the side lobes of what is not yet fitted. The next pass,
	// with the strong ones gone, sees further down.
	side = 0.01
	// addMost is how many poles one pass may add.
	addMost = 12
)

// power fills s.lam with the likelihood ratio of waves of damping d at every
// bin of a transform of size nf.
func (s *scanner) power(dst, rest []float64, d float64, nf int) {
	s.buf = grown(s.buf, nf)
	g, q := 1.0, math.Exp(-d)
	for i, v := range rest {
		s.buf[i] = v * g
		g *= q
	}
	clear(s.buf[len(rest):])
	s.spec = grown(s.spec, nf/2+1)
	s.fft(nf).Coefficients(s.spec, s.buf)
	scale := 1 / real(doubling(complex(q*q, 0), len(rest)).s0)
	for k, c := range s.spec {
		dst[k] = abs2(c) * scale
	}
}

// transform returns the least length of at least n that the FFT is fast at:
// 4, 5 or 6 times a power of two.
func transform(n int) int {
	p := 1
	for 8*p < n {
		p *= 2
	}
	for _, q := range [...]int{4, 5, 6} {
		if q*p >= n {
			return q * p
		}
	}
	return 8 * p
}

// scan returns what a joint fit of n samples leaves, strongest first. The first
// scan of a window looks for the strong ones and tries one damping.
func (e *Estimator) scan(n int, first bool) []candidate {
	s := &e.scanner
	e.residual(n)
	nf := transform(n)
	if n <= 2000 {
		nf = transform(2 * n)
	}
	// A wave of damping d seen with d' keeps 4dd'/(d+d')² of its likelihood
	// ratio: these two see all from no decay to T60 = 14 ms within 2 dB. Long
	// windows need only one: what dies faster was seen in those before.
	damps := [...]float64{1 / float64(n), 6 / float64(n)}
	tried := damps[:1]
	if n <= 3000 && !first {
		tried = damps[:]
	}
	s.lam = grown(s.lam, nf/2+1)
	s.power(s.lam, e.rest[:n], tried[0], nf)
	s.localFloor(nf, n, e.fs)
	if len(tried) > 1 {
		s.lam1, s.damp = grown(s.lam1, nf/2+1), grown(s.damp, nf/2+1)
		for k := range s.damp {
			s.damp[k] = tried[0]
		}
		for _, d := range tried[1:] {
			s.power(s.lam1, e.rest[:n], d, nf)
			for k, v := range s.lam1 {
				if v > s.lam[k] {
					s.lam[k], s.damp[k] = v, d
				}
			}
		}
	}
	lo := int(lowest / e.fs * float64(nf))
	hi := int(min(highest, 0.42*e.fs) / e.fs * float64(nf))
	lo, hi = max(lo, 2), min(hi, nf/2-2)
	eta := threshold(n)
	for k := lo; k < hi; k++ {
		s.lam[k] /= s.floor[k]
	}
	// Where candidates were refused, nothing more is looked for, but side
	// lobes of what is left there are still hidden.
	var shut float64
	cell := float64(nf) / (2 * math.Pi)
	for _, b := range e.closed {
		for k := max(int(b.lo*cell), lo); k <= min(int(b.hi*cell)+1, hi-1); k++ {
			shut = max(shut, s.lam[k])
			s.lam[k] = 0
		}
	}
	top := 0.3 * shut
	for _, v := range s.lam[lo:hi] {
		top = max(top, v)
	}
	s.found = s.found[:0]
	s.hidden = false
	// Under a known line fewer cells are looked at, so less is enough.
	least := side * top
	online := max(onLineThreshold(), least)
	if top <= min(eta, online) {
		return s.found
	}
	least = max(eta, least)
	s.hidden = side*top > eta
	p := e.joint.cur
	onLine := func(k int) bool {
		w := float64(k) / cell
		for i := range p.w {
			if math.Abs(w-p.w[i]) < max(4*p.d[i], 2*2*math.Pi/float64(n)) {
				return true
			}
		}
		return false
	}
	span := max(3, 6*nf/n)
	for k := lo; k < hi; k++ {
		v := s.lam[k]
		if v <= online || v < s.lam[k-1] || v < s.lam[k+1] || v <= least && !onLine(k) || !s.peak(k, span, lo, hi) {
			continue
		}
		c := candidate{excess: v, lam: v * s.floor[k], d: tried[0]}
		if len(tried) > 1 {
			c.d = s.damp[k]
		}
		at := float64(k)
		if k > lo && k < hi-1 {
			l, m, r := math.Log(s.lam[k-1]+1e-300), math.Log(v), math.Log(s.lam[k+1]+1e-300)
			if q := l - 2*m + r; q < -1e-9 {
				at += min(max(0.5*(l-r)/q, -0.5), 0.5)
			}
		}
		c.w = 2 * math.Pi * at / float64(nf)
		s.found = append(s.found, c)
	}
	slices.SortFunc(s.found, func(a, b candidate) int { return cmp.Compare(b.excess, a.excess) })
	return e.admit(s.found, n)
}

func (s *scanner) peak(k, span, lo, hi int) bool {
	for j := max(k-span, lo); j <= min(k+span, hi-1); j++ {
		if s.lam[j] > s.lam[k] {
			return false
		}
	}
	return true
}

// localFloor fills s.floor with the running median of s.lam over ±150 Hz or
// ±64 cells, whichever is more, as a mean (median/ln 2), at least 1: what was
// not there before the strike, or swells, raises its own threshold.
func (s *scanner) localFloor(nf, n int, fs float64) {
	half := max(64*nf/n, int(150/fs*float64(nf)))
	step := max(1, half/16)
	last := nf / 2
	s.floor = grown(s.floor, nf/2+1)
	prevAt, prev := -1, 1.0
	for at := 0; ; at += half {
		at = min(at, last)
		s.sample = s.sample[:0]
		for k := at - half; k <= at+half; k += step {
			j := k
			if j < 0 {
				j = -j
			}
			if j > last {
				j = 2*last - j
			}
			s.sample = append(s.sample, s.lam[max(j, 0)])
		}
		v := max(1, middle(s.sample)/math.Ln2)
		if prevAt < 0 {
			s.floor[0] = v
		}
		for k := prevAt + 1; k <= at; k++ {
			r := float64(k-prevAt) / float64(at-prevAt)
			s.floor[k] = prev*(1-r) + v*r
			if prevAt < 0 {
				s.floor[k] = v
			}
		}
		prevAt, prev = at, v
		if at == last {
			return
		}
	}
}

// residual fills e.rest with the first n samples less the joint model, unless
// it holds that already.
func (e *Estimator) residual(n int) {
	if e.restOf == n && len(e.restW) == len(e.joint.cur.w) {
		same := true
		for i, w := range e.joint.cur.w {
			same = same && w == e.restW[i] && e.joint.cur.c[i] == e.restC[i]
		}
		if same {
			return
		}
	}
	e.restOf = n
	e.restW, e.restC = append(e.restW[:0], e.joint.cur.w...), append(e.restC[:0], e.joint.cur.c...)
	e.rest = grown(e.rest, n)
	copy(e.rest, e.y[:n])
	s := e.joint.cur
	h := chord{dst: e.rest, least: faint}
	for i := range s.w {
		h.add(s.w[i], s.d[i], -s.c[i])
	}
	h.end()
}
