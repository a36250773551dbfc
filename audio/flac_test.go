package audio

import (
	"bytes"
	"crypto/md5"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

// flacOf encodes channels of integers of the given depth, verbatim, with the
// right sample count and MD5 sum.
func flacOf(t testing.TB, rate, depth int, channels ...[]int32) []byte {
	t.Helper()
	const block = 1024
	n := len(channels[0])
	var packed []byte
	for i := range n {
		for _, c := range channels {
			b := binary.LittleEndian.AppendUint32(nil, uint32(c[i]))
			packed = append(packed, b[:(depth+7)/8]...)
		}
	}
	var b bytes.Buffer
	enc, err := flac.NewEncoder(&b, &meta.StreamInfo{
		BlockSizeMin: 16, BlockSizeMax: block, SampleRate: uint32(rate),
		NChannels: uint8(len(channels)), BitsPerSample: uint8(depth),
		NSamples: uint64(n), MD5sum: md5.Sum(packed),
	})
	if err != nil {
		t.Fatal(err)
	}
	layout := []frame.Channels{frame.ChannelsMono, frame.ChannelsLR, frame.ChannelsLRC}[len(channels)-1]
	for at, num := 0, 0; at < n; at, num = at+block, num+1 {
		f := &frame.Frame{Header: frame.Header{
			HasFixedBlockSize: true, BlockSize: uint16(min(block, n-at)), SampleRate: uint32(rate),
			Channels: layout, BitsPerSample: uint8(depth), Num: uint64(num),
		}}
		for _, c := range channels {
			f.Subframes = append(f.Subframes, &frame.Subframe{
				SubHeader: frame.SubHeader{Pred: frame.PredVerbatim},
				Samples:   c[at:min(at+block, n)], NSamples: min(block, n-at),
			})
		}
		if err := enc.WriteFrame(f); err != nil {
			t.Fatal(err)
		}
	}
	// The encoder computes its own MD5 sum only for a seekable writer.
	return b.Bytes()
}

// ints turns samples into integers of the given depth.
func ints(p []float32, depth int) []int32 {
	q := make([]int32, len(p))
	for i, x := range p {
		q[i] = int32(math.Round(float64(x) * math.Ldexp(1, depth-1)))
	}
	return q
}

func TestFLACIsASource(t *testing.T) {
	sound := hiss(5000, 0.1, 1)
	path := fileOf(t, "pot.flac", flacOf(t, 44100, 16, ints(sound, 16)))
	sourcetest.Run(t, func(t *testing.T) listen.Source { return openRecording(t, path, RecordingOptions{}) },
		sourcetest.Expectations{Name: "pot.flac", Rate: 44100, Samples: 5000, Sound: doubles(sound)})
}

func TestFLACDepths(t *testing.T) {
	sound := hiss(3000, 0.1, 2)
	for _, depth := range []int{16, 20, 24} {
		r := openRecording(t, fileOf(t, "x.flac", flacOf(t, 48000, depth, ints(sound, depth), make([]int32, 3000))), RecordingOptions{})
		got, err := drain(r, math.MaxInt)
		if err != io.EOF || len(got) != 3000 || r.Channel() != 1 {
			t.Errorf("%d bits: %d samples of channel %d, %v; want 3000 of channel 1, EOF", depth, len(got), r.Channel(), err)
			continue
		}
		for i, x := range sound {
			if got[i] != float64(x) {
				t.Errorf("%d bits: sample %d is %v, want %v", depth, i, got[i], x)
				break
			}
		}
		if r.Depth() != 16 || r.LSB() != 1.0/32768 {
			t.Errorf("%d bits holding 16: depth %d, step %v", depth, r.Depth(), r.LSB())
		}
	}
}

// Places in a FLAC file: "fLaC", a block head of 4 bytes, then STREAMINFO, with
// 36 bits of sample count ending at byte 18 of it and the MD5 sum from there on.
const (
	countAt = 4 + 4 + 17
	sumAt   = 4 + 4 + 18
)

func TestFLACFaultsAreToldAfterTheSound(t *testing.T) {
	const n = 5000
	good := flacOf(t, 44100, 16, ints(hiss(n, 0.1, 1), 16))
	change := func(f func(b []byte) []byte) []byte { return f(bytes.Clone(good)) }
	for _, row := range []struct {
		name    string
		file    []byte
		samples int
		want    string
	}{
		{"whole", good, n, ""},
		{"another MD5 sum", change(func(b []byte) []byte { b[sumAt]++; return b }), n, "its MD5 sum differs"},
		{"no MD5 sum", change(func(b []byte) []byte { clear(b[sumAt : sumAt+16]); return b }), n, ""},
		{"one frame more promised", change(func(b []byte) []byte { b[countAt]++; return b }), n, "promises 5001 frames, it holds 5000"},
		{"one frame less promised", change(func(b []byte) []byte { b[countAt]--; return b }), n, "promises 4999 frames, the file holds 5000"},
		{"no count", change(func(b []byte) []byte { clear(b[countAt-3 : countAt+1]); return b }), n, ""},
		{"cut inside the last block", change(func(b []byte) []byte { return b[:len(b)-100] }), 4096, "cut short: its header promises 5000 frames, it holds 4096"},
		{"a flipped bit", change(func(b []byte) []byte { b[len(b)-300] ^= 8; return b }), 4096, "the FLAC data is damaged"},
		{"a tag after the end", change(func(b []byte) []byte { return append(b, "TAG and some words"...) }), n, ""},
		{"a tag after the end, no count", change(func(b []byte) []byte {
			clear(b[countAt-3 : countAt+1])
			return append(b, "TAG and some words"...)
		}), n, "the FLAC data is damaged"},
	} {
		path := fileOf(t, "x.flac", row.file)
		r := openRecording(t, path, RecordingOptions{})
		got, err := drain(r, math.MaxInt)
		if len(got) != row.samples {
			t.Errorf("%s: %d samples, want %d", row.name, len(got), row.samples)
		}
		if row.want == "" && err != io.EOF || row.want != "" && (!strings.Contains(err.Error(), row.want) || !strings.HasPrefix(err.Error(), path)) {
			t.Errorf("%s: at the end %v, want %q", row.name, err, row.want)
		}
	}
}

func TestFLACBehindATag(t *testing.T) {
	file := append([]byte("ID3\x04\x00\x00\x00\x00\x01\x00"), make([]byte, 128)...)
	file = append(file, flacOf(t, 44100, 16, ints(hiss(2000, 0.1, 1), 16))...)
	r := openRecording(t, fileOf(t, "x.flac", file), RecordingOptions{})
	if got, err := drain(r, math.MaxInt); len(got) != 2000 || err != io.EOF {
		t.Errorf("%d samples, %v; want 2000, EOF", len(got), err)
	}
}

// sox encodes by libFLAC, the reference implementation: prediction, mid-side
// stereo and all.
func TestReadsWhatTheReferenceEncoderWrites(t *testing.T) {
	if _, err := exec.LookPath("sox"); err != nil {
		t.Skip("sox is not installed")
	}
	f := mono
	f.Channels = 2
	left := hiss(30000, 0.05, 1)
	right := hiss(30000, 0.001, 2)
	for i := range left {
		left[i] = float32(math.Round(float64(left[i])*300+9000*math.Sin(float64(i)/20)) / 32768)
		right[i] += left[i]
	}
	in := fileOf(t, "in.wav", encoded(t, f, interleave(left, right)))
	for _, args := range [][]string{{"-C", "0"}, {"-C", "8"}, {"-C", "8", "-b", "24"}} {
		out := filepath.Join(t.TempDir(), "out.flac")
		if words, err := exec.Command("sox", append(append([]string{"-D", in}, args...), out)...).CombinedOutput(); err != nil {
			t.Skipf("sox does not write FLAC here: %v: %s", err, words)
		}
		r := openRecording(t, out, RecordingOptions{Channel: 2})
		got, err := drain(r, math.MaxInt)
		if err != io.EOF || len(got) != len(right) {
			t.Errorf("%v: %d samples, %v; want %d, EOF (count and MD5 sum hold)", args, len(got), err, len(right))
			continue
		}
		for i, x := range right {
			if got[i] != float64(x) {
				t.Errorf("%v: sample %d is %v, want %v", args, i, got[i], x)
				break
			}
		}
	}
}

// FuzzFLAC: whatever the bytes, an end comes, and every sample lies within full
// scale.
func FuzzFLAC(f *testing.F) {
	good := flacOf(f, 44100, 16, ints(hiss(300, 0.1, 1), 16))
	f.Add(good)
	f.Add(good[:200])
	f.Add([]byte("fLaC"))
	f.Add(flacOf(f, 8000, 24, ints(hiss(40, 0.1, 1), 24), ints(hiss(40, 0.1, 2), 24)))
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := newFLACReader(bytes.NewReader(file))
		if err != nil {
			return
		}
		dst := make([]float64, 100*r.Format().Channels)
		for {
			n, err := r.Read(dst)
			if (n == 0) != (err != nil) {
				t.Fatalf("Read = %d, %v", n, err)
			}
			for _, x := range dst[:n*r.Format().Channels] {
				if math.IsNaN(x) {
					t.Fatal("a sample is NaN")
				}
			}
			if err != nil {
				if errors.Is(err, os.ErrClosed) {
					t.Fatal(err)
				}
				return
			}
		}
	})
}
