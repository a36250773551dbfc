package audio

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

var testHello = Hello{Rate: 48000, Channels: 2, Channel: 1, Device: "hall pair", Host: "ALSA", Latency: 0.02}

// pipeOf returns what a child sends down the pipe: a hello, two runs of sound
// with a gap between them, a beat and a word.
func pipeOf(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := NewPipeWriter(&b)
	if err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{
		w.Hello(testHello),
		w.Sound(Sound{Start: 0, Entered: time.Unix(7, 5), Samples: []float32{0, 0.5, -1}}),
		w.Beat(),
		w.Sound(Sound{Start: 13, Lost: 10, Flags: PipeOverflow, Entered: time.Unix(8, 0), Samples: []float32{math.Float32frombits(1)}}),
		w.Word(Word{Code: WordFault, Text: "the microphone stopped"}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return b.Bytes()
}

// readAll reads records until the pipe ends. Sounds are copied.
func readAll(b []byte) (got []any, err error) {
	r, err := NewPipeReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	s := &Sound{Samples: make([]float32, MaxRecord)}
	for {
		v, err := r.Next(s)
		if err != nil {
			return got, err
		}
		if s, ok := v.(*Sound); ok {
			c := *s
			c.Samples = append([]float32(nil), s.Samples...)
			v = c
		}
		got = append(got, v)
	}
}

func TestPipeRoundTrip(t *testing.T) {
	got, err := readAll(pipeOf(t))
	want := []any{
		testHello,
		Sound{Start: 0, Entered: time.Unix(7, 5), Samples: []float32{0, 0.5, -1}},
		nil,
		Sound{Start: 13, Lost: 10, Flags: PipeOverflow, Entered: time.Unix(8, 0), Samples: []float32{math.Float32frombits(1)}},
		Word{Code: WordFault, Text: "the microphone stopped"},
	}
	if err != io.EOF || !reflect.DeepEqual(got, want) {
		t.Errorf("read back %v, %v\nwant %v, EOF", got, err, want)
	}
}

// The bytes are part of the format: a child and a daemon may come from two
// builds of one version.
func TestPipeLayout(t *testing.T) {
	var b bytes.Buffer
	w, _ := NewPipeWriter(&b)
	w.Sound(Sound{Start: 0x0102, Lost: 3, Flags: PipeUnderflow, Entered: time.Unix(0, 4), Samples: []float32{1}})
	want := "RWSOUND\x01" + "S\x02\x00\x00" + "\x1c\x00\x00\x00" +
		"\x02\x01\x00\x00\x00\x00\x00\x00" + "\x03\x00\x00\x00\x00\x00\x00\x00" + "\x04\x00\x00\x00\x00\x00\x00\x00" +
		"\x00\x00\x80\x3f" // 1 as IEEE 754 binary32
	if b.String() != want {
		t.Errorf("one sample is sent as\n%q, want\n%q", b.String(), want)
	}
}

func TestPipeTruncatedAnywhere(t *testing.T) {
	whole := pipeOf(t)
	all, _ := readAll(whole)
	for n := range whole {
		got, err := readAll(whole[:n])
		if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("the first %d bytes of %d: error %v, want an end of file", n, len(whole), err)
		}
		if len(got) >= len(all) || len(got) > 0 && !reflect.DeepEqual(got, all[:len(got)]) {
			t.Errorf("the first %d bytes of %d: read %v, want the first of %v", n, len(whole), got, all)
		}
	}
}

func TestPipeRefuses(t *testing.T) {
	record := func(kind byte, body string) []byte {
		b := append([]byte(pipeMagic), kind, 0, 0, 0)
		return append(binary.LittleEndian.AppendUint32(b, uint32(len(body))), body...)
	}
	sound := func(start, lost int64, body string) []byte {
		h := binary.LittleEndian.AppendUint64(nil, uint64(start))
		h = binary.LittleEndian.AppendUint64(h, uint64(lost))
		h = binary.LittleEndian.AppendUint64(h, 0)
		return record(kindSound, string(h)+body)
	}
	huge := append([]byte(pipeMagic), kindSound, 0, 0, 0, 0xff, 0xff, 0xff, 0xff)
	for _, c := range []struct {
		name string
		pipe []byte
	}{
		{"another version", []byte("RWSOUND\x02")},
		{"text", []byte("usage: ringwell [flags]\n")},
		{"a kind that is none", record('X', "")},
		{"a length no record has", huge},
		{"a beat with a body", record(kindBeat, "x")},
		{"hello that is no JSON", record(kindHello, "{")},
		{"hello at no rate", record(kindHello, `{"rate_hz":0,"channels":1,"channel":1}`)},
		{"hello with a channel it has not", record(kindHello, `{"rate_hz":48000,"channels":1,"channel":2}`)},
		{"a word that says nothing", record(kindWord, `{"code":"fault"}`)},
		{"sound without samples", sound(0, 0, "")},
		{"half a sample", sound(0, 0, "\x00\x00")},
		{"samples that come before they can", sound(-1, 0, "\x00\x00\x00\x00")},
		{"a gap the index does not count", sound(0, 5, "\x00\x00\x00\x00")},
		{"a negative loss", sound(-5, -5, "\x00\x00\x00\x00")},
		{"an index at the end of time", sound(math.MaxInt64, math.MaxInt64, "\x00\x00\x00\x00")},
	} {
		got, err := readAll(c.pipe)
		if err == nil || err == io.EOF || len(got) > 0 {
			t.Errorf("%s: read %v, %v; want an error", c.name, got, err)
		}
	}
}

func TestPipeNoNumberBecomesSilence(t *testing.T) {
	var b bytes.Buffer
	w, _ := NewPipeWriter(&b)
	w.Sound(Sound{Samples: []float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), 0.25}})
	got, _ := readAll(b.Bytes())
	if want := []float32{0, 0, 0, 0.25}; len(got) != 1 || !reflect.DeepEqual(got[0].(Sound).Samples, want) {
		t.Errorf("NaN, +Inf, -Inf, 0.25 read as %v, want %v", got, want)
	}
}

func TestPipeSoundAllocatesNothing(t *testing.T) {
	s := Sound{Samples: make([]float32, 480)}
	w, _ := NewPipeWriter(io.Discard)
	if n := testing.AllocsPerRun(100, func() { w.Sound(s); w.Beat() }); n != 0 {
		t.Errorf("writing a sound record allocates %v times, want 0", n)
	}
	var b bytes.Buffer
	w, _ = NewPipeWriter(&b)
	for range 200 {
		w.Sound(s)
		s.Start += 480
	}
	r, _ := NewPipeReader(&b)
	dst := &Sound{Samples: make([]float32, MaxRecord)}
	if n := testing.AllocsPerRun(100, func() {
		if _, err := r.Next(dst); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("reading a sound record allocates %v times, want 0", n)
	}
}

func FuzzPipe(f *testing.F) {
	f.Add(pipeOf(f))
	f.Add([]byte(pipeMagic))
	f.Add([]byte(pipeMagic + "B\x00\x00\x00\x00\x00\x00\x00"))
	f.Add([]byte(strings.Repeat("S", 100)))
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := readAll(b)
		if err == nil {
			t.Fatal("the pipe never ends")
		}
		var next int64
		for _, v := range got {
			s, ok := v.(Sound)
			if !ok {
				continue
			}
			if s.Start != next+s.Lost || s.Lost < 0 || len(s.Samples) == 0 {
				t.Fatalf("sound at %d after %d lost, with %d samples, where %d comes next", s.Start, s.Lost, len(s.Samples), next)
			}
			next = s.Start + int64(len(s.Samples))
			for i, v := range s.Samples {
				if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
					t.Fatalf("sample %d is %v", s.Start+int64(i), v)
				}
			}
		}
	})
}

func BenchmarkPipe(b *testing.B) {
	s := Sound{Samples: make([]float32, 480)}
	r, w := io.Pipe()
	go func() {
		p, _ := NewPipeWriter(w)
		for p.Sound(s) == nil {
			s.Start += 480
		}
	}()
	p, err := NewPipeReader(r)
	if err != nil {
		b.Fatal(err)
	}
	dst := &Sound{Samples: make([]float32, MaxRecord)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.Next(dst); err != nil {
			b.Fatal(err)
		}
	}
	r.Close()
}
