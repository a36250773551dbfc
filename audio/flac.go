package audio

import (
	"bufio"
	"crypto/md5"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"
	"math/bits"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"

	"ringwell/audio/wav"
)

// flacReader reads a FLAC stream (RFC 9639) frame by frame and checks it as it
// goes: each frame against its CRC, the whole against the sample count and the
// MD5 sum in STREAMINFO, where those are given.
type flacReader struct {
	s    *flac.Stream
	f    wav.Format
	bits uint
	full float64 // full scale of the integers

	frame *frame.Frame // being handed out, from sample at on
	at    int

	frames int64
	used   uint32
	sum    hash.Hash
	packed []byte
	done   error
}

// newFLACReader reads the head of the stream.
func newFLACReader(src io.Reader) (r *flacReader, err error) {
	defer guardFLAC(&err)
	s, err := flac.New(bufio.NewReaderSize(src, 1<<16))
	if err != nil {
		return nil, flacFault(err)
	}
	info := s.Info
	r = &flacReader{
		s:    s,
		bits: uint(info.BitsPerSample),
		full: math.Ldexp(1, int(info.BitsPerSample)-1),
		sum:  md5.New(),
	}
	r.f = wav.Format{
		Rate:     int(info.SampleRate),
		Channels: int(info.NChannels),
		Bits:     int(r.bits+7) / 8 * 8,
		Valid:    int(r.bits),
	}
	if r.f.Valid == r.f.Bits {
		r.f.Valid = 0
	}
	return r, r.f.Check()
}

// guardFLAC turns a panic of the decoder into an error. The library is sound on
// good files, but its fuzzing is not ours to vouch for, and a broken file must
// not end the program.
func guardFLAC(err *error) {
	if p := recover(); p != nil {
		*err = errors.New("the FLAC data is damaged")
	}
}

// errFLACCut is a stream that ends in the middle of something.
var errFLACCut = errors.New("the file is cut short")

// flacFault puts the decoder's complaint into a sentence about the file.
func flacFault(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errFLACCut
	}
	return fmt.Errorf("the FLAC data is damaged: %w", err)
}

func (r *flacReader) Format() wav.Format { return r.f }

// Frames returns how many frames the stream states, or -1.
func (r *flacReader) Frames() int64 {
	if r.s.Info.NSamples == 0 {
		return -1
	}
	return int64(r.s.Info.NSamples)
}

func (r *flacReader) NonFinite() int64 { return 0 }

// Depth returns how many bits the samples so far use, 0 if all were silence.
func (r *flacReader) Depth() int {
	if r.used == 0 {
		return 0
	}
	return 32 - bits.TrailingZeros32(r.used)
}

// Read has the contract of wav.Reader.Read.
func (r *flacReader) Read(dst []float64) (int, error) {
	ch := r.f.Channels
	n := 0
	for n < len(dst)/ch && r.done == nil {
		if r.frame == nil || r.at == len(r.frame.Subframes[0].Samples) {
			r.at = 0
			if r.frame, r.done = r.next(); r.done != nil {
				break
			}
		}
		take := min(len(dst)/ch-n, len(r.frame.Subframes[0].Samples)-r.at)
		for c, sub := range r.frame.Subframes {
			for i, v := range sub.Samples[r.at : r.at+take] {
				dst[(n+i)*ch+c] = float64(v) / r.full
				r.used |= uint32(v) << (32 - r.bits)
			}
		}
		r.at += take
		n += take
	}
	if n == 0 {
		return 0, r.done
	}
	return n, nil
}

// next decodes a frame. At the end of the stream it returns io.EOF, or how the
// stream differs from what it states.
func (r *flacReader) next() (f *frame.Frame, err error) {
	defer guardFLAC(&err)
	f, err = r.s.Next()
	// All that was promised is here: what follows is a tag of some other format,
	// not damage.
	if err == io.EOF || err != nil && r.frames == r.Frames() {
		return nil, r.finish()
	}
	if err == nil {
		if f.BitsPerSample == 0 { // "as in STREAMINFO"
			f.BitsPerSample = uint8(r.bits)
		}
		if f.Channels.Count() != r.f.Channels || uint(f.BitsPerSample) != r.bits {
			return nil, fmt.Errorf("the FLAC data is damaged: its format changes after %d samples", r.frames)
		}
		err = f.Parse()
	}
	if err != nil {
		err = flacFault(err)
		if err == errFLACCut && r.Frames() > 0 {
			return nil, &wav.CutShort{Stated: r.Frames(), Have: r.frames}
		}
		return nil, err
	}
	n := len(f.Subframes[0].Samples)
	for _, sub := range f.Subframes {
		if len(sub.Samples) != n {
			return nil, fmt.Errorf("the FLAC data is damaged after %d samples", r.frames)
		}
	}
	r.frames += int64(n)
	r.hash(f)
	return f, nil
}

// hash adds a frame to the MD5 sum: samples of the channels side by side, signed,
// little-endian, in as many bytes as they need (RFC 9639, section 8.2).
func (r *flacReader) hash(f *frame.Frame) {
	size := r.f.Bits / 8
	r.packed = r.packed[:0]
	for i := range f.Subframes[0].Samples {
		for _, sub := range f.Subframes {
			v := sub.Samples[i]
			for b := range size {
				r.packed = append(r.packed, byte(v>>(8*b)))
			}
		}
	}
	r.sum.Write(r.packed)
}

func (r *flacReader) finish() error {
	switch want := r.Frames(); {
	case want < 0 || want == r.frames:
	case want > r.frames:
		return &wav.CutShort{Stated: want, Have: r.frames}
	default:
		return fmt.Errorf("the header promises %d frames, the file holds %d", want, r.frames)
	}
	if want := r.s.Info.MD5sum; want != [md5.Size]byte{} && want != [md5.Size]byte(r.sum.Sum(nil)) {
		return errors.New("the sound is not what the file was made from: its MD5 sum differs")
	}
	return io.EOF
}
