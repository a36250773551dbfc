package audio

import (
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
)

func ramp(from, n int) []float32 {
	p := make([]float32, n)
	for i := range p {
		p[i] = float32(from + i)
	}
	return p
}

func TestRingGivesBackWhatWasWritten(t *testing.T) {
	r := NewRing(5)
	if r.Cap() != 8 {
		t.Fatalf("NewRing(5).Cap() = %d, want 8", r.Cap())
	}
	next, read := 0, 0
	dst := make([]float32, 3)
	for range 50 { // round the end of the buffer many times
		if lost := r.Write(ramp(next, 5)); lost != 0 {
			t.Fatalf("Write of 5 into an empty ring of 8 lost %d", lost)
		}
		next += 5
		for {
			n := r.Read(dst)
			if n == 0 {
				break
			}
			if want := ramp(read, n); !slices.Equal(dst[:n], want) {
				t.Fatalf("Read = %v, want %v", dst[:n], want)
			}
			read += n
		}
	}
	if read != next {
		t.Errorf("read %d samples of %d", read, next)
	}
}

func TestRingLosesWholeBuffersAndKeepsThePlace(t *testing.T) {
	r := NewRing(8)
	dst := make([]float32, 8)
	steps := []struct {
		name       string
		write      int // samples, numbered on by what was lost too
		wantLost   int
		read       int
		wantN      int
		wantGap    int64
		wantFirst  float32
		wantInRing int64 // Lost() after
	}{
		{name: "fits", write: 6},
		{name: "does not fit: all of it is lost", write: 3, wantLost: 3, wantInRing: 3},
		{name: "loses again at the same place", write: 4, wantLost: 4, wantInRing: 7},
		{name: "read some", read: 4, wantN: 4, wantFirst: 0, wantInRing: 7},
		{name: "goes on after the gap", write: 2, wantInRing: 7},
		{name: "read stops short of the gap", read: 8, wantN: 2, wantFirst: 4, wantInRing: 7},
		{name: "and tells of it before the next sample", read: 8, wantN: 2, wantGap: 7, wantFirst: 13, wantInRing: 7},
		{name: "empty", read: 8, wantInRing: 7},
		{name: "never fits", write: 9, wantLost: 9, wantInRing: 16},
		{name: "an open gap is not told while nothing follows", read: 8, wantInRing: 16},
		{name: "follows", write: 1, wantInRing: 16},
		{name: "told", read: 8, wantN: 1, wantGap: 9, wantFirst: 24, wantInRing: 16},
	}
	at := 0
	for _, s := range steps {
		if s.write > 0 {
			if lost := r.Write(ramp(at, s.write)); lost != s.wantLost {
				t.Fatalf("%s: Write of %d lost %d, want %d", s.name, s.write, lost, s.wantLost)
			}
			at += s.write
		} else {
			n, gap := r.Next(dst[:s.read])
			if n != s.wantN || gap != s.wantGap || n > 0 && dst[0] != s.wantFirst {
				t.Fatalf("%s: Next = %d samples from %v after a gap of %d, want %d from %v after %d",
					s.name, n, dst[0], gap, s.wantN, s.wantFirst, s.wantGap)
			}
		}
		if r.Lost() != s.wantInRing {
			t.Fatalf("%s: Lost() = %d, want %d", s.name, r.Lost(), s.wantInRing)
		}
	}
}

// Every sample written is either read at its place or counted in the gap before
// it: samples carry their own number, and the reader keeps the number it must
// see next.
func TestRingAccountsForEverySample(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 1))
		r := NewRing(256)
		dst := make([]float32, 64)
		var written, place int
		for range 20000 {
			if rng.IntN(3) > 0 {
				n := 1 + rng.IntN(40)
				r.Write(ramp(written, n)) // below 1<<24, exact in float32
				written += n
				continue
			}
			n, lost := r.Next(dst[:1+rng.IntN(64)])
			if n == 0 {
				continue
			}
			place += int(lost)
			for i, v := range dst[:n] {
				if v != float32(place+i) {
					t.Fatalf("seed %d: sample %d reads %v", seed, place+i, v)
				}
			}
			place += n
		}
		for {
			n, lost := r.Next(dst)
			if n == 0 {
				break
			}
			place += n + int(lost)
		}
		if tail := written - place; tail < 0 || int64(tail) > r.Lost() {
			t.Errorf("seed %d: %d written, %d accounted for, Lost() = %d", seed, written, place, r.Lost())
		}
	}
}

// Two goroutines, one writing without waiting; run with -race.
func TestRingBetweenGoroutines(t *testing.T) {
	const total = 1 << 20 // whole numbers stay exact in float32 up to 1<<24
	r := NewRing(1024)
	var wg sync.WaitGroup
	done := make(chan struct{})
	wg.Go(func() {
		defer close(done)
		rng := rand.New(rand.NewPCG(7, 7))
		for at := 0; at < total; {
			n := min(1+rng.IntN(200), total-at)
			r.Write(ramp(at, n))
			at += n
		}
	})
	var place, told, read int64
	dst := make([]float32, 300)
	drain := func() {
		for {
			n, lost := r.Next(dst)
			if n == 0 {
				return
			}
			place += lost
			told += lost
			for i, v := range dst[:n] {
				if v != float32(place+int64(i)) {
					t.Errorf("sample %d reads %v", place+int64(i), v)
					return
				}
			}
			place += int64(n)
			read += int64(n)
		}
	}
	for open := true; open; {
		select {
		case <-r.Wait():
		case <-done:
			open = false
		}
		drain()
	}
	wg.Wait()
	if read+r.Lost() != total {
		t.Errorf("%d read + %d lost, want %d written", read, r.Lost(), total)
	}
	if untold := total - place; told+untold != r.Lost() {
		t.Errorf("gaps tell of %d, %d lost at the end, Lost() = %d", told, untold, r.Lost())
	}
}

func TestRingSurvivesMoreGapsThanItRemembers(t *testing.T) {
	r := NewRing(4 * gaps)
	written := 0
	write := func(n int) { r.Write(ramp(written, n)); written += n }
	for range 3 * gaps { // one sample, then a loss
		write(1)
		write(r.Cap() + 1)
	}
	var place int64
	dst := make([]float32, 16)
	for {
		n, lost := r.Next(dst)
		if n == 0 {
			break
		}
		place += lost
		for i, v := range dst[:n] {
			if v != float32(place+int64(i)) {
				t.Fatalf("sample %d reads %v", place+int64(i), v)
			}
		}
		place += int64(n)
	}
	write(1)
	n, lost := r.Next(dst)
	place += lost
	if n != 1 || dst[0] != float32(place) || place+1 != int64(written) {
		t.Errorf("after the flood: %d samples, first %v at %d of %d written", n, dst[0], place, written)
	}
}

func TestRingAllocatesNothing(t *testing.T) {
	r := NewRing(4096)
	in, out := ramp(0, 480), make([]float32, 1000)
	i := 0
	if got := testing.AllocsPerRun(1000, func() {
		r.Write(in)
		if i++; i%20 == 0 { // let it overflow in between
			for r.Read(out) > 0 {
			}
			select {
			case <-r.Wait():
			default:
			}
		}
	}); got != 0 {
		t.Errorf("Write and Read allocate %v times, want 0", got)
	}
	if r.Lost() == 0 {
		t.Error("the loss path was not run")
	}
}

func BenchmarkRingWrite480(b *testing.B) {
	r := NewRing(1 << 16)
	in, out := ramp(0, 480), make([]float32, 480)
	b.ReportAllocs()
	b.SetBytes(480 * 4)
	for b.Loop() {
		r.Write(in)
		r.Read(out)
	}
}

func TestRingCountsWhatTheDeviceLost(t *testing.T) {
	r := NewRing(8)
	dst := make([]float32, 8)
	r.Lose(5)
	r.Write(ramp(5, 2))
	r.Lose(0)
	r.Write(ramp(7, 2))
	r.Lose(3)
	r.Write(ramp(12, 8)) // does not fit: the gap grows
	r.Next(dst[:0])
	for _, want := range []struct {
		n     int
		lost  int64
		first float32
	}{{4, 5, 5}, {0, 0, 5}} {
		n, lost := r.Next(dst)
		if n != want.n || lost != want.lost || dst[0] != want.first {
			t.Errorf("Next = %d samples from %v after a gap of %d, want %d from %v after %d", n, dst[0], lost, want.n, want.first, want.lost)
		}
	}
	r.Write(ramp(20, 1))
	if n, lost := r.Next(dst); n != 1 || lost != 11 || dst[0] != 20 {
		t.Errorf("Next = %d samples from %v after a gap of %d, want 1 from 20 after 11", n, dst[0], lost)
	}
	if r.Lost() != 16 {
		t.Errorf("Lost() = %d, want 16", r.Lost())
	}
}
