package audio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio/wav"
)

var _ listen.Source = (*Recording)(nil)

// The sample rates the ear takes. Below, the partials of small objects are not
// in the sound; above, no microphone of a player's is.
const (
	MinRate = 8000   // Hz
	MaxRate = 192000 // Hz
)

// freeBlock is how many frames a recording gives at a time where nobody waits.
const freeBlock = 4096

// RecordingOptions says how a recording is played to the ear.
type RecordingOptions struct {
	Channel int  // counted from 1; 0: the loudest, see OpenRecording
	Paced   bool // as if it were live; else as fast as it is asked for
	Loop    bool // begin again at the end, for ever

	clock clock // nil: the real one
}

// decoder is a sound file being read. Its methods are those of wav.Reader.
type decoder interface {
	Format() wav.Format
	Frames() int64
	Read(dst []float64) (int, error)
	Depth() int
	NonFinite() int64
}

// Recording is a sound file as a listen.Source.
//
// A file that is damaged or cut short gives the sound there is; then Next says
// what is wrong, or, if it is paced or loops, goes on as if nothing were and
// Fault says it.
type Recording struct {
	path   string
	file   *os.File
	dec    decoder
	o      RecordingOptions
	pace   *pace
	survey survey
	notes  []string

	frames []float64 // channels side by side
	block  []float64
	next   int64
	passed int64 // Start of the present time through a loop
	fault  error
	done   error
}

// OpenRecording opens a WAV or FLAC file, told apart by content, not by name.
//
// One channel is heard: mixing two microphones would comb the partials. If none
// is asked for it is the one with the most sound in the first 30 s (power
// without the mean), the first of those within 1 dB of it. Where the file
// cannot be read twice (a named pipe), it is the first.
//
// Every error is one line that begins with the path and names the fault; it is
// listen.ErrPermanent.
func OpenRecording(path string, o RecordingOptions) (*Recording, error) {
	r := &Recording{path: path, o: o}
	if err := r.open(); err != nil {
		if r.file != nil {
			r.file.Close()
		}
		return nil, permanent{r.named(err)}
	}
	return r, nil
}

// named puts the path before an error, once.
func (r *Recording) named(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return fmt.Errorf("%s: %w", r.path, err)
}

func (r *Recording) open() (err error) {
	if r.file, err = os.Open(r.path); err != nil {
		return err
	}
	info, err := r.file.Stat()
	switch {
	case err != nil:
		return err
	case info.IsDir():
		return errors.New("is a folder, not a recording")
	case !info.Mode().IsRegular() && r.o.Loop:
		return errors.New("is no ordinary file and cannot be played again and again")
	}
	if err := r.begin(); err != nil {
		return err
	}
	f := r.dec.Format()
	if f.Rate < MinRate || f.Rate > MaxRate {
		return fmt.Errorf("its sample rate is %d Hz: %d to %d kHz can be heard; convert it first", f.Rate, MinRate/1000, MaxRate/1000)
	}
	if r.o.Channel < 0 || r.o.Channel > f.Channels {
		return fmt.Errorf("there is no channel %d: it has %d", r.o.Channel, f.Channels)
	}
	if info.Mode().IsRegular() {
		if r.survey, err = surveyed(r.dec); err != nil {
			return err
		}
		if _, err := r.file.Seek(0, io.SeekStart); err != nil {
			return err
		}
		if err := r.begin(); err != nil {
			return err
		}
	}
	r.chooseChannel(f)

	n := freeBlock
	if r.o.Paced {
		r.pace = newPace(r.o.clock, r.Rate())
		n = beat(r.Rate())
	}
	r.frames = make([]float64, n*f.Channels)
	r.block = make([]float64, n)
	return nil
}

// begin makes a decoder at the file's present position.
func (r *Recording) begin() (err error) {
	src, kind, err := sniff(r.file)
	if err != nil {
		return err
	}
	switch kind {
	case "wav":
		r.dec, err = wav.NewReader(src)
	case "flac":
		r.dec, err = newFLACReader(src)
	default:
		err = fmt.Errorf("is %s: save it as WAV or FLAC", kind)
	}
	return err
}

func (r *Recording) chooseChannel(f wav.Format) {
	if r.o.Channel > 0 {
		return
	}
	r.o.Channel = 1
	if f.Channels == 1 {
		return
	}
	if len(r.survey.power) > 0 {
		r.o.Channel = 1 + r.survey.loudest()
	}
	r.notes = append(r.notes, fmt.Sprintf("channel %d of %d is heard", r.o.Channel, f.Channels))
}

// Name is the file's name without its folder.
func (r *Recording) Name() string { return filepath.Base(r.path) }

// Rate is the file's sample rate.
func (r *Recording) Rate() analysis.Rate { return analysis.Rate(r.dec.Format().Rate) }

// Live is true if it is paced.
func (r *Recording) Live() bool { return r.o.Paced }

// Format says how the file stores its samples.
func (r *Recording) Format() wav.Format { return r.dec.Format() }

// Channel is the channel that is heard, counted from 1.
func (r *Recording) Channel() int { return r.o.Channel }

// Depth is how many bits the samples really use in the first 30 s, 0 if that
// cannot be said. A 16-bit recording saved as 24 bit has a depth of 16.
func (r *Recording) Depth() int { return r.survey.depth }

// LSB is the quantisation step of the samples, full scale 1, by their true
// depth; 0 for float samples that have none.
func (r *Recording) LSB() float64 {
	// A handful of bits is no recording but a square wave or a test pattern,
	// which says nothing of the converter's step.
	if d := r.survey.depth; d >= 8 {
		return math.Ldexp(1, 1-d)
	}
	return r.dec.Format().LSB()
}

// Notes says in whole phrases what a user may want to know of how the file was
// read. After the end it is complete.
func (r *Recording) Notes() []string {
	notes := append([]string(nil), r.notes...)
	if n := r.dec.NonFinite(); n > 0 {
		notes = append(notes, fmt.Sprintf("%d samples are no numbers and were heard as silence", n))
	}
	return notes
}

// Fault is what is wrong with the file, once it was met; nil if nothing is.
func (r *Recording) Fault() error { return r.fault }

// Next returns the next block: 4096 samples, or 10 ms of them if it is paced.
func (r *Recording) Next(ctx context.Context) (analysis.Block, error) {
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	if r.done != nil {
		return analysis.Block{}, r.done
	}
	// Time first, then sound: a caller who gives up while waiting loses none.
	if r.pace != nil {
		if err := r.pace.until(ctx, r.next+int64(len(r.block))); err != nil {
			return analysis.Block{}, err
		}
	}
	n, err := r.dec.Read(r.frames)
	if err != nil {
		if n, err = r.end(err); err != nil {
			r.done = err
			return analysis.Block{}, err
		}
	}
	ch := r.dec.Format().Channels
	b := r.block[:n]
	for i := range b {
		b[i] = r.frames[i*ch+r.o.Channel-1]
	}
	block := analysis.Block{Start: r.next, Samples: b}
	r.next += int64(n)
	return block, nil
}

// end is called when the decoder has no more sound. In a loop it begins again.
func (r *Recording) end(err error) (int, error) {
	if err != io.EOF {
		r.fault = r.named(err)
	}
	if r.o.Loop && r.next > r.passed {
		r.passed = r.next
		if _, err := r.file.Seek(0, io.SeekStart); err != nil {
			return 0, r.named(err)
		}
		if err := r.begin(); err != nil {
			return 0, r.named(err)
		}
		return r.dec.Read(r.frames)
	}
	if r.fault != nil && !r.o.Paced && !r.o.Loop {
		return 0, r.fault
	}
	return 0, io.EOF
}

// Close closes the file.
func (r *Recording) Close() error {
	r.done = io.EOF
	if r.file == nil {
		return nil
	}
	err := r.file.Close()
	r.file = nil
	return err
}
