package audio

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"
)

// The pipe between the capture child and the daemon. All numbers are
// little-endian. It starts with pipeMagic, eight bytes, the last of which is
// the version; then come records:
//
//	byte 0     kind: 'H' hello, 'S' sound, 'B' beat, 'W' word
//	byte 1     flags of a sound record (PipeOverflow, PipeUnderflow)
//	bytes 2-3  zero
//	bytes 4-7  length of what follows
//
// Hello and word are JSON. A beat is empty: the child lives, the device gives
// nothing. Sound is, in this order: index of the first sample (int64), samples
// lost just before it (int64), when its last sample entered the callback
// (int64, nanoseconds of Unix time), samples (float32, full scale at ±1).
//
// The child is started from the same file as the daemon, so the version only
// differs when that file was replaced under a running daemon. That happens: it
// is what an upgrade does.
const (
	pipeMagic   = "RWSOUND\x01"
	pipeHead    = 8
	soundHead   = 24
	MaxRecord   = 4096 // samples in one sound record
	maxWords    = 16 << 10
	kindHello   = 'H'
	kindSound   = 'S'
	kindBeat    = 'B'
	kindWord    = 'W'
	minPipeRate = 1e3
	maxPipeRate = 1e6
)

// Flags of a sound record, as the host told them.
const (
	PipeOverflow  = 1 << iota // sound before this record was thrown away
	PipeUnderflow             // silence was put in where sound was missing
)

// Hello is what the child says of the device once it runs.
type Hello struct {
	Rate     float64 `json:"rate_hz"`
	Channels int     `json:"channels"` // opened
	Channel  int     `json:"channel"`  // taken, counted from 1
	Device   string  `json:"device"`
	Host     string  `json:"host"`      // host API: ALSA, Core Audio, ...
	Latency  float64 `json:"latency_s"` // of the input, as the host states it
}

// Word is the last thing a child says: why it cannot go on.
type Word struct {
	Code string `json:"code"` // WordNoInput or WordFault
	Text string `json:"text"` // for people: what happened and what to do
}

// The codes of Word.
const (
	WordNoInput = "no-input"
	WordFault   = "fault"
)

// Sound is a run of samples as it crosses the pipe.
type Sound struct {
	Start   int64
	Lost    int64 // just before Start; Start counts them
	Flags   byte
	Entered time.Time // when its last sample entered the callback
	Samples []float32
}

// PipeWriter writes the child's side of the pipe. Sound and Beat allocate
// nothing. It is for one goroutine.
type PipeWriter struct {
	w   io.Writer
	buf []byte
}

// NewPipeWriter starts the pipe on w, which need not be buffered: each record
// is one Write.
func NewPipeWriter(w io.Writer) (*PipeWriter, error) {
	if _, err := io.WriteString(w, pipeMagic); err != nil {
		return nil, fmt.Errorf("audio: start the capture pipe: %w", err)
	}
	return &PipeWriter{w: w, buf: make([]byte, pipeHead+soundHead+4*MaxRecord)}, nil
}

// Hello must be the first record.
func (p *PipeWriter) Hello(h Hello) error { return p.words(kindHello, h) }

// Word says why the child ends.
func (p *PipeWriter) Word(w Word) error { return p.words(kindWord, w) }

// Beat says that the child lives.
func (p *PipeWriter) Beat() error { return p.send(kindBeat, 0, 0) }

// Sound writes 1 to MaxRecord samples.
func (p *PipeWriter) Sound(s Sound) error {
	if len(s.Samples) < 1 || len(s.Samples) > MaxRecord {
		panic(fmt.Sprintf("audio: PipeWriter.Sound: %d samples, want 1 to %d", len(s.Samples), MaxRecord))
	}
	b := p.buf[pipeHead:]
	binary.LittleEndian.PutUint64(b, uint64(s.Start))
	binary.LittleEndian.PutUint64(b[8:], uint64(s.Lost))
	binary.LittleEndian.PutUint64(b[16:], uint64(s.Entered.UnixNano()))
	for i, v := range s.Samples {
		binary.LittleEndian.PutUint32(b[soundHead+4*i:], math.Float32bits(v))
	}
	return p.send(kindSound, s.Flags, soundHead+4*len(s.Samples))
}

func (p *PipeWriter) words(kind byte, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("audio: capture pipe: %w", err)
	}
	if len(b) > maxWords { // a host may call its device anything
		return fmt.Errorf("audio: capture pipe: %d bytes of words, at most %d", len(b), maxWords)
	}
	copy(p.buf[pipeHead:], b)
	return p.send(kind, 0, len(b))
}

func (p *PipeWriter) send(kind, flags byte, n int) error {
	p.buf[0], p.buf[1], p.buf[2], p.buf[3] = kind, flags, 0, 0
	binary.LittleEndian.PutUint32(p.buf[4:], uint32(n))
	if _, err := p.w.Write(p.buf[:pipeHead+n]); err != nil {
		return fmt.Errorf("audio: capture pipe: %w", err)
	}
	return nil
}

// errOtherVersion is what NewPipeReader says of a pipe that is not ours.
var errOtherVersion = errors.New("the capture process speaks another version: ringwell was replaced while it ran; start it again")

// PipeReader reads the daemon's side of the pipe. Whatever comes down the pipe,
// it ends in a record or an error, and holds no more than one record.
type PipeReader struct {
	r    *bufio.Reader
	buf  []byte
	next int64 // where the next sample must stand
}

// NewPipeReader checks the start of the pipe.
func NewPipeReader(r io.Reader) (*PipeReader, error) {
	p := &PipeReader{r: bufio.NewReaderSize(r, 32<<10), buf: make([]byte, soundHead+4*MaxRecord)}
	got := p.buf[:len(pipeMagic)]
	if _, err := io.ReadFull(p.r, got); err != nil {
		return nil, err
	}
	if string(got) != pipeMagic {
		return nil, errOtherVersion
	}
	return p, nil
}

// Next reads one record. It returns a Hello, a Word, a *Sound (dst, filled) or
// nil for a beat. dst.Samples must have room for MaxRecord samples. A sample
// that is no number comes out as 0. The error is io.EOF where the pipe ends
// between two records.
func (p *PipeReader) Next(dst *Sound) (any, error) {
	head := p.buf[:pipeHead]
	if _, err := io.ReadFull(p.r, head); err != nil {
		return nil, err
	}
	kind, flags, n := head[0], head[1], binary.LittleEndian.Uint32(head[4:])
	limit := uint32(maxWords)
	if kind == kindSound {
		limit = soundHead + 4*MaxRecord
	}
	if n > limit || head[2] != 0 || head[3] != 0 {
		return nil, fmt.Errorf("audio: capture pipe: a record of kind %q and %d bytes makes no sense", kind, n)
	}
	b := p.buf[:n]
	if _, err := io.ReadFull(p.r, b); err != nil {
		return nil, noEOF(err)
	}
	switch kind {
	case kindBeat:
		if n == 0 {
			return nil, nil
		}
	case kindHello:
		var h Hello
		err := json.Unmarshal(b, &h)
		// Written so that NaN fails too.
		if err == nil && h.Rate >= minPipeRate && h.Rate <= maxPipeRate && h.Channel >= 1 && h.Channel <= h.Channels {
			return h, nil
		}
	case kindWord:
		var w Word
		if json.Unmarshal(b, &w) == nil && w.Text != "" {
			return w, nil
		}
	case kindSound:
		if n > soundHead && n%4 == 0 && p.sound(dst, flags, b) {
			return dst, nil
		}
	}
	return nil, fmt.Errorf("audio: capture pipe: a record of kind %q and %d bytes makes no sense", kind, n)
}

func (p *PipeReader) sound(dst *Sound, flags byte, b []byte) bool {
	dst.Start = int64(binary.LittleEndian.Uint64(b))
	dst.Lost = int64(binary.LittleEndian.Uint64(b[8:]))
	dst.Entered = time.Unix(0, int64(binary.LittleEndian.Uint64(b[16:])))
	dst.Flags = flags
	const far = math.MaxInt64 / 2 // no device lives long enough to pass it
	if dst.Lost < 0 || dst.Lost > far || dst.Start > far || dst.Start != p.next+dst.Lost {
		return false
	}
	b = b[soundHead:]
	dst.Samples = dst.Samples[:len(b)/4]
	for i := range dst.Samples {
		v := math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
		if v-v != 0 { // NaN or infinite
			v = 0
		}
		dst.Samples[i] = v
	}
	p.next = dst.Start + int64(len(dst.Samples))
	return true
}

// noEOF makes an end in the middle of a record an error.
func noEOF(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
