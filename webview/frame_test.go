package webview

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"
)

// Where the queue is full, what has no room is counted as lost, and no more.
func TestQueueThatIsFullLosesCountedSound(t *testing.T) {
	r, c, s := phoneRig(t, 48000)
	const sent = phoneQueue + 50
	for n := range sent {
		send(t, c, appendFrame(nil, frameInt16, uint32(n), uint64(n*100), make([]float64, 100)))
	}
	p, _ := r.phones.find("")
	eventually(t, "all have come", func() bool { return p.tallies.frames.Load() == sent })
	var got, lost int64
	for range phoneQueue {
		b, err := next(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		got, lost = got+int64(len(b.Samples)), lost+b.Lost
	}
	send(t, c, appendFrame(nil, frameInt16, sent, sent*100, make([]float64, 100)))
	b, err := next(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	if lost += b.Lost; lost != 50*100 || s.dropped.Load() != 50 || b.Start != sent*100 {
		t.Errorf("got %d samples lost in %d frames, and the next at %d; wanted 5000 in 50, at %d", lost, s.dropped.Load(), b.Start, sent*100)
	}
}

// Frames out of turn are counted and left out; the clock never goes back.
func TestLateFramesAreLeftOut(t *testing.T) {
	r, c, s := phoneRig(t, 48000)
	for _, n := range []int{0, 1, 4, 2, 4, 5} {
		send(t, c, appendFrame(nil, frameInt16, uint32(n), uint64(n*100), make([]float64, 100)))
	}
	p, _ := r.phones.find("")
	eventually(t, "all have come", func() bool { return p.tallies.frames.Load()+p.tallies.late.Load() == 6 })
	if told := p.told(); told.Late != 2 || told.Missing != 2 || told.Lost != 200 {
		t.Errorf("told %+v, wanted 2 late, 2 missing and 200 samples lost", told)
	}
	var starts []int64
	for range 4 {
		b, err := next(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		starts = append(starts, b.Start)
	}
	if !slices.Equal(starts, []int64{0, 100, 400, 500}) {
		t.Errorf("blocks at %v, wanted 0 100 400 500", starts)
	}
}

func TestTakingFramesAllocatesNothing(t *testing.T) {
	p := &phone{sequence: -1, rate: 48000, ended: make(chan struct{})}
	s := newPhoneSource("x", 48000, func() {})
	p.source = s
	message := appendFrame(nil, frameFloat32, 0, 0, make([]float64, earFrame))
	n := uint64(0)
	ctx := t.Context()
	if got := testing.AllocsPerRun(1000, func() {
		binary.LittleEndian.PutUint32(message[4:], uint32(n))
		binary.LittleEndian.PutUint64(message[8:], n*earFrame)
		n++
		if err := p.take(message); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}); got != 0 {
		t.Errorf("a frame from the socket to the ear: %v allocations, wanted none", got)
	}
}

func BenchmarkPhoneFrame(b *testing.B) {
	p := &phone{sequence: -1, rate: 48000, ended: make(chan struct{})}
	s := newPhoneSource("x", 48000, func() {})
	p.source = s
	message := appendFrame(nil, frameFloat32, 0, 0, make([]float64, earFrame))
	ctx := b.Context()
	for n := uint64(0); b.Loop(); n++ {
		binary.LittleEndian.PutUint32(message[4:], uint32(n))
		binary.LittleEndian.PutUint64(message[8:], n*earFrame)
		p.take(message)
		s.Next(ctx)
	}
}

func FuzzFrame(f *testing.F) {
	f.Add(appendFrame(nil, frameFloat32, 3, 960, []float64{0.5, -0.25}))
	f.Add(appendFrame(nil, frameInt16, 3, 960, []float64{0.5, -0.25}))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, message []byte) {
		g, err := parseFrame(message)
		if err != nil {
			return
		}
		dst := make([]float64, g.count)
		if err := g.decode(dst); err != nil {
			return
		}
		for _, x := range dst {
			if !(math.Abs(x) <= loudest) {
				t.Errorf("%x: got a sample of %v, wanted at most %v", message, x, loudest)
			}
		}
		if again := appendFrame(nil, g.kind, g.sequence, g.clock, dst); string(again) != string(message) {
			t.Errorf("%x: written again it is %x", message, again)
		}
	})
}
