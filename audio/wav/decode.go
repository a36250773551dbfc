package wav

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// Decoder turns little-endian samples of a Format into numbers and keeps count
// of what it met. It serves raw PCM too. Make one with NewDecoder.
type Decoder struct {
	f      Format
	broken int64
	used   uint32 // every bit set in any sample, the sign bit being bit 31
	fine   bool   // a float sample was met that no 32-bit integer stands for
}

// loudest is the largest |sample| taken for sound. See the package comment.
const loudest = 1e9

// NewDecoder returns a decoder, or what is wrong with f.
func NewDecoder(f Format) (*Decoder, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	return &Decoder{f: f}, nil
}

// Format returns the format it was made for.
func (d *Decoder) Format() Format { return d.f }

// NonFinite returns how many samples were NaN, infinite or beyond ±1e9. They
// were given as 0.
func (d *Decoder) NonFinite() int64 { return d.broken }

// Depth returns how many bits the samples met so far use, or 0 if that cannot
// be said: nothing but silence so far, or float samples finer than 32 bits. A
// 16-bit recording saved as 24 bit or as float has a depth of 16.
func (d *Decoder) Depth() int {
	if d.used == 0 || d.fine {
		return 0
	}
	return 32 - bits.TrailingZeros32(d.used)
}

// Decode decodes the whole samples in src into dst, integers divided by their
// full scale (-1 to just below 1), floats as they are, and returns how many.
// dst must hold len(src)/(Bits/8) samples. It allocates nothing.
func (d *Decoder) Decode(dst []float64, src []byte) int {
	size := d.f.Bits / 8
	n := len(src) / size
	if n == 0 {
		return 0
	}
	dst, src = dst[:n], src[:n*size]
	switch {
	case d.f.Float:
		d.floats(dst, src)
	case d.f.Bits == 8:
		for i := range dst {
			d.put(&dst[i], int32(src[i])<<24^math.MinInt32)
		}
	case d.f.Bits == 16:
		for i := range dst {
			d.put(&dst[i], int32(binary.LittleEndian.Uint16(src[2*i:]))<<16)
		}
	case d.f.Bits == 24:
		for i := range dst {
			s := src[3*i : 3*i+3]
			d.put(&dst[i], int32(s[0])<<8|int32(s[1])<<16|int32(s[2])<<24)
		}
	default:
		for i := range dst {
			d.put(&dst[i], int32(binary.LittleEndian.Uint32(src[4*i:])))
		}
	}
	return n
}

// put stores a sample given as an integer with its top bit at the top.
func (d *Decoder) put(dst *float64, v int32) {
	d.used |= uint32(v)
	*dst = float64(v) * (1.0 / (1 << 31))
}

func (d *Decoder) floats(dst []float64, src []byte) {
	for i := range dst {
		var x float64
		if d.f.Bits == 32 {
			x = float64(math.Float32frombits(binary.LittleEndian.Uint32(src[4*i:])))
		} else {
			x = math.Float64frombits(binary.LittleEndian.Uint64(src[8*i:]))
		}
		if !(math.Abs(x) <= loudest) { // so that NaN is caught too
			x = 0
			d.broken++
		}
		dst[i] = x
		if d.fine {
			continue
		}
		// Does an integer of 32 bits stand behind it? Beyond full scale the
		// bits above the sign say nothing about the step.
		v := x * (1 << 31)
		if whole := math.Trunc(v); whole == v && math.Abs(v) < 1<<62 {
			d.used |= uint32(int64(whole))
		} else {
			d.fine = true
		}
	}
}
