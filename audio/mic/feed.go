package mic

import (
	"sync/atomic"
	"time"

	"ringwell/audio"
)

// feed is the callback's side: it takes one channel out of what the host gives
// and puts it into the ring, with a mark where sound is missing.
type feed struct {
	ring     *audio.Ring
	rate     float64
	channels int // interleaved in what the host gives
	channel  int // the one taken, from 0
	began    time.Time
	ledger   ledger
	scratch  []float32

	last    atomic.Int64  // when the newest callback came, ns after began; -1 none yet
	flags   atomic.Uint32 // audio.PipeOverflow | audio.PipeUnderflow since last asked
	runaway atomic.Bool
}

// held is how long the ring goes on taking sound while the daemon takes none.
const held = 4 * time.Second

func newFeed(rate float64, channels, channel int, latency time.Duration) *feed {
	f := &feed{
		ring:     audio.NewRing(int(rate * held.Seconds())),
		rate:     rate,
		channels: channels,
		channel:  channel,
		ledger:   newLedger(rate, latency),
		scratch:  make([]float32, 1024),
	}
	f.last.Store(-1)
	return f
}

// start is called just before the stream starts.
func (f *feed) start() { f.began = time.Now() }

// take is the body of the callback. in is valid until it returns. It allocates
// nothing and waits for nobody.
func (f *feed) take(in []float32, flags uint32) {
	now := time.Since(f.began)
	n := len(in) / f.channels
	if n == 0 {
		return
	}
	f.ring.Lose(f.ledger.arrive(now, n, flags&audio.PipeOverflow != 0))
	if f.ledger.ranAway() {
		f.runaway.Store(true)
	}
	if flags != 0 {
		f.flags.Or(flags)
	}
	f.last.Store(int64(now))
	in = in[f.channel:]
	for n > 0 {
		p := f.scratch[:min(n, len(f.scratch))]
		for i := range p {
			p[i] = in[i*f.channels]
		}
		f.ring.Write(p)
		if n -= len(p); n > 0 {
			in = in[len(p)*f.channels:]
		}
	}
}

// silence returns how long ago the newest callback came, or the stream started,
// and whether any came at all.
func (f *feed) silence() (age time.Duration, any bool) {
	last := time.Duration(f.last.Load())
	if last < 0 {
		return time.Since(f.began), false
	}
	return time.Since(f.began) - last, true
}

// entered is when the newest callback came.
func (f *feed) entered() time.Time {
	return f.began.Add(time.Duration(max(0, f.last.Load())))
}
