package wav

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// The limits of what is read. They lie far outside what a recording can be, so
// that a header beyond them is a damaged one.
const (
	MaxChannels = 64
	MinRate     = 1000    // Hz
	MaxRate     = 1000000 // Hz
)

// Format says how samples are stored. The zero value is not valid.
type Format struct {
	Rate     int // frames a second
	Channels int
	Bits     int  // bits a sample occupies: 8, 16, 24, 32; 32 or 64 if Float
	Valid    int  // bits of them that carry sound, counted from the top; 0 is all
	Float    bool // IEEE float; else integers, unsigned if Bits is 8
}

// FrameBytes returns the size of one frame: a sample of every channel.
func (f Format) FrameBytes() int { return f.Channels * f.Bits / 8 }

// LSB returns the quantisation step the format states, full scale being 1, or 0
// for float. A file may use fewer bits than it states: see Decoder.Depth.
func (f Format) LSB() float64 {
	if f.Float {
		return 0
	}
	bits := f.Bits
	if f.Valid > 0 {
		bits = f.Valid
	}
	return math.Ldexp(1, 1-bits)
}

// Check returns nil if f can be read, or what is wrong with it.
func (f Format) Check() error {
	switch {
	case f.Channels < 1 || f.Channels > MaxChannels:
		return fmt.Errorf("it states %d channels: 1 to %d can be read", f.Channels, MaxChannels)
	case f.Rate < MinRate || f.Rate > MaxRate:
		return fmt.Errorf("it states a sample rate of %d Hz: %d Hz to %d kHz can be read", f.Rate, MinRate, MaxRate/1000)
	case f.Float && f.Bits != 32 && f.Bits != 64:
		return fmt.Errorf("%d-bit float isn't supported: save it as 32-bit float or 24-bit PCM", f.Bits)
	case !f.Float && (f.Bits < 8 || f.Bits > 32 || f.Bits%8 != 0):
		return fmt.Errorf("%d-bit PCM isn't supported: save it as 16 or 24 bit", f.Bits)
	case f.Valid < 0 || f.Valid > f.Bits:
		return fmt.Errorf("the format chunk contradicts itself: %d valid bits in samples of %d", f.Valid, f.Bits)
	}
	return nil
}

// The format tags of the fmt chunk.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// coded names the format tags people meet that are not linear samples.
// From memory of RFC 2361, unchecked.
func coded(tag uint16) string {
	switch tag {
	case 0x0002, 0x0011:
		return "ADPCM"
	case 0x0006:
		return "A-law"
	case 0x0007:
		return "µ-law"
	case 0x0031:
		return "GSM 06.10"
	case 0x0050, 0x0055:
		return "MPEG"
	}
	return fmt.Sprintf("coding 0x%04X", tag)
}

// subformatTail is what follows the format tag in a subformat GUID of a
// WAVE_FORMAT_EXTENSIBLE file: xxxx0000-0000-0010-8000-00AA00389B71.
const subformatTail = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xAA\x00\x38\x9B\x71"

// parseFormat reads the body of a fmt chunk, of which b may hold only the start.
func parseFormat(b []byte) (Format, error) {
	if len(b) < 16 {
		return Format{}, errors.New("the format chunk is cut short")
	}
	le := binary.LittleEndian
	tag := le.Uint16(b)
	// Both are 32 and 16 bit unsigned in the file, so int holds them on every
	// platform but a 32-bit one, where a rate beyond 2^31 turns negative and is
	// refused all the same.
	f := Format{
		Rate:     int(le.Uint32(b[4:])),
		Channels: int(le.Uint16(b[2:])),
		Bits:     int(le.Uint16(b[14:])),
	}
	align := int(le.Uint16(b[12:]))
	if tag == tagExtensible {
		if len(b) < 40 || string(b[26:40]) != subformatTail {
			return Format{}, errors.New("the extensible format chunk is damaged or of an unknown kind: save it as plain 16- or 24-bit PCM")
		}
		f.Valid = int(le.Uint16(b[18:]))
		tag = le.Uint16(b[24:])
	}
	switch tag {
	case tagPCM:
	case tagFloat:
		f.Float = true
		f.Valid = 0 // means nothing there
	default:
		return Format{}, fmt.Errorf("%s isn't supported: save it as 16- or 24-bit PCM", coded(tag))
	}
	if f.Valid == f.Bits {
		f.Valid = 0
	}
	if err := f.Check(); err != nil {
		return Format{}, err
	}
	if align != 0 && align != f.FrameBytes() {
		return Format{}, fmt.Errorf("the format chunk contradicts itself: %d bytes a frame, but %d channels of %d bits",
			align, f.Channels, f.Bits)
	}
	return f, nil
}
