package wav

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Meta is what a file says besides the sound. The zero value says nothing.
type Meta struct {
	Note *Note // the pitch, as a smpl chunk
	Cues []Cue // marks, such as the onset of a strike
}

// Encode writes a whole file: samples of the channels side by side, full scale
// ±1, as 16- or 24-bit PCM or 32-bit float. Integers are rounded to the nearest
// step, what lies beyond full scale is held at it (+1 itself becomes the
// largest integer, one step below), and nothing is dithered: what was read from
// a file of as many bits is written as it was. It returns an error if f is none
// of the three, a sample is not finite, meta is out of range, the file would
// exceed the 4 GiB of a WAV file, or w fails. Before the first byte all of that
// but the last is known.
func Encode(w io.Writer, f Format, samples []float32, meta Meta) error {
	if err := writable(f, samples, meta); err != nil {
		return fmt.Errorf("wav: encode: %w", err)
	}
	size := int64(len(samples)) * int64(f.Bits/8)
	head := header(f, len(samples)/f.Channels, size)
	tail := trailer(f, meta)
	if size%2 == 1 {
		tail = append([]byte{0}, tail...)
	}
	total := int64(len(head)) + size + int64(len(tail)) - 8
	if total > math.MaxUint32 {
		return fmt.Errorf("wav: encode: %d bytes of sound are more than a WAV file can hold (4 GiB)", size)
	}
	binary.LittleEndian.PutUint32(head[4:], uint32(total))
	if _, err := w.Write(head); err != nil {
		return fmt.Errorf("wav: encode: %w", err)
	}
	if err := writeSamples(w, f, samples); err != nil {
		return fmt.Errorf("wav: encode: %w", err)
	}
	if _, err := w.Write(tail); err != nil {
		return fmt.Errorf("wav: encode: %w", err)
	}
	return nil
}

func writable(f Format, samples []float32, meta Meta) error {
	if err := f.Check(); err != nil {
		return err
	}
	if f.Valid != 0 || !(f.Float && f.Bits == 32 || !f.Float && (f.Bits == 16 || f.Bits == 24)) {
		return errors.New("16- and 24-bit PCM and 32-bit float are written")
	}
	if len(samples)%f.Channels != 0 {
		return fmt.Errorf("%d samples are not whole frames of %d channels", len(samples), f.Channels)
	}
	for i, x := range samples {
		if x != x || math.IsInf(float64(x), 0) {
			return fmt.Errorf("sample %d is %v", i, x)
		}
	}
	if n := meta.Note; n != nil && (n.Key < 0 || n.Key > 127 || !(n.Fraction >= 0 && n.Fraction < 1)) {
		return fmt.Errorf("a note of key %d and %v semitones: 0 to 127 and 0 to below 1 can be stated", n.Key, n.Fraction)
	}
	for _, c := range meta.Cues {
		if c.Frame < 0 || c.Frame > math.MaxUint32 {
			return fmt.Errorf("a cue at frame %d", c.Frame)
		}
	}
	return nil
}

// header returns everything before the samples. The RIFF size is left at 0.
func header(f Format, frames int, size int64) []byte {
	le := binary.LittleEndian
	b := append([]byte("RIFF"), 0, 0, 0, 0)
	b = append(b, "WAVE"...)
	tag := uint16(tagPCM)
	if f.Float {
		tag = tagFloat
	}
	fmtSize := uint32(16)
	if f.Float {
		fmtSize = 18
	}
	extensible := f.Channels > 2 // the plain form does not say which speaker is which beyond two
	if extensible {
		fmtSize = 40
	}
	b = append(b, "fmt "...)
	b = le.AppendUint32(b, fmtSize)
	if extensible {
		b = le.AppendUint16(b, tagExtensible)
	} else {
		b = le.AppendUint16(b, tag)
	}
	b = le.AppendUint16(b, uint16(f.Channels))
	b = le.AppendUint32(b, uint32(f.Rate))
	b = le.AppendUint32(b, uint32(f.Rate*f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.Bits))
	switch {
	case extensible:
		b = le.AppendUint16(b, 22)
		b = le.AppendUint16(b, uint16(f.Bits))
		b = le.AppendUint32(b, 0) // speaker mask: none stated
		b = le.AppendUint16(b, tag)
		b = append(b, subformatTail...)
	case f.Float:
		b = le.AppendUint16(b, 0)
	}
	if f.Float {
		b = append(b, "fact"...)
		b = le.AppendUint32(b, 4)
		b = le.AppendUint32(b, uint32(frames))
	}
	b = append(b, "data"...)
	return le.AppendUint32(b, uint32(size))
}

// trailer returns the chunks after the samples.
func trailer(f Format, meta Meta) []byte {
	le := binary.LittleEndian
	var b []byte
	if len(meta.Cues) > 0 {
		b = append(b, "cue "...)
		b = le.AppendUint32(b, uint32(4+24*len(meta.Cues)))
		b = le.AppendUint32(b, uint32(len(meta.Cues)))
		for _, c := range meta.Cues {
			b = le.AppendUint32(b, c.ID)
			b = le.AppendUint32(b, uint32(c.Frame)) // play order position
			b = append(b, "data"...)
			b = le.AppendUint32(b, 0) // chunk start: only one data chunk
			b = le.AppendUint32(b, 0) // block start: not compressed
			b = le.AppendUint32(b, uint32(c.Frame))
		}
	}
	if n := meta.Note; n != nil {
		b = append(b, "smpl"...)
		b = le.AppendUint32(b, 36)
		for _, v := range []uint32{
			0, 0, // manufacturer, product: none
			uint32(math.Round(1e9 / float64(f.Rate))), // sample period, ns
			uint32(n.Key),
			uint32(min(math.Round(n.Fraction*(1<<32)), math.MaxUint32)),
			0, 0, // SMPTE format and offset: none
			0, 0, // loops, bytes of private data: none
		} {
			b = le.AppendUint32(b, v)
		}
	}
	return b
}

// writeSamples writes the sound in pieces, so that a long one is not held twice.
func writeSamples(w io.Writer, f Format, samples []float32) error {
	const piece = 8192
	buf := make([]byte, 0, piece*f.Bits/8)
	for len(samples) > 0 {
		n := min(piece, len(samples))
		buf = buf[:0]
		for _, x := range samples[:n] {
			switch {
			case f.Float:
				buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(x))
			case f.Bits == 16:
				buf = binary.LittleEndian.AppendUint16(buf, uint16(step(x, 1<<15)))
			default:
				v := step(x, 1<<23)
				buf = append(buf, byte(v), byte(v>>8), byte(v>>16))
			}
		}
		if _, err := w.Write(buf); err != nil {
			return err
		}
		samples = samples[n:]
	}
	return nil
}

// step returns the integer nearest to x times full, within -full..full-1.
func step(x float32, full float64) int32 {
	return int32(max(-full, min(full-1, math.RoundToEven(float64(x)*full))))
}
