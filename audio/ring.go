package audio

import (
	"math/bits"
	"sync/atomic"
)

// gaps is how many separate losses a Ring can hold the places of. A reader that
// is slow enough to need more loses more sound, never the count of it.
const gaps = 64

// Ring carries samples from one goroutine that must not wait (a sound card's
// callback) to one that may. Write is for the one, every other method but Lost
// for the other; Lost is for anybody. There is no lock: each side owns one
// index and only reads the other's.
//
// Write allocates nothing and waits for nobody. It takes a whole buffer or
// loses a whole buffer, so that interleaved channels stay in step, and what it
// loses is counted and keeps its place: Next tells of it just before the sample
// that follows the gap.
//
//	callback:  ring.Write(in)
//	owner:     for { <-ring.Wait(); for { n, lost := ring.Next(buf); if n == 0 { break }; ... } }
type Ring struct {
	buf  []float32
	mask uint64
	wake chan struct{}

	_    [64]byte // the two sides' indices stand on cache lines of their own
	w    atomic.Uint64
	gw   atomic.Uint64 // gaps begun
	lost atomic.Int64
	_    [64]byte
	r    atomic.Uint64
	gr   atomic.Uint64 // gaps told
	_    [64]byte

	gap [gaps]gap
}

// gap says that lost samples are missing before the sample with index at.
// The writer may add to it only until it writes that sample, and the reader
// looks at it only after.
type gap struct {
	at   uint64
	lost int64
}

// NewRing returns a ring that holds at least n samples: n rounded up to a power
// of two. It panics if n is below 1.
func NewRing(n int) *Ring {
	if n < 1 {
		panic("audio: NewRing: a ring needs room for one sample")
	}
	size := uint64(1) << bits.Len64(uint64(n-1))
	return &Ring{
		buf:  make([]float32, size),
		mask: size - 1,
		wake: make(chan struct{}, 1),
	}
}

// Cap returns how many samples the ring holds when full.
func (r *Ring) Cap() int { return len(r.buf) }

// Write stores all of p, or nothing if it does not fit, and wakes the reader.
// It returns how many samples were lost: 0 or len(p). It keeps no reference to
// p. One goroutine (or one callback thread) may call it.
func (r *Ring) Write(p []float32) (lost int) {
	if len(p) == 0 {
		return 0
	}
	w := r.w.Load()
	free := uint64(len(r.buf)) - (w - r.r.Load())
	open := r.openGap(w)
	// Going on after a gap closes it. That needs a free place for the gap
	// that may come next; without one the gap that is open grows instead.
	full := open && r.gw.Load()-r.gr.Load() == gaps
	if uint64(len(p)) > free || full {
		r.lose(w, open, len(p))
		return len(p)
	}
	at := w & r.mask
	n := copy(r.buf[at:], p)
	copy(r.buf, p[n:])
	r.w.Store(w + uint64(len(p)))
	select {
	case r.wake <- struct{}{}:
	default:
	}
	return 0
}

// Lose counts n samples that the device lost before the next Write. It is for
// the side that writes.
func (r *Ring) Lose(n int) {
	if n < 1 {
		return
	}
	w := r.w.Load()
	r.lose(w, r.openGap(w), n)
}

// openGap reports whether the newest gap lies at w, so that it still grows.
func (r *Ring) openGap(w uint64) bool {
	g := r.gw.Load()
	return g > 0 && r.gap[(g-1)%gaps].at == w
}

func (r *Ring) lose(w uint64, open bool, n int) {
	r.lost.Add(int64(n))
	g := r.gw.Load()
	if open {
		r.gap[(g-1)%gaps].lost += int64(n)
		return
	}
	r.gap[g%gaps] = gap{at: w, lost: int64(n)}
	r.gw.Store(g + 1)
}

// Next moves up to len(dst) samples into dst and returns how many, 0 if there
// are none yet, and how many were lost just before the first of them. It stops
// short of a gap, so one call never spans one.
func (r *Ring) Next(dst []float32) (n int, lost int64) {
	pos := r.r.Load()
	have := r.w.Load() - pos
	if have == 0 || len(dst) == 0 {
		return 0, 0
	}
	if told := r.gr.Load(); told < r.gw.Load() {
		g := &r.gap[told%gaps]
		if g.at == pos {
			lost = g.lost
			r.gr.Store(told + 1)
			told++
			g = &r.gap[told%gaps]
		}
		if told < r.gw.Load() {
			have = min(have, g.at-pos)
		}
	}
	n = int(min(have, uint64(len(dst))))
	at := pos & r.mask
	m := copy(dst[:n], r.buf[at:])
	copy(dst[m:n], r.buf)
	r.r.Store(pos + uint64(n))
	return n, lost
}

// Read is Next for a reader that does not ask where sound was lost: it moves
// what there is, up to len(dst) samples, across gaps, and returns how many.
func (r *Ring) Read(dst []float32) int {
	var done int
	for done < len(dst) {
		n, _ := r.Next(dst[done:])
		if n == 0 {
			break
		}
		done += n
	}
	return done
}

// Wait returns a channel that yields once after samples were written. One
// yield may stand for many writes: read until nothing is left, then wait again.
func (r *Ring) Wait() <-chan struct{} { return r.wake }

// Lost returns how many samples Write has lost since the ring was made.
func (r *Ring) Lost() int64 { return r.lost.Load() }
