package wav

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
)

// unknown stands for a size nobody filled in: go on to the end of the file.
const unknown = int64(-1)

// ds64 holds the 64-bit sizes of an RF64 or BW64 file.
type ds64 struct {
	data  int64
	other map[string]int64
}

// dataSize turns the 32-bit size of a data chunk into bytes, or unknown. 0,
// 0xFFFFFFFF and the last 8 KiB below 2^31 and 2^32 are what programs write
// into a pipe, where they cannot come back to fill it in (seen: 0, 0xFFFFFFFF,
// 0x7FFFF000 and that rounded down to whole frames).
func dataSize(size uint32) int64 {
	if size == 0 || size>>13 == 0x3FFFF || size>>13 == 0x7FFFF {
		return unknown
	}
	return int64(size)
}

// begin reads the head of the file and reports whether it is a 64-bit form.
func begin(src *bufio.Reader) (wide bool, err error) {
	var head [12]byte
	n, err := io.ReadFull(src, head[:])
	switch {
	case n == 0 && err == io.EOF:
		return false, errors.New("the file is empty")
	case err != nil && !short(err):
		return false, err
	}
	form := string(head[:min(n, 4)])
	switch form {
	case "RIFF", "RF64", "BW64":
	case "RIFX":
		return false, errors.New("big-endian WAV (RIFX) isn't supported: save it as an ordinary WAV")
	default:
		return false, errors.New("not a WAV file")
	}
	if n < len(head) {
		return false, errors.New("the file is cut short inside its header")
	}
	if string(head[8:]) != "WAVE" {
		return false, errors.New("not a WAV file: a RIFF file of another kind")
	}
	return form != "RIFF", nil
}

// nextChunk reads a chunk's header. It returns io.EOF where no whole header is
// left: files often end in a few stray bytes.
func nextChunk(src *bufio.Reader) (id string, size uint32, err error) {
	var head [8]byte
	if _, err := io.ReadFull(src, head[:]); err != nil {
		if short(err) {
			err = io.EOF
		}
		return "", 0, err
	}
	return string(head[:4]), binary.LittleEndian.Uint32(head[4:]), nil
}

// body reads up to limit bytes of a chunk and skips the rest of it and its pad
// byte. A chunk that ends early gives what is there.
func body(src *bufio.Reader, size int64, limit int) ([]byte, error) {
	b := make([]byte, min(size, int64(limit)))
	n, err := io.ReadFull(src, b)
	if err != nil {
		if short(err) {
			err = nil
		}
		return b[:n], err
	}
	_, err = io.CopyN(io.Discard, src, size-int64(n))
	if err == nil {
		err = skipPad(src, size)
	}
	if short(err) {
		err = nil
	}
	return b, err
}

// skipPad skips the byte that follows a chunk of odd size. Some programs leave
// it out: then a chunk's name stands there, four printable characters.
func skipPad(src *bufio.Reader, size int64) error {
	if size%2 == 0 {
		return nil
	}
	next, _ := src.Peek(4)
	if len(next) == 4 && printable(next) {
		return nil
	}
	_, err := src.Discard(1)
	return err
}

func printable(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

func short(err error) bool { return err == io.EOF || err == io.ErrUnexpectedEOF }

// parseDS64 reads the body of a ds64 chunk: RIFF size, data size and sample
// count of 64 bits each, then a table of (name, size).
func parseDS64(b []byte) (ds64, error) {
	if len(b) < 24 {
		return ds64{}, errors.New("the ds64 chunk is cut short")
	}
	le := binary.LittleEndian
	d := ds64{data: int64(le.Uint64(b[8:])), other: map[string]int64{}}
	if d.data <= 0 {
		d.data = unknown
	}
	if len(b) < 28 {
		return d, nil
	}
	for row := b[28:]; len(row) >= 12 && len(d.other) < int(le.Uint32(b[24:])); row = row[12:] {
		if size := int64(le.Uint64(row[4:])); size >= 0 {
			d.other[string(row[:4])] = size
		}
	}
	return d, nil
}
