package mic

import (
	"testing"
	"time"

	"ringwell/audio"
)

// interleaved returns n frames in which channel c of frame i is
// (first+i) + 1000000·c.
func interleaved(first, n, channels int) []float32 {
	in := make([]float32, n*channels)
	for i := range in {
		in[i] = float32(first + i/channels + 1000000*(i%channels))
	}
	return in
}

func TestFeedTakesOneChannel(t *testing.T) {
	for _, c := range []struct{ channels, channel, frames int }{
		{1, 0, 480}, {2, 0, 480}, {2, 1, 480}, {8, 5, 480},
		{2, 1, 3000}, // more than one scratch buffer
		{2, 1, 1024}, // exactly one
	} {
		f := newFeed(48000, c.channels, c.channel, 20*time.Millisecond)
		f.start()
		f.take(interleaved(0, c.frames, c.channels), 0)
		got := make([]float32, c.frames+1)
		if n := f.ring.Read(got); n != c.frames {
			t.Fatalf("%+v: %d samples, want %d", c, n, c.frames)
		}
		for i, v := range got[:c.frames] {
			if want := float32(i + 1000000*c.channel); v != want {
				t.Fatalf("%+v: sample %d is %v, want %v", c, i, v, want)
			}
		}
	}
}

func TestFeedMarksWhatTheHostLost(t *testing.T) {
	f := newFeed(48000, 1, 0, 20*time.Millisecond)
	f.start()
	f.take(interleaved(0, 480, 1), 0)
	f.take(interleaved(480, 480, 1), audio.PipeOverflow)
	buf := make([]float32, 960)
	if n, lost := f.ring.Next(buf); n != 480 || lost != 0 {
		t.Errorf("before the flag: %d samples after a gap of %d, want 480 after 0", n, lost)
	}
	if n, lost := f.ring.Next(buf); n != 480 || lost < 1 {
		t.Errorf("with the flag: %d samples after a gap of %d, want 480 after 1 or more", n, lost)
	}
	if got := f.flags.Load(); got != audio.PipeOverflow {
		t.Errorf("flags = %b, want %b", got, audio.PipeOverflow)
	}
}

func TestFeedTellsHowLongNothingCame(t *testing.T) {
	f := newFeed(48000, 1, 0, 20*time.Millisecond)
	f.start()
	f.began = f.began.Add(-time.Hour)
	if age, any := f.silence(); any || age < time.Hour {
		t.Errorf("before the first callback: silent for %v, any %v; want an hour since the start, false", age, any)
	}
	f.take(interleaved(0, 480, 1), 0)
	if age, any := f.silence(); !any || age > time.Minute {
		t.Errorf("after a callback: silent for %v, any %v; want about nothing, true", age, any)
	}
	f.take(nil, 0)
}

// What runs in the callback allocates nothing, with room in the ring and
// without.
func TestCallbackAllocatesNothing(t *testing.T) {
	f := newFeed(48000, 2, 1, 20*time.Millisecond)
	f.start()
	in := interleaved(0, 480, 2)
	buf := make([]float32, 480)
	if n := testing.AllocsPerRun(1000, func() { f.take(in, 0); f.ring.Read(buf) }); n != 0 {
		t.Errorf("a callback allocates %v times, want 0", n)
	}
	if n := testing.AllocsPerRun(1000, func() { f.take(in, audio.PipeOverflow) }); n != 0 {
		t.Errorf("a callback on a full ring allocates %v times, want 0", n)
	}
	if f.ring.Lost() == 0 {
		t.Error("the ring was never full")
	}
}

func BenchmarkCallback(b *testing.B) {
	f := newFeed(48000, 2, 1, 20*time.Millisecond)
	f.start()
	in := interleaved(0, 480, 2)
	buf := make([]float32, 480)
	b.ReportAllocs()
	for b.Loop() {
		f.take(in, 0)
		f.ring.Read(buf)
	}
}
