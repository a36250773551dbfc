package mic

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"ringwell/audio"
)

// Options says what the child captures.
type Options struct {
	Input   string        // name or part of one; "": the default input
	Channel int           // counted from 1; 0 is 1
	Rate    float64       // Hz; 0: 48000, else what the device prefers, else 44100
	Latency time.Duration // asked of the host; 0: see buffering
	Noise   bool          // let ALSA and JACK write on standard error
}

// errHung says that PortAudio does not come back. The process must exit: a
// thread that hangs in C cannot be stopped.
var errHung = errors.New("the sound system does not answer")

// running is a device that was opened and started.
type running struct {
	hello audio.Hello
	feed  *feed
	watch time.Duration // oldest the newest callback may be
}

// holder opens a device, sends it on ready, holds it until stop is closed and
// lets go of it. It may hang anywhere.
type holder func(o Options, ready chan<- running, stop <-chan struct{}) error

// limits is how long each thing may take.
type limits struct {
	open, first, close, beat time.Duration
}

var usual = limits{
	open: 8 * time.Second,
	// A sound server that wakes a sleeping card was seen to take 1.9 s.
	first: 3 * time.Second,
	close: 2 * time.Second,
	beat:  100 * time.Millisecond,
}

// ChildMain captures until ctx ends and writes what it captures to w (see
// audio/pipe.go). The error, if any, was written to w as well. After errHung
// the process must exit.
func ChildMain(ctx context.Context, w io.Writer, o Options) error {
	return capture(ctx, w, o, hold, usual)
}

func capture(ctx context.Context, w io.Writer, o Options, hold holder, lim limits) error {
	pipe, err := audio.NewPipeWriter(w)
	if err != nil {
		return err
	}
	ready, done, stop := make(chan running, 1), make(chan error, 1), make(chan struct{})
	go func() { done <- hold(o, ready, stop) }()
	var dev running
	select {
	case dev = <-ready:
	case err := <-done:
		return tell(pipe, err)
	case <-ctx.Done():
		return leave(stop, done, lim.close)
	case <-time.After(lim.open):
		tell(pipe, faultf("the sound system does not answer: end other programs that use the microphone or start the sound system anew; trying again"))
		return errHung
	}
	err = pipe.Hello(dev.hello)
	if err == nil {
		err = tell(pipe, pump(ctx, pipe, dev, lim))
	}
	// What the daemon needs to know it knows now; letting go may take a while.
	return errors.Join(err, leave(stop, done, lim.close))
}

// tell sends what a fault says down the pipe.
func tell(pipe *audio.PipeWriter, err error) error {
	var f fault
	if err == nil || !errors.As(err, &f) {
		return err
	}
	return errors.Join(err, pipe.Word(audio.Word{Code: f.code, Text: f.text}))
}

// leave lets go of the device.
func leave(stop chan<- struct{}, done <-chan error, within time.Duration) error {
	close(stop)
	select {
	case err := <-done:
		return err
	case <-time.After(within):
		return errHung
	}
}

// pump moves sound from the ring to the pipe until ctx ends, the device stops
// or the pipe breaks.
func pump(ctx context.Context, pipe *audio.PipeWriter, dev running, lim limits) error {
	tick := time.NewTicker(lim.beat)
	defer tick.Stop()
	s := audio.Sound{}
	buf := make([]float32, audio.MaxRecord)
	late := 0
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-dev.feed.ring.Wait():
		case <-tick.C:
			if err := pipe.Beat(); err != nil {
				return err
			}
			age, any := dev.feed.silence()
			limit := dev.watch
			if !any {
				limit = max(limit, lim.first)
			}
			if age < limit {
				late = 0
			} else if late++; late > 1 { // a process that was asleep itself gets one more beat
				return stopped(dev.hello.Device, any)
			}
		}
		if dev.feed.runaway.Load() {
			return faultf("the input %q gives sound faster than time passes, so it is no microphone: choose another", dev.hello.Device)
		}
		for ctx.Err() == nil {
			s.Entered = dev.feed.entered()
			n, lost := dev.feed.ring.Next(buf)
			if n == 0 {
				break
			}
			s.Lost, s.Samples = lost, buf[:n]
			s.Start += lost
			s.Flags = byte(dev.feed.flags.Swap(0))
			if err := pipe.Sound(s); err != nil {
				return err
			}
			s.Start += int64(n)
		}
	}
}

func stopped(device string, any bool) error {
	if any {
		return faultf("the microphone %q stopped: look to its cable; trying again", device)
	}
	return faultf("the microphone %q was opened but gives no sound: look whether another program holds it or choose another input; trying again", device)
}

// withName gives a nameless device something to be called by.
func withName(h audio.Hello) audio.Hello {
	if h.Device == "" {
		h.Device = fmt.Sprintf("%s input", h.Host)
	}
	return h
}
