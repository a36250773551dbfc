package wav

import (
	"bufio"
	"errors"
	"fmt"
	"io"
)

// maxFormat is the largest fmt chunk believed in; the standard ones have 16, 18
// or 40 bytes.
const maxFormat = 1 << 16

// readBytes is how much sound is decoded at a time.
const readBytes = 1 << 15

// Reader reads sound from a WAV file as it comes, without going back.
type Reader struct {
	src  *bufio.Reader
	dec  *Decoder
	buf  []byte
	wide ds64

	stated int64 // bytes of sound by the header, or unknown
	left   int64 // of them not yet read, or unknown
	frames int64 // read so far
	done   error // what Read returns from now on

	note *Note
	cues []Cue
}

// NewReader reads from src up to where the sound begins. Its errors say what is
// wrong with the file; those of src itself come through.
func NewReader(src io.Reader) (*Reader, error) {
	r := &Reader{src: bufio.NewReaderSize(src, readBytes), stated: unknown, wide: ds64{data: unknown}}
	wide, err := begin(r.src)
	if err != nil {
		return nil, err
	}
	for {
		id, size, err := nextChunk(r.src)
		switch {
		case err == io.EOF && r.dec == nil:
			return nil, errors.New("the format chunk is missing")
		case err == io.EOF:
			return nil, errors.New("the data chunk is missing")
		case err != nil:
			return nil, err
		}
		if id == "data" {
			if r.dec == nil {
				return nil, errors.New("the format chunk is missing: the sound comes before it")
			}
			return r, r.startData(size, wide)
		}
		if err := r.chunk(id, size, wide); err != nil {
			return nil, err
		}
	}
}

// startData prepares to read the sound.
func (r *Reader) startData(size uint32, wide bool) error {
	r.stated = dataSize(size)
	if wide && size == 0xFFFFFFFF {
		r.stated = r.wide.data
	}
	// A size of 0 with a chunk known to follow sound is no pipe but an empty
	// recording.
	if size == 0 {
		if next, _ := r.src.Peek(4); len(next) == 4 && follows(string(next)) {
			r.stated = 0
		}
	}
	r.left = r.stated
	frame := r.dec.f.FrameBytes()
	r.buf = make([]byte, max(1, readBytes/frame)*frame)
	return nil
}

// follows reports whether id names a chunk commonly found after the sound.
func follows(id string) bool {
	switch id {
	case "LIST", "smpl", "cue ", "fact", "inst", "bext", "id3 ", "ID3 ", "JUNK", "PAD ", "acid", "afsp", "axml", "iXML", "chna", "PEAK":
		return true
	}
	return false
}

// chunk reads a chunk that is not sound.
func (r *Reader) chunk(id string, size32 uint32, wide bool) error {
	size := int64(size32)
	if full, ok := r.wide.other[id]; ok && wide && size32 == 0xFFFFFFFF {
		size = full
	}
	if id == "fmt " && size > maxFormat {
		return fmt.Errorf("the format chunk is damaged: it states %d bytes", size)
	}
	b, err := body(r.src, size, maxMeta)
	if err != nil {
		return err
	}
	switch id {
	case "fmt ":
		if r.dec != nil {
			return nil // the first one counts
		}
		f, err := parseFormat(b)
		if err != nil {
			return err
		}
		r.dec = &Decoder{f: f}
	case "ds64":
		r.wide, err = parseDS64(b)
		return err
	case "smpl":
		if n := parseSmpl(b); n != nil {
			r.note = n
		}
	case "cue ":
		r.cues = parseCues(b)
	}
	return nil
}

// Format returns how the samples are stored.
func (r *Reader) Format() Format { return r.dec.f }

// Depth returns how many bits the samples read so far use: see Decoder.Depth.
func (r *Reader) Depth() int { return r.dec.Depth() }

// NonFinite returns how many samples read so far were no numbers: see
// Decoder.NonFinite.
func (r *Reader) NonFinite() int64 { return r.dec.NonFinite() }

// Frames returns how many frames the header states, or -1 if it does not. The
// file may hold fewer.
func (r *Reader) Frames() int64 {
	if r.stated == unknown {
		return -1
	}
	return r.stated / int64(r.dec.f.FrameBytes())
}

// Note returns the pitch the file states, or nil. Cues returns its marks. Both
// may stand after the sound: they are complete once Read has returned io.EOF.
func (r *Reader) Note() *Note { return r.note }

// Cues returns the marks of the file: see Note.
func (r *Reader) Cues() []Cue { return r.cues }

// CutShort is the error of a file that ends before all the sound its header
// states. It is io.ErrUnexpectedEOF to errors.Is.
type CutShort struct{ Stated, Have int64 } // frames

func (e *CutShort) Error() string {
	return fmt.Sprintf("the file is cut short: its header promises %d frames, it holds %d", e.Stated, e.Have)
}

func (e *CutShort) Unwrap() error { return io.ErrUnexpectedEOF }

// Read fills dst with frames, samples of the channels side by side, and returns
// how many frames. len(dst) must be a multiple of the channels and not 0. At
// the end it returns 0 and io.EOF; where sound is missing that the header
// states, 0 and a *CutShort, after all there is. It never returns frames and an error at once.
func (r *Reader) Read(dst []float64) (int, error) {
	ch := r.dec.f.Channels
	if len(dst) == 0 || len(dst)%ch != 0 {
		panic(fmt.Sprintf("wav: Read: room for %d samples, not for whole frames of %d channels", len(dst), ch))
	}
	if r.done != nil {
		return 0, r.done
	}
	frame := r.dec.f.FrameBytes()
	want := min(len(dst)/ch*frame, len(r.buf))
	if r.left != unknown {
		want = int(min(int64(want), r.left/int64(frame)*int64(frame)))
	}
	n, err := 0, error(nil)
	if want > 0 {
		n, err = io.ReadFull(r.src, r.buf[:want])
	}
	if err != nil && !short(err) {
		r.done = err
	} else if n < want || want == 0 {
		r.done = r.finish(n)
	}
	if r.left != unknown {
		r.left -= int64(n)
	}
	n = n / frame * frame
	if n == 0 {
		if r.done == nil {
			r.done = io.EOF
		}
		return 0, r.done
	}
	r.dec.Decode(dst, r.buf[:n])
	r.frames += int64(n / frame)
	return n / frame, nil
}

// finish is called where the sound ends, n bytes into what was asked for last.
func (r *Reader) finish(n int) error {
	if r.left == unknown {
		return io.EOF
	}
	if have := r.frames + int64(n/r.dec.f.FrameBytes()); have < r.Frames() {
		return &CutShort{Stated: r.Frames(), Have: have}
	}
	// Step over half a frame at the end, if there is one, then look at what
	// follows. Nothing there can spoil the sound, so errors are not told.
	if _, err := io.CopyN(io.Discard, r.src, r.left-int64(n)); err == nil {
		r.tail()
	}
	return io.EOF
}

// tail reads the chunks after the sound.
func (r *Reader) tail() {
	if skipPad(r.src, r.stated) != nil {
		return
	}
	for {
		id, size, err := nextChunk(r.src)
		if err != nil || r.chunk(id, size, false) != nil {
			return
		}
	}
}
