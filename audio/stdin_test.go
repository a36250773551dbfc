package audio

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

func s16le(p []float32) []byte {
	var b []byte
	for _, x := range p {
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(math.Round(float64(x)*32768))))
	}
	return b
}

func f32le(p []float32) []byte {
	var b []byte
	for _, x := range p {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b
}

func newStdin(t *testing.T, r io.Reader, o StdinOptions) *Stdin {
	t.Helper()
	s, err := NewStdin(r, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestStdinIsASource(t *testing.T) {
	left, right := hiss(10001, 0.1, 1), hiss(10001, 0.1, 2)
	both := interleave(left, right)
	for _, row := range []struct {
		name string
		raw  []byte
		o    StdinOptions
		want []float32
	}{
		{"16-bit mono", s16le(left), StdinOptions{Rate: 48000}, left},
		{"float mono", f32le(left), StdinOptions{Rate: 44100, Float: true}, left},
		{"first of two", s16le(both), StdinOptions{Rate: 48000, Channels: 2}, left},
		{"second of two, float", f32le(both), StdinOptions{Rate: 48000, Channels: 2, Channel: 2, Float: true}, right},
		{"half a frame at the end", append(s16le(left), 7), StdinOptions{Rate: 48000}, left},
	} {
		for how, wrap := range map[string]func(io.Reader) io.Reader{
			"at once":        func(r io.Reader) io.Reader { return r },
			"byte by byte":   iotest.OneByteReader,
			"in halves":      iotest.HalfReader,
			"end with sound": iotest.DataErrReader,
		} {
			t.Run(row.name+" "+how, func(t *testing.T) {
				sourcetest.Run(t, func(t *testing.T) listen.Source {
					return newStdin(t, wrap(bytes.NewReader(row.raw)), row.o)
				}, sourcetest.Expectations{Name: "standard input", Rate: row.o.Rate, Live: true,
					Samples: int64(len(row.want)), Sound: doubles(row.want)})
			})
		}
	}
}

func TestStdinFromAnOrdinaryFileIsNotLive(t *testing.T) {
	path := fileOf(t, "x.raw", s16le(hiss(100, 0.1, 1)))
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if newStdin(t, f, StdinOptions{Rate: 48000}).Live() {
		t.Error("Live() = true for a file, want false")
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	if !newStdin(t, r, StdinOptions{Rate: 48000}).Live() {
		t.Error("Live() = false for a pipe, want true")
	}
}

// What has come in is told at once, and while nothing comes Next returns.
func TestStdinDoesNotWaitForABlockToFill(t *testing.T) {
	r, w := io.Pipe()
	s := newStdin(t, r, StdinOptions{Rate: 48000})
	sound := hiss(10, 0.1, 1)
	w.Write(s16le(sound))
	ctx := context.Background()
	var got []float64
	for len(got) < len(sound) {
		b, err := s.Next(ctx)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, b.Samples...)
	}
	b, err := s.Next(ctx)
	if err != nil || len(b.Samples) != 0 || b.Start != 10 {
		t.Errorf("with nothing there: %d samples at %d, %v; want 0 at 10", len(b.Samples), b.Start, err)
	}
	soon, stop := context.WithTimeout(ctx, time.Minute)
	stop()
	if _, err := s.Next(soon); !errors.Is(err, context.Canceled) {
		t.Errorf("a caller who gave up: %v, want %v", err, context.Canceled)
	}
	w.CloseWithError(errors.New("the cable was pulled"))
	for {
		if _, err = s.Next(ctx); err != nil {
			break
		}
	}
	if !strings.Contains(err.Error(), "standard input: the cable was pulled") || !errors.Is(err, listen.ErrPermanent) {
		t.Errorf("a broken pipe: %v", err)
	}
}

func TestStdinRefuses(t *testing.T) {
	for _, row := range []struct {
		o    StdinOptions
		want string
	}{
		{StdinOptions{}, "sample rate of 0 Hz"},
		{StdinOptions{Rate: 4000}, "sample rate of 4000 Hz"},
		{StdinOptions{Rate: 44100.5}, "sample rate of 44100.5 Hz"},
		{StdinOptions{Rate: 48000, Channels: 65}, "65 channels"},
		{StdinOptions{Rate: 48000, Channels: -1}, "-1 channels"},
		{StdinOptions{Rate: 48000, Channels: 2, Channel: 3}, "no channel 3 of 2"},
	} {
		if _, err := NewStdin(nil, row.o); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%+v: got %v, want an error with %q", row.o, err, row.want)
		}
	}
	for name, file := range map[string][]byte{
		"WAV":  encoded(t, mono, hiss(100, 0.1, 1)),
		"FLAC": flacOf(t, 48000, 16, ints(hiss(100, 0.1, 1), 16)),
	} {
		for _, wrap := range []func(io.Reader) io.Reader{iotest.OneByteReader, iotest.HalfReader} {
			s := newStdin(t, wrap(bytes.NewReader(file)), StdinOptions{Rate: 48000})
			if got, err := drain(s, math.MaxInt); len(got) > 0 || !strings.Contains(err.Error(), "not bare samples") {
				t.Errorf("a whole %s file: %d samples, %v; want none and words", name, len(got), err)
			}
		}
	}
}

// endless gives silence for ever.
type endless struct{}

func (endless) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestStdinNextAllocatesNothing(t *testing.T) {
	s := newStdin(t, endless{}, StdinOptions{Rate: 48000})
	ctx := context.Background()
	if n := testing.AllocsPerRun(200, func() { s.Next(ctx) }); n != 0 {
		t.Errorf("Next allocates %v times, want 0", n)
	}
}
