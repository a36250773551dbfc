package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/clock"
	"ringwell/analysis/listen"
	"ringwell/audio"
)

// calibrateCommand finds out how far an input's clock is off, or takes down
// what a level meter said.
type calibrateCommand struct {
	Reference    analysis.Hz `env:"-" placeholder:"HZ" help:"The exact frequency of the tone that sounds, from a source that can be trusted better than a sound card."`
	ReferencePPM float64     `name:"reference-ppm" env:"-" placeholder:"PPM" help:"How far that source may be off, one standard deviation. (0)"`
	Seconds      float64     `env:"-" default:"30" help:"How long to listen, 10 to 3600. (${default})"`
	Input        string      `placeholder:"NAME" help:"The input, by its name or a part of it. (the system's default)"`
	Channel      int         `placeholder:"N" help:"The channel, counted from 1. (1)"`
	Recording    string      `env:"-" placeholder:"FILE" help:"Measure this recording of the tone instead; what is found is shown and not kept."`
	SPL          *float64    `name:"spl" env:"-" placeholder:"DB" help:"A level in dB SPL, as a level meter beside the microphone shows it. Goes with --dbfs."`
	DBFS         *float64    `name:"dbfs" env:"-" placeholder:"DB" help:"What the input shows for that level, in dB below full scale (0 or less)."`
}

// Validate is called by kong once the flags are read.
func (c *calibrateCommand) Validate() error {
	switch {
	case (c.SPL == nil) != (c.DBFS == nil):
		return errors.New("--spl and --dbfs go together")
	case c.SPL == nil && c.Reference == 0:
		return errors.New("--reference: give the frequency of the tone in Hz (or a level with --spl and --dbfs)")
	case c.SPL != nil && c.Reference != 0:
		return errors.New("calibrate the clock (--reference) or the level (--spl, --dbfs), one at a time")
	case c.SPL != nil && !(*c.SPL >= 0 && *c.SPL <= 160 && *c.DBFS <= 0 && *c.DBFS >= -140):
		return errors.New("--spl takes 0 to 160 dB, --dbfs -140 to 0")
	case !(c.Seconds >= 10 && c.Seconds <= 3600):
		return errors.New("--seconds: give 10 to 3600")
	case !(c.ReferencePPM >= 0 && c.ReferencePPM <= 1000):
		return errors.New("--reference-ppm: give 0 to 1000")
	case c.Channel < 0 || c.Channel > 64:
		return errors.New("--channel: give 1 to 64")
	}
	return nil
}

// Run listens to the tone, says what it found and keeps it under the input's
// name.
func (c *calibrateCommand) Run(ctx context.Context, std stdio) error {
	kept, err := loadCalibrations(calibrationPath())
	if err != nil {
		return err
	}
	source, err := c.open(ctx)
	if err != nil {
		return err
	}
	defer source.Close()
	name := source.Name()
	if c.SPL != nil {
		level := levelCalibration{SPL: *c.SPL, DBFS: *c.DBFS}
		fmt.Fprintf(std.out, "%s: %s.\n", clean(name), level)
		return kept.keep(name, func(in *calibration) { in.Level = &level })
	}
	meter, err := clock.New(source.Rate(), c.Reference)
	if err != nil {
		return fmt.Errorf("--reference: %w", err)
	}
	if c.Recording == "" {
		fmt.Fprintf(std.out, "Listening to %s for %g s: let the tone of %g Hz sound.\n", clean(name), c.Seconds, float64(c.Reference))
	}
	if err := hear(ctx, source, meter, c.Seconds); err != nil {
		return err
	}
	r, err := meter.Reading(c.ReferencePPM)
	if err != nil {
		return err
	}
	fmt.Fprintf(std.out, "%s: its clock runs %s (%s c, which is taken out from now on).\n", clean(name), runs(r),
		digits(r.PPM*1e-6*analysis.CentsPerNeper, r.Sigma*1e-6*analysis.CentsPerNeper, 1e-3))
	if c.Recording != "" {
		return nil
	}
	return kept.keep(name, func(in *calibration) {
		in.Clock = &clockCalibration{PPM: r.PPM, SigmaPPM: r.Sigma, ReferenceHz: float64(c.Reference), Measured: time.Now().UTC().Truncate(time.Second)}
	})
}

// runs says a clock's error in words, with no digit its sigma does not carry.
func runs(r clock.Reading) string {
	way, off := "fast", r.PPM
	if off < 0 {
		way, off = "slow", -off
	}
	return fmt.Sprintf("%s ±%s ppm %s", digits(off, r.Sigma, 0.1), digits(r.Sigma, r.Sigma, 0.1), way)
}

func (c *calibrateCommand) open(ctx context.Context) (listen.Source, error) {
	if c.Recording != "" {
		return audio.OpenRecording(c.Recording, audio.RecordingOptions{Channel: c.Channel})
	}
	command, err := captureCommand()
	if err != nil {
		return nil, err
	}
	return audio.OpenCapture(ctx, audio.CaptureOptions{Command: command, Input: c.Input, Channel: c.Channel})
}

// hear hands seconds of the source to the meter, or all there is.
func hear(ctx context.Context, s listen.Source, m *clock.Meter, seconds float64) error {
	for end := int64(seconds * float64(s.Rate())); ; {
		b, err := s.Next(ctx)
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		m.Step(b)
		if b.Start+int64(len(b.Samples)) >= end {
			return nil
		}
	}
}
