package audio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio/wav"
)

var _ listen.Source = (*Stdin)(nil)

// StdinOptions says what the bare samples on standard input are. They are
// little-endian, channels side by side.
type StdinOptions struct {
	Rate     analysis.Rate // frames a second, 8 to 192 kHz, whole
	Channels int           // 0: 1
	Channel  int           // the one that is heard, counted from 1; 0: the first
	Float    bool          // 32-bit float, full scale ±1; else 16-bit signed integers
}

// Stdin is bare PCM from a pipe as a listen.Source. What comes in is read at
// once, by a goroutine, into a few blocks; when those are full the pipe waits,
// so that nothing is lost here.
type Stdin struct {
	rate analysis.Rate
	live bool
	lsb  float64

	full, free chan piece
	stop       chan struct{}
	timer      *time.Timer
	held       piece // what the last block was made of
	next       int64
	done       error
}

// piece is a run of samples on its way from the reading goroutine to Next.
type piece struct {
	samples []float64
	n       int
	err     error // nothing comes after it
}

// NewStdin starts to read r, as a rule os.Stdin. The error says which option is
// impossible. What goes wrong with r later is listen.ErrPermanent: nobody can
// open it again. Closing the Stdin does not close r, and a Read of r that waits
// for sound ends only when some comes.
func NewStdin(r io.Reader, o StdinOptions) (*Stdin, error) {
	if o.Channels == 0 {
		o.Channels = 1
	}
	if o.Channel == 0 {
		o.Channel = 1
	}
	f := wav.Format{Rate: int(o.Rate), Channels: o.Channels, Bits: 16}
	if o.Float {
		f.Bits, f.Float = 32, true
	}
	switch {
	case o.Rate != analysis.Rate(f.Rate) || f.Rate < MinRate || f.Rate > MaxRate:
		return nil, fmt.Errorf("standard input: a sample rate of %v Hz: whole ones of %d to %d Hz can be heard", float64(o.Rate), MinRate, MaxRate)
	case o.Channels < 1 || o.Channels > wav.MaxChannels:
		return nil, fmt.Errorf("standard input: %d channels: 1 to %d can be read", o.Channels, wav.MaxChannels)
	case o.Channel < 1 || o.Channel > o.Channels:
		return nil, fmt.Errorf("standard input: there is no channel %d of %d", o.Channel, o.Channels)
	}
	dec, err := wav.NewDecoder(f)
	if err != nil {
		return nil, fmt.Errorf("standard input: %w", err)
	}
	s := &Stdin{
		rate: o.Rate,
		live: !regular(r),
		lsb:  f.LSB(),
		full: make(chan piece, queued),
		free: make(chan piece, queued),
		stop: make(chan struct{}),
	}
	for range queued {
		s.free <- piece{samples: make([]float64, freeBlock)}
	}
	go s.read(r, dec, o.Channel-1)
	return s, nil
}

// regular reports whether r is an ordinary file: then its sound does not come
// in at its own pace.
func regular(r io.Reader) bool {
	f, ok := r.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode().IsRegular()
}

// read runs until r ends or the source is closed.
func (s *Stdin) read(r io.Reader, dec *wav.Decoder, channel int) {
	f := dec.Format()
	raw := make([]byte, freeBlock*f.FrameBytes())
	frames := make([]float64, freeBlock*f.Channels)
	have, first := 0, true
	for {
		var p piece
		select {
		case p = <-s.free:
		case <-s.stop:
			return
		}
		// At least one whole frame; more only if it is there.
		need := f.FrameBytes() - have
		if first {
			need = max(need, len("RIFF"))
		}
		n, err := io.ReadAtLeast(r, raw[have:], need)
		have += n
		if first && err == nil {
			if err = bare(raw[:len("RIFF")]); err != nil {
				have = 0
			}
		}
		first = false
		p.n = have / f.FrameBytes()
		used := p.n * f.FrameBytes()
		dec.Decode(frames, raw[:used])
		for i := range p.n {
			p.samples[i] = frames[i*f.Channels+channel]
		}
		have = copy(raw, raw[used:have])
		switch {
		case err == io.ErrUnexpectedEOF:
			p.err = io.EOF // half a frame at the end is none
		case err == io.EOF:
			p.err = err
		case err != nil:
			p.err = permanent{fmt.Errorf("standard input: %w", err)}
		}
		s.full <- p // there are no more pieces than there is room for
		if err != nil {
			return
		}
	}
}

// bare refuses what is clearly a file and not samples.
func bare(head []byte) error {
	switch string(head) {
	case "RIFF", "RF64", "BW64", "fLaC":
		return errors.New("a whole WAV or FLAC file came in, not bare samples: open it as a recording, by its name")
	}
	return nil
}

// Name is "standard input".
func (s *Stdin) Name() string { return "standard input" }

// Rate is the rate that was given.
func (s *Stdin) Rate() analysis.Rate { return s.rate }

// Live is true unless standard input is an ordinary file.
func (s *Stdin) Live() bool { return s.live }

// LSB is the quantisation step of the samples, full scale 1, or 0 for float.
func (s *Stdin) LSB() float64 { return s.lsb }

// Next returns what came in since the last call, at most 4096 samples.
func (s *Stdin) Next(ctx context.Context) (analysis.Block, error) {
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	if s.done != nil {
		return analysis.Block{}, s.done
	}
	if s.held.samples != nil {
		s.free <- s.held
		s.held = piece{}
	}
	if s.timer == nil {
		s.timer = time.NewTimer(idle)
	} else {
		s.timer.Reset(idle)
	}
	defer s.timer.Stop()
	select {
	case p := <-s.full:
		s.done = p.err
		if p.n == 0 {
			return analysis.Block{}, p.err
		}
		s.held = piece{samples: p.samples}
		b := analysis.Block{Start: s.next, Samples: p.samples[:p.n]}
		s.next += int64(p.n)
		return b, nil
	case <-s.timer.C:
		return analysis.Block{Start: s.next}, nil
	case <-ctx.Done():
		return analysis.Block{}, ctx.Err()
	}
}

// Close stops listening. See NewStdin.
func (s *Stdin) Close() error {
	select {
	case <-s.stop:
	default:
		close(s.stop)
	}
	s.done = io.EOF
	return nil
}
