package wav

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

// chunk builds a chunk, with its pad byte.
func chunk(id string, body []byte) []byte {
	b := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(body)))
	b = append(b, body...)
	if len(body)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// resized gives a chunk another stated size.
func resized(c []byte, size uint32) []byte {
	c = slices.Clone(c)
	binary.LittleEndian.PutUint32(c[4:], size)
	return c
}

func riff(form string, chunks ...[]byte) []byte {
	body := append([]byte("WAVE"), bytes.Join(chunks, nil)...)
	return append(binary.LittleEndian.AppendUint32([]byte(form), uint32(len(body))), body...)
}

func fmtBody(tag, channels uint16, rate uint32, align, bits uint16) []byte {
	le := binary.LittleEndian
	b := le.AppendUint16(nil, tag)
	b = le.AppendUint16(b, channels)
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, rate*uint32(align))
	b = le.AppendUint16(b, align)
	return le.AppendUint16(b, bits)
}

func extensible(channels, bits, valid, tag uint16) []byte {
	le := binary.LittleEndian
	b := fmtBody(tagExtensible, channels, 48000, channels*bits/8, bits)
	b = le.AppendUint16(b, 22)
	b = le.AppendUint16(b, valid)
	b = le.AppendUint32(b, 3)
	b = le.AppendUint16(b, tag)
	return append(b, subformatTail...)
}

func pcm16(v ...int16) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint16(b, uint16(x))
	}
	return b
}

func floats32(v ...float64) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
	}
	return b
}

func floats64(v ...float64) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	return b
}

func ds64Body(riff, data, frames uint64) []byte {
	le := binary.LittleEndian
	b := le.AppendUint64(nil, riff)
	b = le.AppendUint64(b, data)
	b = le.AppendUint64(b, frames)
	return le.AppendUint32(b, 0)
}

var (
	mono16 = chunk("fmt ", fmtBody(tagPCM, 1, 48000, 2, 16))
	three  = chunk("data", pcm16(16384, -32768, 1))
	wanted = []float64{0.5, -1, 1.0 / 32768}
)

// readAll reads in pieces of n frames.
func readAll(r *Reader, n int) ([]float64, error) {
	var all []float64
	ch := r.Format().Channels
	dst := make([]float64, n*ch)
	for {
		m, err := r.Read(dst)
		all = append(all, dst[:m*ch]...)
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return all, err
		}
	}
}

// goodFiles are files that must read, and how.
func goodFiles() []struct {
	name string
	file []byte
	want []float64
} {
	type row = struct {
		name string
		file []byte
		want []float64
	}
	ext := func(ch, bits, valid, tag uint16) []byte { return chunk("fmt ", extensible(ch, bits, valid, tag)) }
	return []row{
		{"8-bit is unsigned", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 1, 8000, 1, 8)), chunk("data", []byte{0, 128, 255, 192})), []float64{-1, 0, 127.0 / 128, 0.5}},
		{"16-bit", riff("RIFF", mono16, three), wanted},
		{"24-bit", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 1, 44100, 3, 24)), chunk("data", []byte{0, 0, 0x40, 0, 0, 0x80, 1, 0, 0, 0xFF, 0xFF, 0xFF})), []float64{0.5, -1, 0x1p-23, -0x1p-23}},
		{"32-bit", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 1, 44100, 4, 32)), chunk("data", []byte{0, 0, 0, 0x40, 0, 0, 0, 0x80, 1, 0, 0, 0})), []float64{0.5, -1, 0x1p-31}},
		{"float", riff("RIFF", chunk("fmt ", append(fmtBody(tagFloat, 1, 48000, 4, 32), 0, 0)), chunk("fact", []byte{2, 0, 0, 0}), chunk("data", floats32(0.25, -1.5))), []float64{0.25, -1.5}},
		{"double", riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 8, 64)), chunk("data", floats64(0.1, -2))), []float64{0.1, -2}},
		{"NaN, infinite and absurd samples read as 0", riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 4, 32)), chunk("data", floats32(math.NaN(), 0.5, math.Inf(-1), 1e10))), []float64{0, 0.5, 0, 0}},
		{"extensible PCM", riff("RIFF", ext(1, 16, 16, tagPCM), three), wanted},
		{"extensible, 20 valid bits of 24", riff("RIFF", ext(1, 24, 20, tagPCM), chunk("data", []byte{0x10, 0, 0x40})), []float64{0.5 + 0x1p-19}},
		{"extensible, no valid bits stated", riff("RIFF", ext(1, 16, 0, tagPCM), three), wanted},
		{"extensible float", riff("RIFF", ext(1, 32, 32, tagFloat), chunk("data", floats32(0.25))), []float64{0.25}},
		{"stereo", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 2, 48000, 4, 16)), chunk("data", pcm16(1, 2, 3, 4))), []float64{0x1p-15, 0x2p-15, 0x3p-15, 0x4p-15}},
		{"block align 0", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 1, 48000, 0, 16)), three), wanted},
		{"odd chunk with pad byte", riff("RIFF", chunk("note", []byte{1, 2, 3}), mono16, three), wanted},
		{"odd chunk without pad byte", riff("RIFF", chunk("note", []byte{1, 2, 3})[:11], mono16, three), wanted},
		{"unknown chunks before and after", riff("RIFF", chunk("JUNK", make([]byte, 100)), mono16, chunk("LIST", []byte("INFOxxxx")), three, chunk("LIST", []byte("INFO"))), wanted},
		{"size 0: to the end", riff("RIFF", mono16, resized(three, 0)), wanted},
		{"size FFFFFFFF: to the end", riff("RIFF", mono16, resized(three, 0xFFFFFFFF)), wanted},
		{"size 7FFFF000: to the end", riff("RIFF", mono16, resized(three, 0x7FFFF000)), wanted},
		{"size 7FFFEFFC: to the end, in whole frames of 6 bytes", riff("RIFF", mono16, resized(three, 0x7FFFEFFC)), wanted},
		{"size 7FFFFFDB: to the end", riff("RIFF", mono16, resized(three, 0x7FFFFFDB)), wanted},
		{"size 0 and nothing there", riff("RIFF", mono16, chunk("data", nil)), nil},
		{"size 0 and a chunk that follows sound", riff("RIFF", mono16, chunk("data", nil), chunk("LIST", []byte("INFO"))), nil},
		{"half a frame at the end", riff("RIFF", mono16, resized(append(slices.Clone(three), 7), 7)), wanted},
		{"half a frame promised at the end and not there", riff("RIFF", mono16, resized(three, 7)), wanted},
		{"wrong RIFF size", append([]byte("RIFF\x01\x00\x00\x00"), riff("RIFF", mono16, three)[8:]...), wanted},
		{"RF64", riff("RF64", chunk("ds64", ds64Body(100, 6, 3)), mono16, resized(three, 0xFFFFFFFF), chunk("LIST", []byte("INFO"))), wanted},
		{"BW64", riff("BW64", chunk("ds64", ds64Body(100, 6, 3)), mono16, resized(three, 0xFFFFFFFF), chunk("LIST", []byte("INFO"))), wanted},
		{"RF64 without a size", riff("RF64", chunk("ds64", ds64Body(0, 0, 0)), mono16, resized(three, 0xFFFFFFFF)), wanted},
		{"RF64 without ds64", riff("RF64", mono16, resized(three, 0xFFFFFFFF)), wanted},
		{"stray bytes at the end", append(riff("RIFF", mono16, three), 1, 2, 3), wanted},
	}
}

func TestReaderReads(t *testing.T) {
	for _, f := range goodFiles() {
		for _, piece := range []int{1, 2, 4096} {
			r, err := NewReader(bytes.NewReader(f.file))
			if err != nil {
				t.Errorf("%s: %v", f.name, err)
				break
			}
			got, err := readAll(r, piece)
			if err != nil || !slices.Equal(got, f.want) {
				t.Errorf("%s, %d frames at a time: got %v, %v; want %v", f.name, piece, got, err, f.want)
			}
			if n, err := r.Read(make([]float64, r.Format().Channels)); n != 0 || err != io.EOF {
				t.Errorf("%s: Read after the end = %d, %v, want 0, EOF", f.name, n, err)
			}
		}
		// A pipe gives what it has, a byte at a time if it must.
		r, err := NewReader(iotest.OneByteReader(bytes.NewReader(f.file)))
		if err != nil {
			t.Errorf("%s, byte by byte: %v", f.name, err)
			continue
		}
		if got, err := readAll(r, 16); err != nil || !slices.Equal(got, f.want) {
			t.Errorf("%s, byte by byte: got %v, %v; want %v", f.name, got, err, f.want)
		}
	}
}

// badFiles are files that must be refused, and a word the refusal must hold.
func badFiles() []struct {
	name string
	file []byte
	want string
} {
	type row = struct {
		name string
		file []byte
		want string
	}
	f := func(b []byte) []byte { return riff("RIFF", chunk("fmt ", b), three) }
	return []row{
		{"nothing in it", nil, "the file is empty"},
		{"text", []byte("these are the jars of the second movement"), "not a WAV file"},
		{"one byte", []byte("R"), "not a WAV file"},
		{"the start of RIFF", []byte("RIFF\x00\x00"), "cut short inside its header"},
		{"another RIFF", []byte("RIFF\x00\x00\x00\x00AVI LIST"), "another kind"},
		{"big-endian", []byte("RIFX\x00\x00\x00\x00WAVE"), "big-endian"},
		{"nothing after the header", riff("RIFF"), "the format chunk is missing"},
		{"sound without a format", riff("RIFF", three), "format chunk is missing"},
		{"format without sound", riff("RIFF", mono16), "the data chunk is missing"},
		{"junk of 4 GiB swallows the sound", riff("RIFF", mono16, resized(chunk("JUNK", nil), 0xFFFFFFF6), three), "the data chunk is missing"},
		{"format of 2 GiB", riff("RIFF", resized(mono16, 0x7FFFFFFF), three), "the format chunk is damaged"},
		{"format of 14 bytes", f(fmtBody(tagPCM, 1, 48000, 2, 16)[:14]), "cut short"},
		{"12 bits", f(fmtBody(tagPCM, 1, 48000, 2, 12)), "12-bit PCM isn't supported: save it as 16 or 24 bit"},
		{"0 bits", f(fmtBody(tagPCM, 1, 48000, 2, 0)), "0-bit PCM isn't supported"},
		{"64-bit PCM", f(fmtBody(tagPCM, 1, 48000, 8, 64)), "64-bit PCM isn't supported"},
		{"16-bit float", f(fmtBody(tagFloat, 1, 48000, 2, 16)), "16-bit float isn't supported"},
		{"µ-law", f(fmtBody(7, 1, 8000, 1, 8)), "µ-law isn't supported: save it as 16- or 24-bit PCM"},
		{"A-law", f(fmtBody(6, 1, 8000, 1, 8)), "A-law isn't supported"},
		{"MP3 in WAV", f(fmtBody(0x55, 2, 44100, 1, 0)), "MPEG isn't supported"},
		{"unheard of", f(fmtBody(0x1234, 2, 44100, 1, 0)), "coding 0x1234 isn't supported"},
		{"no channel", f(fmtBody(tagPCM, 0, 48000, 0, 16)), "states 0 channels"},
		{"65 channels", f(fmtBody(tagPCM, 65, 48000, 130, 16)), "states 65 channels"},
		{"rate 0", f(fmtBody(tagPCM, 1, 0, 2, 16)), "sample rate of 0 Hz"},
		{"rate 2 MHz", f(fmtBody(tagPCM, 1, 2000000, 2, 16)), "sample rate of 2000000 Hz"},
		{"block align of another format", f(fmtBody(tagPCM, 1, 48000, 4, 16)), "contradicts itself"},
		{"more valid bits than bits", f(extensible(1, 16, 24, tagPCM)), "contradicts itself"},
		{"extensible cut short", f(extensible(1, 16, 16, tagPCM)[:30]), "extensible format chunk is damaged"},
		{"unknown subformat", f(append(extensible(1, 16, 16, tagPCM)[:39], 0)), "unknown kind"},
		{"ds64 cut short", riff("RF64", chunk("ds64", make([]byte, 20)), mono16, three), "ds64 chunk is cut short"},
	}
}

func TestReaderRefuses(t *testing.T) {
	for _, f := range badFiles() {
		_, err := NewReader(bytes.NewReader(f.file))
		if err == nil || !strings.Contains(err.Error(), f.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: got %v, want one line with %q", f.name, err, f.want)
		}
	}
}

func TestReaderGivesWhatIsLeftOfACutFile(t *testing.T) {
	whole := riff("RIFF", mono16, chunk("data", pcm16(1, 2, 3, 4, 5)))
	for cut := 1; cut <= 10; cut++ {
		r, err := NewReader(bytes.NewReader(whole[:len(whole)-cut]))
		if err != nil {
			t.Fatalf("%d bytes missing: %v", cut, err)
		}
		got, err := readAll(r, 2)
		have := (10 - cut) / 2
		if len(got) != have {
			t.Errorf("%d bytes missing: %d frames, want %d", cut, len(got), have)
		}
		if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.Contains(err.Error(), "promises 5 frames") {
			t.Errorf("%d bytes missing: error %v, want one that says 5 frames were promised", cut, err)
		}
	}
}

func TestReaderPassesOnReadErrors(t *testing.T) {
	bad := errors.New("the disk fell off")
	whole := riff("RIFF", mono16, chunk("data", pcm16(1, 2, 3, 4, 5)))
	for at := range len(whole) {
		src := io.MultiReader(bytes.NewReader(whole[:at]), iotest.ErrReader(bad))
		r, err := NewReader(src)
		if err == nil {
			_, err = readAll(r, 2)
		}
		if !errors.Is(err, bad) {
			t.Errorf("reading fails after %d bytes: got %v, want %v", at, err, bad)
		}
	}
}

// A header may promise anything; memory is spent on what is there.
func TestReaderAllocatesLittle(t *testing.T) {
	wide := chunk("ds64", ds64Body(1<<62, 1<<62, 1<<60))
	for name, file := range map[string][]byte{
		"data of 4 GiB":        riff("RIFF", mono16, resized(three, 0xFFFF0000)),
		"data of 4 EiB":        riff("RF64", wide, mono16, resized(three, 0xFFFFFFFF)),
		"junk of 4 GiB":        riff("RIFF", mono16, resized(chunk("JUNK", nil), 0xFFFFFFFF)),
		"smpl chunk of 4 GiB":  riff("RIFF", mono16, resized(chunk("smpl", nil), 0xFFFFFFFF)),
		"cues of 4 GiB":        riff("RIFF", mono16, resized(chunk("cue ", []byte{255, 255, 255, 255}), 0xFFFFFFFF)),
		"format chunk of 2 GB": riff("RIFF", resized(mono16, 0x7FFFFFFF), three),
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if r, err := NewReader(bytes.NewReader(file)); err == nil {
			readAll(r, 64)
		}
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > 300_000 {
			t.Errorf("%s: a file of %d bytes makes the reader allocate %d bytes, want at most 300000", name, len(file), got)
		}
	}
}

func TestDepthIsWhatTheSamplesUse(t *testing.T) {
	for _, row := range []struct {
		name string
		file []byte
		want int
	}{
		{"16-bit", riff("RIFF", mono16, three), 16},
		{"silence says nothing", riff("RIFF", mono16, chunk("data", pcm16(0, 0))), 0},
		{"12 bits saved as 16", riff("RIFF", mono16, chunk("data", pcm16(16, -32, 48))), 12},
		{"16 bits saved as 24", riff("RIFF", chunk("fmt ", fmtBody(tagPCM, 1, 48000, 3, 24)), chunk("data", []byte{0, 1, 0, 0, 0x80, 0x12})), 16},
		{"16 bits saved as float", riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 4, 32)), chunk("data", floats32(3.0/32768, -0.5))), 16},
		{"float", riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 4, 32)), chunk("data", floats32(0.5, 0x1.8p-35))), 0},
		{"NaN does not count", riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 8, 64)), chunk("data", floats64(math.NaN(), 0.5+0x1p-15))), 16},
	} {
		r, err := NewReader(bytes.NewReader(row.file))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := readAll(r, 100); err != nil {
			t.Fatal(err)
		}
		if got := r.Depth(); got != row.want {
			t.Errorf("%s: depth %d, want %d bits", row.name, got, row.want)
		}
	}
}

func TestNonFiniteSamplesAreCounted(t *testing.T) {
	r, err := NewReader(bytes.NewReader(riff("RIFF", chunk("fmt ", fmtBody(tagFloat, 1, 48000, 8, 64)),
		chunk("data", floats64(math.NaN(), 1e9, math.Inf(1), -1.1e9)))))
	if err != nil {
		t.Fatal(err)
	}
	got, err := readAll(r, 8)
	if want := []float64{0, 1e9, 0, 0}; err != nil || !slices.Equal(got, want) || r.NonFinite() != 3 {
		t.Errorf("got %v, %v, %d counted; want %v, 3 counted", got, err, r.NonFinite(), want)
	}
}

func TestLSBIsStated(t *testing.T) {
	for _, row := range []struct {
		f    Format
		want float64
	}{
		{Format{Bits: 16}, 1.0 / 32768},
		{Format{Bits: 24, Valid: 20}, 0x1p-19},
		{Format{Bits: 8}, 1.0 / 128},
		{Format{Bits: 32, Float: true}, 0},
	} {
		if got := row.f.LSB(); got != row.want {
			t.Errorf("LSB of %+v = %v, want %v", row.f, got, row.want)
		}
	}
}

func TestDecodeAllocatesNothing(t *testing.T) {
	for _, f := range []Format{{48000, 1, 8, 0, false}, {48000, 1, 16, 0, false}, {48000, 1, 24, 0, false}, {48000, 1, 32, 0, true}} {
		d, err := NewDecoder(f)
		if err != nil {
			t.Fatal(err)
		}
		src, dst := make([]byte, 480*f.Bits/8), make([]float64, 480)
		if n := testing.AllocsPerRun(100, func() { d.Decode(dst, src) }); n != 0 {
			t.Errorf("Decode of %+v allocates %v times, want 0", f, n)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	for _, f := range []Format{{48000, 1, 16, 0, false}, {48000, 1, 24, 0, false}, {48000, 1, 32, 0, true}} {
		name := map[bool]string{true: "float", false: "pcm"}[f.Float]
		b.Run(name+string(rune('0'+f.Bits/8)), func(b *testing.B) {
			d, _ := NewDecoder(f)
			src, dst := make([]byte, 480*f.Bits/8), make([]float64, 480)
			b.SetBytes(int64(len(src)))
			b.ReportAllocs()
			for b.Loop() {
				d.Decode(dst, src)
			}
		})
	}
}
