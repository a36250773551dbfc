package listen

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"ringwell/analysis"
)

// ErrPermanent marks an error of opening a source that trying again cannot
// mend (a file that is none, a name nobody has). Attend returns such an error
// at once; open wraps it with fmt.Errorf("...: %w", ErrPermanent).
var ErrPermanent = errors.New("trying again will not help")

const (
	silentSeconds = 2.0 // of exact zeros before the cable is suspected
	deafWaits     = 10  // empty answers of a source in a row: about a second
	roomSeconds   = 1.0
)

// Attend opens a source, runs an Ear over it and tells the audience what is
// heard, until the source ends (nil) or ctx does (ctx.Err()). A live source
// that breaks or cannot be opened is opened again, first at once, then after
// waits that grow to ten seconds. A recording that breaks, and an error that is
// ErrPermanent, end it with that error. Whatever was ringing when a source ends
// is told as final before.
//
// o.Source, o.ClockPPM, o.LSB and the rest are those of New; an empty o.Source
// is the source's own name, a zero o.Epoch for a live source the time at which
// its first block came less the block's length. c may be nil.
func Attend(ctx context.Context, open func(context.Context) (Source, error), o Options, c *Controls, a Audience) error {
	return attend(ctx, open, o, c, a, time.Now, pause)
}

// pause waits for d, or less if ctx ends.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}

// backOff returns how long to wait before the next try, after failures of them
// in a row.
func backOff(failures int) time.Duration {
	steps := [...]time.Duration{0, 500 * time.Millisecond, time.Second, 2 * time.Second, 5 * time.Second, 10 * time.Second}
	return steps[min(failures, len(steps)-1)]
}

func attend(ctx context.Context, open func(context.Context) (Source, error), o Options, c *Controls, a Audience,
	now func() time.Time, pause func(context.Context, time.Duration)) error {
	if c == nil {
		c = new(Controls)
	}
	s := &session{options: o, controls: c, audience: a, now: now, name: o.Source}
	for failures := 0; ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		if failures == 0 {
			s.state(State{Code: Opening, Source: s.name, Words: "Opening the input."})
		}
		source, err := open(ctx)
		if err == nil {
			var heard bool
			heard, err = s.attend(ctx, source)
			if err == io.EOF {
				return nil
			}
			if !source.Live() && err != nil {
				return err
			}
			if heard {
				failures = 0
			}
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if errors.Is(err, ErrPermanent) {
			s.state(State{Code: Deaf, Source: s.name, Words: sentence(err)})
			return err
		}
		wait := backOff(failures)
		failures++
		s.state(State{Code: Deaf, Source: s.name, Words: sentence(err) + " " + again(wait)})
		pause(ctx, wait)
	}
}

func again(wait time.Duration) string {
	if wait == 0 {
		return "Trying again now."
	}
	return fmt.Sprintf("Trying again in %v.", wait)
}

// sentence makes an error's words end like a sentence.
func sentence(err error) string {
	w := err.Error()
	if n := len(w); n > 0 && (w[n-1] == '.' || w[n-1] == '!') {
		return w
	}
	return w + "."
}

// session is the state of one Attend.
type session struct {
	options  Options
	controls *Controls
	audience Audience
	now      func() time.Time

	name   string // of the source, once known
	told   State
	ear    *Ear
	meter  meter
	roomed int64 // sample index at which the room was told last
}

// state tells a state unless it is what was told last.
func (s *session) state(t State) {
	if t != s.told {
		s.told = t
		s.audience.State(t)
	}
}

// attend listens to one source until it ends or breaks, closes it, and reports
// whether any sound came.
func (s *session) attend(ctx context.Context, source Source) (heard bool, err error) {
	defer source.Close()
	s.name = source.Name()
	s.ear = nil
	s.meter = newMeter(source.Rate())
	s.roomed = 0
	waits := 0
	for {
		b, err := source.Next(ctx)
		if err != nil {
			s.flush()
			if err == io.EOF {
				s.state(State{Code: Ended, Source: s.name, Rate: source.Rate(), Words: "The sound is over."})
			}
			return heard, err
		}
		if len(b.Samples) == 0 {
			if waits++; waits == deafWaits && source.Live() {
				s.state(State{Code: Deaf, Source: s.name, Rate: source.Rate(),
					Words: "No sound comes from " + s.name + ". Is it plugged in, and not held by another program?"})
			}
			continue
		}
		waits = 0
		if s.ear == nil {
			s.ear = s.newEar(source, b)
		}
		heard = true
		s.listen(source, b)
	}
}

func (s *session) newEar(source Source, first analysis.Block) *Ear {
	o := s.options
	if o.Source == "" {
		o.Source = source.Name()
	}
	if o.Epoch.IsZero() && source.Live() {
		end := first.Start + int64(len(first.Samples))
		o.Epoch = s.now().UTC().Add(-source.Rate().Duration(end))
	}
	if f, ok := source.(Fine); ok && o.LSB == 0 {
		o.LSB = f.LSB()
	}
	if c, ok := source.(Calibrated); ok {
		o.ClockPPM = c.ClockPPM()
	}
	return New(source.Rate(), o)
}

// listen passes one block through the ear and tells what comes of it.
func (s *session) listen(source Source, b analysis.Block) {
	s.ear.SetKind(s.controls.Kind())
	s.ear.Mute(s.controls.Muted())
	s.pass(s.ear.Step(b))
	s.meter.take(b, func(l Level) {
		l.Muted, l.Ringing = s.controls.Muted(), s.ear.Ringing()
		s.audience.Level(l)
	})
	hearing := State{Code: Hearing, Source: s.name, Rate: source.Rate(), Words: "Listening to " + s.name + "."}
	if float64(s.meter.zeros) >= silentSeconds*float64(source.Rate()) {
		hearing.Code = Silent
		hearing.Words = s.name + " gives digital silence. Is the cable in, the microphone on, the input not muted?"
	}
	s.state(hearing)
	end := b.Start + int64(len(b.Samples))
	if float64(end-s.roomed) >= roomSeconds*float64(source.Rate()) && !s.ear.Ringing() {
		s.roomed = end
		if r := s.ear.Room(); r.PSD != nil {
			s.audience.Room(r)
		}
	}
}

func (s *session) flush() {
	if s.ear != nil {
		s.pass(s.ear.Flush())
		s.ear = nil
	}
}

// pass tells the tellings, and hands over the sound of those that are final.
func (s *session) pass(told []analysis.Strike) {
	for _, t := range told {
		s.audience.Hear(t)
		if t.Stage == analysis.Final {
			s.audience.Keep(t, s.ear.Sound(t.From, t.To))
		}
	}
}
