package webview

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// The frames of sound on /ear, version 1: a header of 16 bytes, then the
// samples of one channel. Everything is little-endian, as browsers' typed
// arrays are on every machine that has one.
//
//	offset  type    what
//	0       uint8   version, 1
//	1       uint8   1: float32, full scale 1; 2: int16, full scale 32768
//	2       uint16  number of samples, 1 to 2048
//	4       uint32  sequence: 0 for the first frame of a connection, then one more each
//	8       uint64  sample clock: index of the first sample since capture began
//	16      ...     samples
const (
	frameVersion = 1
	frameHeader  = 16   // bytes
	frameSamples = 2048 // at most
	frameLongest = frameHeader + 4*frameSamples

	frameFloat32 = 1
	frameInt16   = 2

	// loudest is the largest sample that can be sound, full scale 1. Floats may
	// exceed full scale a little; what is beyond this is an error of the sender.
	loudest = 16
)

// pcmFrame is one frame as it came; samples is the part of the message that holds
// them.
type pcmFrame struct {
	kind     byte
	count    int
	sequence uint32
	clock    uint64
	samples  []byte
}

// parseFrame takes a message apart. What it returns points into message.
func parseFrame(message []byte) (pcmFrame, error) {
	if len(message) < frameHeader {
		return pcmFrame{}, fmt.Errorf("a frame of %d bytes: the header alone has %d", len(message), frameHeader)
	}
	if message[0] != frameVersion {
		return pcmFrame{}, fmt.Errorf("a frame of version %d: only %d is understood; load the page anew", message[0], frameVersion)
	}
	f := pcmFrame{
		kind: message[1], count: int(binary.LittleEndian.Uint16(message[2:])),
		sequence: binary.LittleEndian.Uint32(message[4:]), clock: binary.LittleEndian.Uint64(message[8:]),
		samples: message[frameHeader:],
	}
	if f.width() == 0 {
		return pcmFrame{}, fmt.Errorf("samples of kind %d: there are 1, float32, and 2, int16", f.kind)
	}
	if f.count < 1 || f.count > frameSamples || len(f.samples) != f.count*f.width() {
		return pcmFrame{}, fmt.Errorf("a frame that says it holds %d samples and has %d bytes of them", f.count, len(f.samples))
	}
	if f.clock > math.MaxInt64/2 {
		return pcmFrame{}, errors.New("a sample clock that no capture can reach")
	}
	return f, nil
}

// width is the bytes a sample has; 0 for an unknown kind.
func (f pcmFrame) width() int {
	switch f.kind {
	case frameFloat32:
		return 4
	case frameInt16:
		return 2
	}
	return 0
}

// decode writes the samples to dst, which must be f.count long.
func (f pcmFrame) decode(dst []float64) error {
	if f.kind == frameInt16 {
		for i := range dst {
			dst[i] = float64(int16(binary.LittleEndian.Uint16(f.samples[2*i:]))) / 32768
		}
		return nil
	}
	for i := range dst {
		x := float64(math.Float32frombits(binary.LittleEndian.Uint32(f.samples[4*i:])))
		if !(math.Abs(x) <= loudest) {
			return fmt.Errorf("a sample of %v: that is no sound", x)
		}
		dst[i] = x
	}
	return nil
}

// readMessage reads one message into buffer, which is longer than any may be,
// and returns the part it fills.
func readMessage(r io.Reader, buffer []byte) ([]byte, error) {
	n, err := io.ReadFull(r, buffer)
	if err == io.ErrUnexpectedEOF || err == io.EOF {
		err = nil
	}
	return buffer[:n], err
}
