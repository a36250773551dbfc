package listen

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"strconv"
	"testing"
	"time"

	"ringwell/analysis"
)

// FuzzAnySound gives the ear any 32-bit floats there are, NaN and infinities
// included, at any rate, in blocks of any sizes. It never panics, never tells
// what is not a number, tells each strike by the rules (revisions 1, 2, ...,
// nothing after the last stage, no more than its windows), finds no more
// strikes than the dead time allows, and says the same however the sound is
// cut.
func FuzzAnySound(f *testing.F) {
	ring := func(amps ...float64) []byte {
		var b []byte
		for i := range 600 {
			v := 0.0
			for k, a := range amps {
				v += a * math.Sin(0.13*float64(k+1)*float64(i)) * math.Exp(-float64(i)/150)
			}
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
		}
		return b
	}
	odd := func(v ...float64) []byte {
		var b []byte
		for _, x := range v {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
		}
		return b
	}
	f.Add(ring(0.5), []byte{48}, 48000.0, uint16(40))
	f.Add(ring(0.3, 0.2, 0.1), []byte{1, 200, 7}, 44100.0, uint16(3))
	f.Add(append(ring(0.4), odd(math.NaN(), math.Inf(1), math.Inf(-1))...), []byte{255}, 48000.0, uint16(25))
	f.Add(odd(math.NaN()), []byte{9}, 8000.0, uint16(1000))
	f.Add(odd(math.MaxFloat32, -math.MaxFloat32), []byte{3, 3, 3}, 192000.0, uint16(9))
	f.Add(odd(math.SmallestNonzeroFloat32, 0, 0), []byte{0}, 96000.0, uint16(500))
	f.Add(odd(1, -1, 1, -1, 0.9), []byte{64, 1}, 16000.0, uint16(77))
	f.Fuzz(func(t *testing.T, data, cuts []byte, rate float64, quiet uint16) {
		if !(rate >= 8000 && rate <= 192000) {
			rate = 8000 + math.Abs(math.Remainder(rate, 90000))
			if !(rate >= 8000 && rate <= 192000) {
				rate = 48000
			}
		}
		x := repeated(data, min(int(rate), 48000), int(quiet)) // a second at most: a fuzzer gives up after ten
		a := tellings(t, x, analysis.Rate(rate), cuts)
		b := tellings(t, x, analysis.Rate(rate), []byte{160})
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("cut in blocks of %v: %d tellings; in equal blocks %d, or others; wanted the same", cuts, len(a), len(b))
		}
	})
}

// repeated makes n samples of sound: faint noise, then the floats over and over
// with so many samples of noise between.
func repeated(data []byte, n, quiet int) []float64 {
	r := rand.New(rand.NewPCG(1, uint64(len(data))))
	x := make([]float64, n)
	for i := range x {
		x[i] = 1e-4 * r.NormFloat64()
	}
	k := len(data) / 4
	if k == 0 {
		return x
	}
	for at := n / 4; at < n; at += k + 40*quiet {
		for i := 0; i < k && at+i < n; i++ {
			x[at+i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:])))
		}
	}
	return x
}

// tellings hears x in blocks as the cuts say and checks each telling.
func tellings(t *testing.T, x []float64, rate analysis.Rate, cuts []byte) []analysis.Strike {
	t.Helper()
	e := New(rate, Options{Epoch: epoch, Source: "fuzz", NewID: counted()})
	var all []analysis.Strike
	last := map[string]analysis.Strike{}
	note := func(told []analysis.Strike) {
		for _, s := range told {
			sound(t, s)
			before := last[s.ID]
			if s.Revision != before.Revision+1 {
				t.Fatalf("strike %s: revision %d after %d", s.ID, s.Revision, before.Revision)
			}
			if before.Stage == analysis.Final || before.Stage == analysis.Withdrawn {
				t.Fatalf("strike %s: told as %s after it was %s", s.ID, s.Stage, before.Stage)
			}
			if s.Onset < 0 || s.Onset > int64(len(x)) || s.From > s.To || s.To > int64(len(x)) {
				t.Fatalf("strike %s: onset %d, sound %d..%d of %d samples", s.ID, s.Onset, s.From, s.To, len(x))
			}
			if s.Revision > 40 || len(s.Partials) > 64 {
				t.Fatalf("strike %s: %d revisions, %d partials; wanted at most 40 and 64", s.ID, s.Revision, len(s.Partials))
			}
			last[s.ID] = s
			all = append(all, s)
		}
	}
	for at, k := 0, 0; at < len(x); k++ {
		n := 1
		if len(cuts) > 0 {
			n = 1 + 5*int(cuts[k%len(cuts)])
		}
		end := min(at+n, len(x))
		note(e.Step(analysis.Block{Start: int64(at), Samples: x[at:end]}))
		at = end
	}
	note(e.Flush())
	for id, s := range last {
		if s.Stage != analysis.Final && s.Stage != analysis.Withdrawn {
			t.Fatalf("strike %s: still %s after the end", id, s.Stage)
		}
	}
	// Strikes lie 50 ms apart at least; two more for the ends.
	if most := 2 + 20*len(x)/int(rate); len(last) > most {
		t.Fatalf("%d strikes in %.1f s; wanted at most %d", len(last), rate.Seconds(int64(len(x))), most)
	}
	for _, v := range e.Room().PSD {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			t.Fatalf("room: got power %v", v)
		}
	}
	return all
}

// counted makes IDs 1, 2, ...
func counted() func(at time.Time) string {
	n := 0
	return func(time.Time) string { n++; return strconv.Itoa(n) }
}

// TestMemoryStaysBounded: eighty strikes hold no more memory than twenty. A strike a second of four kinds, among them what is no sound; the
// heap in use after 20 s and after 80 s may differ by 2 MB, which is what
// buffers that grow to their largest size may still take.
func TestMemoryStaysBounded(t *testing.T) {
	const rate = 48000
	r := rand.New(rand.NewPCG(8, 8))
	e := New(rate, Options{Epoch: epoch, NewID: counted()})
	x := make([]float64, rate)
	inUse := func() int64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int64(m.HeapInuse)
	}
	var early int64
	told := 0
	for second := range 80 {
		f := 200 + 1500*r.Float64()
		for i := range x {
			x[i] = 1e-4 * r.NormFloat64()
			if i > 4800 {
				at := float64(i-4800) / rate
				for k := range 1 + second%4*3 {
					x[i] += 0.2 / float64(k+1) * math.Exp(-7*at) * math.Sin(2*math.Pi*f*math.Sqrt(float64(k*k*k+1))*at)
				}
			}
			if second%10 == 9 && i%5 == 0 {
				x[i] = math.NaN()
			}
		}
		for at := 0; at < rate; at += 480 {
			told += len(e.Step(analysis.Block{Start: int64(second*rate + at), Samples: x[at : at+480]}))
		}
		if second == 19 {
			early = inUse()
		}
	}
	late := inUse()
	runtime.KeepAlive(e)
	if told < 80 {
		t.Fatalf("only %d tellings: nothing was struck", told)
	}
	if late-early > 2<<20 {
		t.Errorf("heap in use: %d kB after 20 s, %d kB after 80 s; wanted at most 2048 kB more", early>>10, late>>10)
	}
}
