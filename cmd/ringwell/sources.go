package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio"
	"ringwell/webview"
)

// The choices of a source, as the session and --from name them.
const (
	fromMic   = "mic"
	fromDemo  = "demo"
	fromStdin = "stdin"
	fromPhone = webview.FromPhone
	fromFile  = "file"
)

// choice is which of them --from asks for, and the file's path.
func (c *listenCommand) choice() (choice, path string) {
	switch {
	case c.From == nil:
		return fromMic, ""
	case *c.From == fromMic, *c.From == fromDemo, *c.From == fromStdin, *c.From == fromPhone:
		return *c.From, ""
	}
	return fromFile, *c.From
}

// choices are the sources the page may choose, the usual one first.
func (c *listenCommand) choices() []string {
	all := []string{fromMic, fromDemo, fromPhone}
	if choice, _ := c.choice(); choice == fromStdin || choice == fromFile {
		all = append(all, choice)
	}
	return all
}

// opener returns how to open a source, as often as it is lost. standIn is
// called, once, where there is no microphone at all and the demo scene may play
// in its place; nil: then there is no sound until there is one.
func (d *daemon) opener(from webview.Source, standIn func()) (func(context.Context) (listen.Source, error), error) {
	c := d.command
	switch from.Choice {
	case fromPhone:
		return d.phone(from.Input), nil
	case fromDemo:
		return func(context.Context) (listen.Source, error) { return demo() }, nil
	case fromStdin:
		rate := analysis.Rate(c.Rate)
		if rate == 0 {
			rate = 48000
		}
		o := audio.StdinOptions{Rate: rate, Channels: c.Channels, Channel: c.Channel, Float: c.Float}
		return func(context.Context) (listen.Source, error) {
			in, err := audio.NewStdin(d.std.in, o)
			if err != nil {
				return nil, fmt.Errorf("%w: %w", err, listen.ErrPermanent)
			}
			return in, nil
		}, nil
	case fromFile:
		_, path := c.choice()
		return func(context.Context) (listen.Source, error) {
			r, err := audio.OpenRecording(path, audio.RecordingOptions{Channel: c.Channel, Paced: true})
			if err != nil {
				return nil, err
			}
			return r, nil
		}, nil
	}
	command, err := captureCommand()
	if err != nil {
		return nil, err
	}
	capture := audio.Reopener(audio.CaptureOptions{
		Command: command, Input: from.Input, Channel: c.Channel, Rate: analysis.Rate(c.Rate),
		Stderr: slog.NewLogLogger(d.log.Handler(), slog.LevelDebug).Writer(),
	})
	return func(ctx context.Context) (listen.Source, error) {
		mic, err := capture(ctx)
		if err == nil {
			standIn = nil // it was there: when it goes, that is said and waited for
			if c.ClockPPM != nil {
				return mic, nil // what is said by hand goes before what was measured
			}
			return d.calibrations.apply(mic), nil
		}
		if standIn == nil || !errors.Is(err, audio.ErrNoInput) {
			return nil, err
		}
		standIn()
		return newStandIn(ctx, command, standInLook)
	}, nil
}

// phone returns how to wait for a browser that lends its microphone.
func (d *daemon) phone(id string) func(context.Context) (listen.Source, error) {
	return func(ctx context.Context) (listen.Source, error) {
		p, err := d.server.OpenPhone(ctx, id, func(words string) {
			d.audience.State(listen.State{Code: listen.Deaf, Words: words})
		})
		if err != nil {
			return nil, err
		}
		return p, nil
	}
}

func demo() (listen.Source, error) {
	d, err := audio.NewDemo(audio.DemoOptions{})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// standInLook is how often a machine without a microphone is looked at again.
const standInLook = 5 * time.Second

// standIn is the demo scene while there is no microphone. It ends with an error
// when one is plugged in.
type standIn struct {
	listen.Source
	found chan struct{}
	stop  context.CancelFunc
}

func newStandIn(ctx context.Context, command []string, every time.Duration) (listen.Source, error) {
	scene, err := demo()
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	s := &standIn{Source: scene, found: make(chan struct{}), stop: stop}
	go s.look(ctx, command, every)
	return s, nil
}

func (s *standIn) look(ctx context.Context, command []string, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if inputs, err := audio.ListInputs(ctx, command); err == nil && len(inputs) > 0 {
			close(s.found)
			return
		}
	}
}

func (s *standIn) Name() string { return s.Source.Name() + ", for want of a microphone" }

func (s *standIn) Next(ctx context.Context) (analysis.Block, error) {
	select {
	case <-s.found:
		return analysis.Block{}, errors.New("a microphone is there now; turning to it")
	default:
		return s.Source.Next(ctx)
	}
}

func (s *standIn) Close() error {
	s.stop()
	return s.Source.Close()
}

// attend listens to a source until ctx ends or the source is over.
func (d *daemon) attend(ctx context.Context, from webview.Source) {
	standIn := d.standIn
	d.standIn = nil
	open, err := d.opener(from, standIn)
	if err == nil {
		o := listen.Options{Kind: analysis.Kind(d.server.Session().Kind), ClockPPM: d.command.clockPPM()}
		err = listen.Attend(ctx, open, o, &d.controls, d.audience)
	}
	if err != nil && ctx.Err() == nil {
		d.log.Error("the ear stopped", "source", from.Choice, "err", err)
		d.audience.State(listen.State{Code: listen.Deaf, Words: fmt.Sprintf("The ear stopped: %v", err)})
	}
}
