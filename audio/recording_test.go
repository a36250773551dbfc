package audio

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
	"ringwell/audio/wav"
)

// hiss is n samples of white noise of the given standard deviation, on the
// steps of 16 bits.
func hiss(n int, sigma float64, seed uint64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 3))
	p := make([]float32, n)
	for i := range p {
		p[i] = float32(math.Round(rng.NormFloat64()*sigma*32768) / 32768)
	}
	return p
}

// interleave puts channels side by side.
func interleave(channels ...[]float32) []float32 {
	var p []float32
	for i := range channels[0] {
		for _, c := range channels {
			p = append(p, c[i])
		}
	}
	return p
}

func encoded(t *testing.T, f wav.Format, p []float32) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := wav.Encode(&b, f, p, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func fileOf(t *testing.T, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func doubles(p []float32) []float64 {
	q := make([]float64, len(p))
	for i, x := range p {
		q[i] = float64(x)
	}
	return q
}

func openRecording(t *testing.T, path string, o RecordingOptions) *Recording {
	t.Helper()
	r, err := OpenRecording(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

// drain reads a source to its end, or until it has enough samples.
func drain(s listen.Source, enough int) ([]float64, error) {
	var all []float64
	for len(all) < enough {
		b, err := s.Next(context.Background())
		all = append(all, b.Samples...)
		if err != nil {
			return all, err
		}
	}
	return all, nil
}

var mono = wav.Format{Rate: 48000, Channels: 1, Bits: 16}

func TestRecordingIsASource(t *testing.T) {
	sound := hiss(10007, 0.1, 1)
	path := fileOf(t, "jar.wav", encoded(t, mono, sound))
	want := sourcetest.Expectations{Name: "jar.wav", Rate: 48000, Samples: 10007, Sound: doubles(sound)}
	t.Run("free", func(t *testing.T) {
		sourcetest.Run(t, func(t *testing.T) listen.Source { return openRecording(t, path, RecordingOptions{}) }, want)
	})
	t.Run("paced", func(t *testing.T) {
		want := want
		want.Live = true
		sourcetest.Run(t, func(t *testing.T) listen.Source {
			return openRecording(t, path, RecordingOptions{Paced: true, clock: newJumpClock()})
		}, want)
	})
	t.Run("paced by the real clock", func(t *testing.T) {
		want := want
		want.Live = true
		sourcetest.Run(t, func(t *testing.T) listen.Source {
			return openRecording(t, path, RecordingOptions{Paced: true})
		}, want)
	})
	t.Run("loop", func(t *testing.T) {
		want := want
		want.Samples, want.Enough = -1, 45000
		want.Sound = append(append(doubles(sound), want.Sound...), want.Sound...)
		sourcetest.Run(t, func(t *testing.T) listen.Source { return openRecording(t, path, RecordingOptions{Loop: true}) }, want)
	})
}

func TestPacedRecordingKeepsTime(t *testing.T) {
	c := newJumpClock()
	start := c.now
	r := openRecording(t, fileOf(t, "x.wav", encoded(t, mono, hiss(48000, 0.1, 1))), RecordingOptions{Paced: true, clock: c})
	for i := 1; ; i++ {
		b, err := r.Next(context.Background())
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(b.Samples) != 480 || c.now.Sub(start) != time.Duration(i)*10*time.Millisecond {
			t.Fatalf("block %d: %d samples after %v, want 480 after %d ms", i, len(b.Samples), c.now.Sub(start), 10*i)
		}
	}
	if got := r.next; got != 48000 {
		t.Errorf("%d samples, want 48000", got)
	}
}

func TestGivingUpWhilePacedLosesNothing(t *testing.T) {
	sound := hiss(4800, 0.1, 1)
	r := openRecording(t, fileOf(t, "x.wav", encoded(t, mono, sound)), RecordingOptions{Paced: true, clock: newJumpClock()})
	gone, stop := context.WithCancel(context.Background())
	stop()
	var all []float64
	for {
		if _, err := r.Next(gone); !errors.Is(err, context.Canceled) && err != io.EOF {
			t.Fatalf("Next of a cancelled caller: %v, want %v", err, context.Canceled)
		}
		b, err := r.Next(context.Background())
		if err == io.EOF {
			break
		}
		if err != nil || b.Start != int64(len(all)) {
			t.Fatalf("block at %d, %v; want at %d", b.Start, err, len(all))
		}
		all = append(all, b.Samples...)
	}
	if len(all) != len(sound) {
		t.Errorf("%d samples, want %d", len(all), len(sound))
	}
}

func TestRecordingHearsOneChannel(t *testing.T) {
	quiet, loud := hiss(9600, 0.01, 1), hiss(9600, 0.1, 2)
	nearly := hiss(9600, 0.095, 3) // 0.45 dB below loud
	offset := hiss(9600, 0.001, 4)
	for i := range offset {
		offset[i] += 0.5 // a mean is no sound
	}
	for _, row := range []struct {
		name     string
		channels [][]float32
		ask      int
		want     int
	}{
		{"the louder", [][]float32{quiet, loud}, 0, 2},
		{"the first if it is the louder", [][]float32{loud, quiet}, 0, 1},
		{"the first of those within 1 dB", [][]float32{quiet, nearly, loud}, 0, 2},
		{"an offset is not loud", [][]float32{offset, quiet}, 0, 2},
		{"the one that is asked for", [][]float32{quiet, loud, nearly}, 1, 1},
		{"the third that is asked for", [][]float32{quiet, loud, nearly}, 3, 3},
		{"silence on all: the first", [][]float32{make([]float32, 100), make([]float32, 100)}, 0, 1},
	} {
		f := mono
		f.Channels = len(row.channels)
		r := openRecording(t, fileOf(t, "x.wav", encoded(t, f, interleave(row.channels...))), RecordingOptions{Channel: row.ask})
		if r.Channel() != row.want {
			t.Errorf("%s: channel %d is heard, want %d", row.name, r.Channel(), row.want)
			continue
		}
		got, err := drain(r, math.MaxInt)
		if err != io.EOF || len(got) != len(row.channels[0]) {
			t.Fatalf("%s: %d samples, %v", row.name, len(got), err)
		}
		for i, x := range row.channels[row.want-1] {
			if got[i] != float64(x) {
				t.Errorf("%s: sample %d is %v, want %v of channel %d", row.name, i, got[i], x, row.want)
				break
			}
		}
		if said := strings.Join(r.Notes(), ";"); row.ask == 0 && !strings.Contains(said, "is heard") {
			t.Errorf("%s: notes %q do not tell the channel", row.name, said)
		}
	}
}

func TestRecordingRefuses(t *testing.T) {
	dir := t.TempDir()
	good := encoded(t, mono, hiss(1000, 0.1, 1))
	at := func(rate int) []byte {
		f := mono
		f.Rate = rate
		return encoded(t, f, hiss(100, 0.1, 1))
	}
	write := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for _, row := range []struct {
		name, path string
		o          RecordingOptions
		want       string
	}{
		{"no such file", filepath.Join(dir, "none.wav"), RecordingOptions{}, "no such file"},
		{"a folder", dir, RecordingOptions{}, "is a folder"},
		{"empty", write("empty.wav", nil), RecordingOptions{}, "the file is empty"},
		{"text", write("notes.txt", []byte("bring the basin\n")), RecordingOptions{}, "not a WAV file"},
		{"the header alone", write("head.wav", good[:30]), RecordingOptions{}, "format chunk is"},
		{"no sample", write("none.wav2", encoded(t, mono, nil)), RecordingOptions{}, "holds no sound"},
		{"cut before the first sample", write("cut.wav", good[:44]), RecordingOptions{}, "promises 1000 frames, it holds 0"},
		{"4 kHz", write("4k.wav", at(4000)), RecordingOptions{}, "4000 Hz: 8 to 192 kHz"},
		{"384 kHz", write("384k.wav", at(384000)), RecordingOptions{}, "384000 Hz: 8 to 192 kHz"},
		{"channel 2 of 1", write("mono.wav", good), RecordingOptions{Channel: 2}, "no channel 2: it has 1"},
		{"channel -1", write("mono.wav", good), RecordingOptions{Channel: -1}, "no channel -1"},
		{"Ogg", write("a.ogg", []byte("OggS\x00\x02abcdefgh")), RecordingOptions{}, "an Ogg file: save it as WAV or FLAC"},
		{"AIFF", write("a.aif", []byte("FORM\x00\x00\x00\x00AIFF")), RecordingOptions{}, "an AIFF file"},
		{"MP4", write("a.m4a", []byte("\x00\x00\x00\x20ftypM4A ")), RecordingOptions{}, "an MP4 file"},
		{"MPEG", write("a.mp3", []byte("\xff\xfb\x90\x44abcdefgh")), RecordingOptions{}, "an MPEG sound file"},
		{"MPEG with tag", write("b.mp3", []byte("ID3\x04\x00\x00\x00\x00\x00\x03abc\xff\xfb\x90\x44")), RecordingOptions{}, "an MPEG sound file"},
		{"a tag and nothing else", write("c.mp3", []byte("ID3\x04\x00\x00\x00\x00\x7f\x03abc")), RecordingOptions{}, "cut short inside its ID3 tag"},
		{"FLAC of four bytes", write("d.flac", []byte("fLaC")), RecordingOptions{}, "cut short"},
		{"FLAC with nonsense", write("e.flac", append([]byte("fLaC"), bytes.Repeat([]byte{0x5A}, 200)...)), RecordingOptions{}, "FLAC data is damaged"},
	} {
		r, err := OpenRecording(row.path, row.o)
		if err == nil {
			r.Close()
			t.Errorf("%s: opened, want an error with %q", row.name, row.want)
			continue
		}
		if !errors.Is(err, listen.ErrPermanent) {
			t.Errorf("%s: %v is not permanent: it would be tried for ever", row.name, err)
		}
		if s := err.Error(); !strings.HasPrefix(s, row.path+": ") || !strings.Contains(s, row.want) ||
			strings.Count(s, row.path) != 1 || strings.Contains(s, "\n") {
			t.Errorf("%s: got %q, want one line that begins with the path and holds %q", row.name, s, row.want)
		}
	}
	if os.Getuid() != 0 { // root may read anything
		path := write("secret.wav", good)
		if err := os.Chmod(path, 0); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenRecording(path, RecordingOptions{}); err == nil || !strings.Contains(err.Error(), "permission denied") {
			t.Errorf("unreadable file: got %v", err)
		}
	}
}

func TestACutRecordingIsHeardAndThenTold(t *testing.T) {
	sound := hiss(10000, 0.1, 1)
	whole := encoded(t, mono, sound)
	path := fileOf(t, "cut.wav", whole[:len(whole)-8001]) // 4000.5 frames
	r := openRecording(t, path, RecordingOptions{})
	got, err := drain(r, math.MaxInt)
	if len(got) != 5999 {
		t.Errorf("%d samples, want 5999", len(got))
	}
	if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.Contains(err.Error(), path+": the file is cut short: its header promises 10000 frames, it holds 5999") {
		t.Errorf("at the end: %v, want that the file is cut short, and where", err)
	}
	if _, again := r.Next(context.Background()); again != err {
		t.Errorf("Next after %v says %v", err, again)
	}
	if r.Fault() != err {
		t.Errorf("Fault() = %v, want %v", r.Fault(), err)
	}

	// A paced one plays the part of an instrument: it ends as one does.
	p := openRecording(t, path, RecordingOptions{Paced: true, clock: newJumpClock()})
	if got, err := drain(p, math.MaxInt); len(got) != 5999 || err != io.EOF || p.Fault() == nil {
		t.Errorf("paced: %d samples, %v, fault %v; want 5999, EOF and a fault", len(got), err, p.Fault())
	}
}

func TestRecordingWithBrokenSamples(t *testing.T) {
	var b bytes.Buffer
	f := wav.Format{Rate: 48000, Channels: 1, Bits: 32, Float: true}
	if err := wav.Encode(&b, f, hiss(1000, 0.1, 1), wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	file := b.Bytes()
	binary.LittleEndian.PutUint32(file[len(file)-400:], math.Float32bits(float32(math.NaN())))
	r := openRecording(t, fileOf(t, "nan.wav", file), RecordingOptions{})
	got, err := drain(r, math.MaxInt)
	if err != io.EOF || len(got) != 1000 || got[900] != 0 {
		t.Errorf("%d samples, the broken one reads %v, %v; want 1000, 0, EOF", len(got), got[900], err)
	}
	if said := strings.Join(r.Notes(), ";"); !strings.Contains(said, "1 samples are no numbers") {
		t.Errorf("notes %q do not tell of the broken sample", said)
	}
}

func TestLSBIsThatOfTheSound(t *testing.T) {
	sound := hiss(5000, 0.1, 1)
	eleven := make([]float32, 5000)
	for i, x := range sound {
		eleven[i] = float32(math.Round(float64(x)*1024) / 1024)
	}
	fine := make([]float32, 5000)
	for i, x := range sound {
		fine[i] = x * (1 + 0x1p-20)
	}
	float := wav.Format{Rate: 48000, Channels: 1, Bits: 32, Float: true}
	deep := wav.Format{Rate: 48000, Channels: 1, Bits: 24}
	square := make([]float32, 5000)
	for i := range square {
		square[i] = 0.5 - float32(i/50%2)
	}
	for _, row := range []struct {
		name  string
		f     wav.Format
		p     []float32
		depth int
		lsb   float64
	}{
		{"16-bit", mono, sound, 16, 1.0 / 32768},
		{"16 bits saved as 24", deep, sound, 16, 1.0 / 32768},
		{"16 bits saved as float", float, sound, 16, 1.0 / 32768},
		{"11 bits saved as 16", mono, eleven, 11, 1.0 / 1024},
		{"float", float, fine, 0, 0},
		{"silence: as the format states", mono, make([]float32, 500), 0, 1.0 / 32768},
		{"a square wave: as the format states", deep, square, 1, 0x1p-23},
	} {
		if row.name == "a square wave: as the format states" {
			row.depth = 2 // ±½
		}
		r := openRecording(t, fileOf(t, "x.wav", encoded(t, row.f, row.p)), RecordingOptions{})
		if r.Depth() != row.depth || r.LSB() != row.lsb {
			t.Errorf("%s: depth %d, step %v; want %d, %v", row.name, r.Depth(), r.LSB(), row.depth, row.lsb)
		}
	}
}

func TestRecordingNextAllocatesNothing(t *testing.T) {
	r := openRecording(t, fileOf(t, "x.wav", encoded(t, mono, hiss(480*400, 0.1, 1))), RecordingOptions{Paced: true, clock: &stillClock{}})
	ctx := context.Background()
	if n := testing.AllocsPerRun(300, func() { r.Next(ctx) }); n != 0 {
		t.Errorf("Next allocates %v times, want 0", n)
	}
}

// stillClock never makes anybody wait.
type stillClock struct{}

func (*stillClock) Now() time.Time                               { return time.Unix(1e9, 0) }
func (*stillClock) Until(ctx context.Context, _ time.Time) error { return ctx.Err() }

func BenchmarkRecording(b *testing.B) {
	var file bytes.Buffer
	f := mono
	f.Channels = 2
	if err := wav.Encode(&file, f, hiss(2*480000, 0.1, 1), wav.Meta{}); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), "x.wav")
	if err := os.WriteFile(path, file.Bytes(), 0o600); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(file.Len()))
	for b.Loop() { // 10 s of stereo, opened, looked at and read
		r, err := OpenRecording(path, RecordingOptions{})
		if err != nil {
			b.Fatal(err)
		}
		if got, err := drain(r, math.MaxInt); len(got) != 480000 {
			b.Fatal(len(got), err)
		}
		r.Close()
	}
}
