package main

import (
	"context"
	"errors"
	"time"

	"ringwell/analysis/accuracy"
	"ringwell/analysis/trial"
)

type accuracyCommand struct {
	Dir    string        `arg:"" optional:"" help:"A folder of WAV files, each with its truth in a JSON file of the same name, in place of sounds made from formulas."`
	Seed   uint64        `env:"-" default:"1" help:"The same seed and budget give the same table. (${default})"`
	Bench  bool          `env:"-" help:"The bench in place of the ear: seeded players with water, and days of temperature."`
	Budget time.Duration `env:"-" default:"4m" help:"How long it may take on two cores, roughly. (${default})"`
}

// Validate is called by kong once the flags are read.
func (c *accuracyCommand) Validate() error {
	if c.Budget <= 0 {
		return errors.New("--budget: give a time, as in 4m")
	}
	if c.Bench && c.Dir != "" {
		return errors.New("--bench: plays its own players, and takes no folder")
	}
	return nil
}

// Run prints how near the ear comes to what is possible, on sounds whose truth
// is known.
func (c *accuracyCommand) Run(ctx context.Context, std stdio) error {
	if c.Dir != "" {
		return c.folder(ctx, std)
	}
	done := make(chan error, 1)
	go func() {
		if c.Bench {
			done <- trial.Run(std.out, c.Seed, c.Budget.Minutes()/4)
			return
		}
		done <- accuracy.Run(std.out, c.Seed, c.Budget)
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done(): // the table cannot be stopped; it ends with the program
		return errors.New("interrupted")
	}
}
