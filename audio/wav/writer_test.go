package wav

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func noise(n int, seed uint64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 2))
	p := make([]float32, n)
	for i := range p {
		p[i] = float32(rng.Float64()*2 - 1)
	}
	return p
}

func encode(t *testing.T, f Format, p []float32, m Meta) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Encode(&b, f, p, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var written = []struct {
	name string
	f    Format
	step float64 // what a sample may be off by
}{
	{"16", Format{Rate: 48000, Channels: 1, Bits: 16}, 0x1p-16},
	{"24", Format{Rate: 44100, Channels: 2, Bits: 24}, 0x1p-24},
	{"float", Format{Rate: 192000, Channels: 1, Bits: 32, Float: true}, 0},
	{"16 six channels", Format{Rate: 8000, Channels: 6, Bits: 16}, 0x1p-16},
	{"float three channels", Format{Rate: 8000, Channels: 3, Bits: 32, Float: true}, 0},
	{"24 odd number of bytes", Format{Rate: 8000, Channels: 1, Bits: 24}, 0x1p-24},
}

func TestRoundTrip(t *testing.T) {
	for _, row := range written {
		frames := 10001
		p := noise(frames*row.f.Channels, 3)
		p[0], p[1] = 0.9999999, -1
		meta := Meta{Note: &Note{Key: 69, Fraction: 0.37}, Cues: []Cue{{ID: 1, Frame: 250}, {ID: 2, Frame: 9999}}}
		r, err := NewReader(bytes.NewReader(encode(t, row.f, p, meta)))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if r.Format() != row.f || r.Frames() != int64(frames) {
			t.Errorf("%s: read back as %+v, %d frames; want %+v, %d", row.name, r.Format(), r.Frames(), row.f, frames)
		}
		got, err := readAll(r, 1000)
		if err != nil || len(got) != len(p) {
			t.Fatalf("%s: %d samples, %v; want %d", row.name, len(got), err, len(p))
		}
		for i, x := range p {
			// The largest integer lies one step below 1: half a step more there.
			if off := math.Abs(got[i] - float64(x)); off > row.step && !(x > 0.9999 && off <= 2*row.step) {
				t.Errorf("%s: sample %d of %v reads %v, more than half a step off", row.name, i, x, got[i])
				break
			}
		}
		if n := r.Note(); n == nil || n.Key != 69 || math.Abs(n.Fraction-0.37) > 1e-9 {
			t.Errorf("%s: note %+v, want key 69 and 0.37 semitones", row.name, n)
		}
		if !slices.Equal(r.Cues(), meta.Cues) {
			t.Errorf("%s: cues %v, want %v", row.name, r.Cues(), meta.Cues)
		}
		// What was read is written again as it was.
		again := make([]float32, len(got))
		for i, x := range got {
			again[i] = float32(x)
		}
		if !bytes.Equal(encode(t, row.f, again, meta), encode(t, row.f, p, meta)) {
			t.Errorf("%s: writing what was read gives other bytes", row.name)
		}
	}
}

func TestEncodeHoldsAtFullScale(t *testing.T) {
	f := Format{Rate: 48000, Channels: 1, Bits: 16}
	r, err := NewReader(bytes.NewReader(encode(t, f, []float32{1, 7, -7, -1}, Meta{})))
	if err != nil {
		t.Fatal(err)
	}
	got, err := readAll(r, 10)
	if want := []float64{32767.0 / 32768, 32767.0 / 32768, -1, -1}; err != nil || !slices.Equal(got, want) {
		t.Errorf("1, 7, -7, -1 read back as %v, %v; want %v", got, err, want)
	}
}

func TestEncodeRefuses(t *testing.T) {
	ok := Format{Rate: 48000, Channels: 2, Bits: 16}
	with := func(change func(*Format)) Format { f := ok; change(&f); return f }
	for _, row := range []struct {
		name string
		f    Format
		p    []float32
		m    Meta
		want string
	}{
		{"8 bit", with(func(f *Format) { f.Bits = 8 }), nil, Meta{}, "16- and 24-bit PCM"},
		{"no channel", with(func(f *Format) { f.Channels = 0 }), nil, Meta{}, "0 channels"},
		{"half a frame", ok, make([]float32, 3), Meta{}, "not whole frames"},
		{"NaN", ok, []float32{0, float32(math.NaN())}, Meta{}, "sample 1 is NaN"},
		{"infinite", ok, []float32{float32(math.Inf(1)), 0}, Meta{}, "sample 0 is +Inf"},
		{"key 128", ok, nil, Meta{Note: &Note{Key: 128}}, "key 128"},
		{"a whole semitone", ok, nil, Meta{Note: &Note{Key: 1, Fraction: 1}}, "1 semitones"},
		{"cue before the start", ok, nil, Meta{Cues: []Cue{{Frame: -1}}}, "frame -1"},
	} {
		var b bytes.Buffer
		err := Encode(&b, row.f, row.p, row.m)
		if err == nil || !strings.Contains(err.Error(), row.want) || b.Len() > 0 {
			t.Errorf("%s: got %v and %d bytes, want an error with %q and none", row.name, err, b.Len(), row.want)
		}
	}
}

// brokenPipe fails after n bytes.
type brokenPipe struct{ n int }

func (b *brokenPipe) Write(p []byte) (int, error) {
	if b.n -= len(p); b.n < 0 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}

func TestEncodeTellsOfWriteErrors(t *testing.T) {
	f := Format{Rate: 48000, Channels: 1, Bits: 16}
	p, m := noise(100, 1), Meta{Cues: []Cue{{}}}
	whole := len(encode(t, f, p, m))
	for _, n := range []int{0, 44, whole - 1} {
		if err := Encode(&brokenPipe{n}, f, p, m); !errors.Is(err, io.ErrClosedPipe) {
			t.Errorf("a writer that breaks after %d bytes: got %v, want %v", n, err, io.ErrClosedPipe)
		}
	}
	if err := Encode(&brokenPipe{whole}, f, p, m); err != nil {
		t.Errorf("a writer that takes all %d bytes: %v", whole, err)
	}
}
