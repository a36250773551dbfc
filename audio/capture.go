package audio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"time"

	"ringwell/analysis"
)

// CaptureOptions says what to capture.
type CaptureOptions struct {
	// Command starts the capture child: program and first arguments. What to
	// capture is added as flags (see audio/mic).
	Command []string

	Input   string        // name of an input or a part of it; "": the system's default
	Channel int           // counted from 1; 0: the first
	Rate    analysis.Rate // 0: the best the device takes
	Latency time.Duration // buffer asked of the host; 0: what suits the device

	Stderr io.Writer // where the child's own complaints go, for a log; nil: nowhere

	patience patience // zero: the usual
}

// patience is how long each thing may take. The times leave Close one second of
// the three its contract allows.
type patience struct {
	open  time.Duration // from the start of the child to its hello; sound servers need seconds when they wake a card
	quiet time.Duration // without any record; the child sends a beat ten times a second
	leave time.Duration // for the child to let go of the device, before it is killed
	die   time.Duration // for the system to end it, after
}

func (p patience) orUsual() patience {
	if p == (patience{}) {
		return patience{open: 12 * time.Second, quiet: 2 * time.Second, leave: time.Second, die: time.Second}
	}
	return p
}

// idle is the longest Next waits before it returns an empty block.
const idle = 100 * time.Millisecond

// Capture is a microphone, held by a child process: a driver that hangs or
// aborts takes the child down and nothing else. It is a listen.Source.
type Capture struct {
	hello    Hello
	child    *child
	patience patience

	timer  *time.Timer
	quiet  time.Duration // waited in Next since the last record
	held   *Sound        // what the last block was made of
	block  []float64
	next   int64
	flags  byte
	at     time.Time
	err    error // once broken, for good
	closed bool
}

// OpenCapture starts a child process, waits until the device runs and returns
// it. The error wraps ErrNoInput where the machine has no microphone; every
// other error says in plain words what happened and what to do. ctx bounds the
// opening only.
func OpenCapture(ctx context.Context, o CaptureOptions) (*Capture, error) {
	if len(o.Command) == 0 {
		return nil, errors.New("audio: open capture: no command given")
	}
	args := append([]string(nil), o.Command[1:]...)
	if o.Input != "" {
		args = append(args, "--input="+o.Input)
	}
	if o.Channel != 0 {
		args = append(args, "--channel="+strconv.Itoa(o.Channel))
	}
	if o.Rate != 0 {
		args = append(args, "--rate="+strconv.FormatFloat(float64(o.Rate), 'g', -1, 64))
	}
	if o.Latency != 0 {
		args = append(args, "--latency="+o.Latency.String())
	}
	p := o.patience.orUsual()
	cmd := exec.Command(o.Command[0], args...)
	cmd.Stderr = o.Stderr
	child, err := startChild(cmd)
	if err != nil {
		return nil, fmt.Errorf("the capture process did not start: %w", err)
	}
	c := &Capture{child: child, patience: p, timer: time.NewTimer(p.open), block: make([]float64, MaxRecord)}
	if err := c.waitHello(ctx); err != nil {
		c.child.end(p)
		return nil, err
	}
	return c, nil
}

// Reopener returns a function that opens a capture as o says and, once that
// worked, goes on opening the same device by its name: when a microphone is
// unplugged, the system's default becomes another one, with another sound and
// another clock.
func Reopener(o CaptureOptions) func(context.Context) (*Capture, error) {
	return func(ctx context.Context) (*Capture, error) {
		c, err := OpenCapture(ctx, o)
		if err == nil {
			o.Input = c.hello.Device
		}
		return c, err
	}
}

func (c *Capture) waitHello(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-c.timer.C:
			return errors.New("the sound system does not answer: end other programs that use the microphone or start the sound system anew; trying again")
		case r, ok := <-c.child.records:
			switch {
			case !ok:
				return c.child.why()
			case r.hello != nil:
				c.hello = *r.hello
				return nil
			case r.sound != nil:
				return errOtherVersion // sound before hello
			}
		}
	}
}

// Name is the device's name, as the host calls it.
func (c *Capture) Name() string { return c.hello.Device }

// Rate is the rate the device runs at.
func (c *Capture) Rate() analysis.Rate { return analysis.Rate(c.hello.Rate) }

// Live is true.
func (c *Capture) Live() bool { return true }

// Hello is what the child said of the device.
func (c *Capture) Hello() Hello { return c.hello }

// Entered is when the last sample of the latest block entered the callback, and
// the flags the host gave with that block.
func (c *Capture) Entered() (at time.Time, flags byte) { return c.at, c.flags }

// Next waits for the next block; see listen.Source.
func (c *Capture) Next(ctx context.Context) (analysis.Block, error) {
	c.giveBack()
	if c.closed {
		return analysis.Block{}, io.EOF
	}
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	if c.err != nil {
		return analysis.Block{}, c.err
	}
	c.timer.Reset(idle)
	select {
	case <-ctx.Done():
		return analysis.Block{}, ctx.Err()
	case r, ok := <-c.child.records:
		if !ok {
			c.err = c.child.why()
			return analysis.Block{}, c.err
		}
		c.quiet = 0
		if r.sound == nil { // a beat
			return analysis.Block{Start: c.next}, nil
		}
		return c.take(r.sound), nil
	case <-c.timer.C:
		// Only time spent waiting here counts: while nobody asks, the pipe
		// fills and the child rightly stands still.
		if c.quiet += idle; c.quiet >= c.patience.quiet {
			c.child.kill()
			c.err = fmt.Errorf("the microphone %q hangs: unplug it and plug it in again; trying again", c.hello.Device)
			return analysis.Block{}, c.err
		}
		return analysis.Block{Start: c.next}, nil
	}
}

func (c *Capture) take(s *Sound) analysis.Block {
	b := c.block[:len(s.Samples)]
	for i, v := range s.Samples {
		b[i] = float64(v)
	}
	c.held, c.at, c.flags = s, s.Entered, s.Flags
	c.next = s.Start + int64(len(b))
	return analysis.Block{Start: s.Start, Lost: s.Lost, Samples: b}
}

func (c *Capture) giveBack() {
	if c.held != nil {
		c.child.free <- c.held
		c.held = nil
	}
}

// Close lets go of the device. A child that does not leave is killed.
func (c *Capture) Close() error {
	if c.closed {
		return nil
	}
	c.closed = true
	c.timer.Stop()
	return c.child.end(c.patience)
}
