// Package partial resolves the ring of a struck object into damped sinusoids:
// frequency, level, ring time and beating, each with a standard deviation,
// near the least the noise allows (the Cramér-Rao bound).
//
// The way of one strike: the background is whitened (whiten.go), a window that
// starts just after the contact and grows is fitted by all damped waves
// together (moments.go, sums.go, state.go, fit.go), what the fit leaves is
// scanned for more (scan.go, order.go, pairs.go), the model is watched for a
// hand that stops it (broke.go), and what is found is tested against the
// background and against its neighbours before it is reported (judge.go,
// evidence.go, gather.go, sigma.go, report.go).
package partial

import (
	"math"

	"ringwell/analysis"
)

const (
	// contact is how long after the onset the fit begins, in seconds: mallet
	// and object are in contact for 2 to 5 ms, and that sound is no ring.
	contact = 0.006
	// firstWindow is the first window, in seconds; each next one is twice as
	// long.
	firstWindow = 0.02
	// leastWindow is what a fit needs at all.
	leastWindow = 0.010
	// freshBelow: windows shorter than this start from nothing. A pole born
	// of the contact noise in a very short window would live on.
	freshBelow = 0.035
	// scanAgain is how much longer than the last one scanned a window must be
	// to be scanned: by less, a partial that was not seen gains less than 2 dB.
	scanAgain = 1.6
	// guessAgain: a background guessed from the strike itself is guessed anew
	// when there is so many times as much of it.
	guessAgain = 2
	// longest is where a window stops growing. A ring of 4 s then gives its
	// frequency within 2 % of what the whole of it would.
	longest = 2.5
	// polesMost bounds time and memory. A bell gives 10 to 25; 48 leaves room
	// for an object with 40 partials and some pairs among them.
	polesMost = 48
)

// Estimator reads one strike at a time. It keeps its buffers from strike to
// strike and is for one goroutine.
type Estimator struct {
	rate analysis.Rate
	fs   float64

	// of the take
	before []float64
	floor  []float64
	lsb    float64

	// of the strike so far
	x            []float64 // the sound from the onset, made finite
	designed     int       // samples the whitener was designed with; 0 none
	guessed      bool      // the background was guessed from the strike itself
	white        *whitener
	skip         int       // samples from the onset to the start of the window
	clipped      int       // samples after which nothing is clipped
	y            []float64 // whitened, from skip
	uv           []float64 // y folded for block moments
	n            int       // window of the last fit, samples; 0 none
	scanned      int       // window of the last scan
	broke        int       // sample of the window at which the model broke; 0 none
	last         Reading
	joint        *fitter
	local        *fitter
	tail         *fitter // of what comes after a break
	tailMom      []*moments
	tailFrom     int
	w, d         []float64
	newer, older model      // of the window before, and of the one before that
	mom          []*moments // of joint's poles
	spare        []*moments
	pairMom      [2]*moments
	pairSpare    [2]moments
	pairOf       int

	scanner scanner
	closed  []band    // where this window's scan looks no more
	rest    []float64 // y minus the model
	restOf  int       // samples it was made of; 0 if it holds something else
	restW   []float64
	restC   []complex128
	restUV  []float64
	ev      evidence
	judge   judge
	tmp     []float64
}

// New returns an estimator for sound of the given rate, which must be
// positive.
func New(rate analysis.Rate) *Estimator {
	e := &Estimator{rate: rate, fs: float64(rate), white: newWhitener(), joint: newFitter(), local: newFitter(), tail: newFitter()}
	e.joint.at = e.jointMoments
	e.local.at = e.localMoments
	e.tail.at = e.tailMoments
	return e
}

// Begin starts a new strike. It reads t.Before, which must stay as it is, until
// the next Begin.
func (e *Estimator) Begin(t Take) {
	e.before = t.Before
	e.floor = append(e.floor[:0], t.Floor...)
	e.lsb = t.LSB
	if !(e.lsb > 0 && e.lsb < 1) {
		e.lsb = 0
	}
	e.x = e.x[:0]
	e.ev.begin()
	e.reset()
}

// reset forgets every fit of this strike, not its sound.
func (e *Estimator) reset() {
	e.designed, e.guessed = 0, false
	e.y, e.uv, e.restOf = e.y[:0], e.uv[:0], 0
	e.n, e.broke, e.scanned = 0, 0, 0
	e.last = Reading{}
	e.newer.n, e.older.n = 0, 0
	e.drop()
}

// drop forgets all poles.
func (e *Estimator) drop() {
	e.spare = append(e.spare, e.mom...)
	e.mom = e.mom[:0]
	e.joint.cur.resize(0)
}

// loudest is the largest sample taken at its word: 60 dB over full scale.
const loudest = 1000

// sanitise appends src to dst with what is not finite as silence.
func sanitise(dst, src []float64) []float64 {
	from := len(dst)
	dst = append(dst, src...)
	for i, v := range dst[from:] {
		dst[from+i] = tame(v)
	}
	return dst
}

// tame returns v as a sample: what is not a number is silence.
func tame(v float64) float64 {
	switch {
	case v >= -loudest && v <= loudest:
		return v
	case v > loudest:
		return loudest
	case v < -loudest:
		return -loudest
	}
	return 0
}

// Grow reads the strike from all of its sound so far: sound[0] is the onset
// sample, earlier rings taken out. From call to call sound may only grow at
// its end (Begin starts over). It may be called at any lengths; doubling ones
// cost least.
func (e *Estimator) Grow(sound []float64) Reading {
	most := int((longest + contact + 0.7) * e.fs)
	if len(sound) > most {
		sound = sound[:most]
	}
	if len(sound) > len(e.x) {
		e.x = sanitise(e.x, sound[len(e.x):])
	}
	if e.broke > 0 && e.n > 0 {
		return e.answer()
	}
	e.prepare()
	n := min(len(e.y), int(longest*e.fs)) / block * block
	if float64(n) < leastWindow*e.fs {
		return e.answer()
	}
	if n > e.n && !e.over() {
		e.windows(n)
	}
	return e.answer()
}

// prepare brings the whitened sound up to date.
func (e *Estimator) prepare() {
	if end := clipEnd(e.x, e.fs, e.lsb); end > e.clipped || e.designed == 0 {
		e.reset()
		e.clipped = end
		e.skip = max(int(contact*e.fs), order)
		if end > 0 {
			e.skip = max(e.skip, end+int(0.001*e.fs))
		}
	}
	if len(e.x) < e.skip+int(leastWindow*e.fs) {
		return
	}
	if e.designed == 0 || e.guessed && len(e.x) >= guessAgain*e.designed {
		e.design()
		e.y, e.uv, e.restOf = e.y[:0], e.uv[:0], 0
		for _, m := range e.mom {
			m.refer(m.w0)
		}
	}
	e.y = e.white.apply(e.y, e.x, e.skip+len(e.y))
}

// design makes the whitener from the best that is known of the background.
func (e *Estimator) design() {
	w := e.white
	most := framesMost
	if len(e.floor) > 1 {
		most = framesFew
	}
	known := w.before(e.before, most)
	e.guessed = false
	if !known {
		if len(e.floor) > 1 {
			clear(w.psd)
		} else {
			e.guessed = true
			w.within(e.x)
		}
	}
	w.atLeast(e.floor, max(e.lsb*e.lsb/12, silence, beneath*loud(e.x, int(0.02*e.fs))))
	w.design()
	e.designed = len(e.x)
}

// loud returns the mean square of the loudest run of b samples of the first
// ten.
func loud(x []float64, b int) float64 {
	var best float64
	for k := 0; k < 10 && (k+1)*b <= len(x); k++ {
		best = max(best, square(x[k*b:(k+1)*b])/float64(b))
	}
	return best
}

// square returns Σ v².
func square(v []float64) float64 {
	var a, b float64
	i := 0
	for ; i+1 < len(v); i += 2 {
		a += v[i] * v[i]
		b += v[i+1] * v[i+1]
	}
	if i < len(v) {
		a += v[i] * v[i]
	}
	return a + b
}

// over reports whether more sound can tell nothing more: all poles are 90 dB
// down or 20 dB below what a scan would find.
func (e *Estimator) over() bool {
	if e.n == 0 || float64(e.n) < 0.3*e.fs || len(e.mom) == 0 {
		return false
	}
	s := e.joint.cur
	for i := range s.w {
		if abs2(s.c[i])*math.Exp(-2*s.d[i]*float64(e.n)) > 1e-4 {
			return false
		}
	}
	return true
}
