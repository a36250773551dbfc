package wav

import (
	"bytes"
	"io"
	"math"
	"testing"
)

// FuzzReader feeds the reader anything. It must come to an end, give finite
// samples, never more than the bytes could hold, and whole frames only.
func FuzzReader(f *testing.F) {
	for _, good := range goodFiles() {
		f.Add(good.file)
		f.Add(good.file[:len(good.file)/2])
	}
	for _, bad := range badFiles() {
		f.Add(bad.file)
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := NewReader(bytes.NewReader(file))
		if err != nil {
			if err.Error() == "" {
				t.Error("an error without words")
			}
			return
		}
		form := r.Format()
		if err := form.Check(); err != nil {
			t.Fatalf("accepted the format %+v: %v", form, err)
		}
		dst := make([]float64, 7*form.Channels)
		var frames int
		for {
			n, err := r.Read(dst)
			if (n == 0) != (err != nil) {
				t.Fatalf("Read = %d, %v: neither sound nor an end, or both", n, err)
			}
			for i, x := range dst[:n*form.Channels] {
				if !(math.Abs(x) <= loudest) {
					t.Fatalf("sample %d of frame block at %d reads %v", i, frames, x)
				}
			}
			frames += n
			if err != nil {
				if _, again := r.Read(dst); again != err {
					t.Errorf("Read after %v says %v", err, again)
				}
				break
			}
		}
		if frames*form.FrameBytes() > len(file) {
			t.Errorf("%d frames of %d bytes from a file of %d", frames, form.FrameBytes(), len(file))
		}
		if stated := r.Frames(); stated >= 0 && int64(frames) > stated {
			t.Errorf("%d frames, more than the %d stated", frames, stated)
		}
	})
}

// FuzzDecoder: every bit pattern is a finite sample.
func FuzzDecoder(f *testing.F) {
	f.Add([]byte{0, 0, 0xC0, 0x7F, 1, 2, 3, 4}, uint8(0))
	f.Fuzz(func(t *testing.T, src []byte, kind uint8) {
		form := []Format{
			{8000, 1, 8, 0, false}, {8000, 1, 16, 0, false}, {8000, 1, 24, 0, false},
			{8000, 1, 32, 0, false}, {8000, 1, 32, 0, true}, {8000, 1, 64, 0, true},
		}[kind%6]
		d, err := NewDecoder(form)
		if err != nil {
			t.Fatal(err)
		}
		dst := make([]float64, len(src))
		n := d.Decode(dst, src)
		if n != len(src)*8/form.Bits {
			t.Errorf("%d bytes of %d bits decode to %d samples", len(src), form.Bits, n)
		}
		for _, x := range dst[:n] {
			if !(math.Abs(x) <= loudest) || !form.Float && (x < -1 || x >= 1) {
				t.Errorf("a sample of %v", x)
			}
		}
		if depth := d.Depth(); depth < 0 || depth > 32 {
			t.Errorf("depth %d", depth)
		}
	})
}

// FuzzMeta: what is written of a pitch and a mark is read again.
func FuzzMeta(f *testing.F) {
	f.Add(uint8(69), 0.5, uint32(1000))
	f.Add(uint8(127), 0.9999999999999999, uint32(math.MaxUint32))
	f.Fuzz(func(t *testing.T, key uint8, fraction float64, at uint32) {
		m := Meta{Note: &Note{Key: int(key), Fraction: fraction}, Cues: []Cue{{ID: 7, Frame: int64(at)}}}
		var b bytes.Buffer
		if Encode(&b, Format{Rate: 48000, Channels: 1, Bits: 24}, []float32{0.25}, m) != nil {
			if key <= 127 && fraction >= 0 && fraction < 1 {
				t.Errorf("refused key %d and %v", key, fraction)
			}
			return
		}
		r, err := NewReader(&b)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := readAll(r, 8); err != nil && err != io.EOF {
			t.Fatal(err)
		}
		if n := r.Note(); n == nil || n.Key != int(key) || math.Abs(n.Fraction-fraction) > 0x1p-32 {
			t.Errorf("note %d + %v reads %+v", key, fraction, n)
		}
		if c := r.Cues(); len(c) != 1 || c[0] != m.Cues[0] {
			t.Errorf("cue %v reads %v", m.Cues, c)
		}
	})
}
