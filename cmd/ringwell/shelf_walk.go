package main

import (
	"context"
	"fmt"
	"slices"
	"text/tabwriter"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

type shelfWalk struct {
	Name     string   `arg:"" help:"What the instrument is to be called."`
	Files    []string `arg:"" name:"file" help:"Recordings of its notes, struck one after another upwards."`
	Like     string   `default:"vibraphone" env:"-" help:"The built-in instrument whose range it has. (${default})"`
	Prepared bool     `env:"-" help:"Take every strike as it comes, with several pitches or none, as of a prepared piano."`
	Skip     []string `env:"-" placeholder:"NOTE,..." help:"Notes that were left out."`
	held
}

// Run measures an instrument from recordings of a walk along it and stores it
// on the shelf, where --instrument finds it.
func (c *shelfWalk) Run(ctx context.Context, p *program, std stdio) error {
	if slices.Contains(instrument.Names(), c.Name) {
		return fmt.Errorf("there is a built-in instrument called %s; give yours another name", c.Name)
	}
	base, err := instrument.ByName(c.Like, c.reference())
	if err != nil {
		return err
	}
	skip := map[int]bool{}
	for _, label := range c.Skip {
		key, err := instrument.ParseLabel(label)
		if err != nil {
			return err
		}
		skip[key] = true
	}
	walk := instrument.NewWalk(base, c.Prepared)
	for _, file := range c.Files {
		heard, _, err := hearFile(ctx, file, listen.Options{Source: file, Kind: analysis.Bar, ClockPPM: c.clockPPM()})
		if err != nil {
			return err
		}
		for _, h := range heard {
			for walk.At < len(walk.Notes) && skip[walk.Notes[walk.At].Key] {
				walk.Skip()
			}
			if !walk.Hear(h.Strike) {
				fmt.Fprintf(std.err, "%s, %.2f s: %s\n", clean(file), h.Rate.Seconds(h.Onset), walk.Notice)
			}
		}
	}
	t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
	for i, n := range walk.Notes {
		if n.Strikes == 0 {
			continue
		}
		fmt.Fprintf(t, "%s\t", n.Label)
		for _, f := range n.Targets {
			fmt.Fprintf(t, "%.2f Hz\t%+.1f c\t", float64(f), float64(f.Above(base.Notes[i].Targets[0])))
		}
		if len(n.Targets) == 0 {
			fmt.Fprint(t, "no pitch\t")
		}
		fmt.Fprintln(t)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	in := webview.MeasuredInstrument(c.Name, walk)
	if len(in.Notes) == 0 {
		return fmt.Errorf("no note of a %s was heard", base.Name)
	}
	err = p.Shelf.making(ctx, func(s *catalogue.Shelf) error { return s.SetInstrument(ctx, in) })
	if err == nil {
		fmt.Fprintf(std.out, "%d of %d notes measured. Use it with --instrument %q.\n", walk.Measured(), len(walk.Notes), clean(c.Name))
	}
	return err
}
