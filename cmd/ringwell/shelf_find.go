package main

import (
	"context"
	"fmt"
	"strconv"
	"text/tabwriter"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
)

type shelfFind struct {
	Where    string  `arg:"" optional:"" help:"A note, as F#5, or a frequency in Hz."`
	Bend     float64 `env:"-" placeholder:"CENTS" help:"How far above the note."`
	Within   float64 `default:"20" env:"-" placeholder:"CENTS" help:"How far off still counts. (${default})"`
	Of       string  `enum:",${kinds}" default:"" env:"-" placeholder:"KIND" help:"Only of this kind: ${kinds}."`
	Material string  `env:"-" help:"Only of this material, or a part of its name."`
	State    string  `enum:",whole,suspect,cracked,broken,lent,lost" default:"" env:"-" help:"Only in this state."`
	KeptAt   string  `env:"-" placeholder:"PLACE" help:"Only kept there."`
	RingMin  float64 `env:"-" placeholder:"SECONDS" help:"Only what rings at least so long."`
	RingMax  float64 `env:"-" placeholder:"SECONDS" help:"Only what rings at most so long."`
	Words    string  `env:"-" help:"Only what has all these words somewhere."`
	held
}

func (c *shelfFind) Run(ctx context.Context, p *program, std stdio) error {
	q := catalogue.Query{Within: analysis.Cents(c.Within), Kind: analysis.Kind(c.Of), Material: c.Material, State: catalogue.State(c.State),
		KeptAt: c.KeptAt, RingMin: c.RingMin, RingMax: c.RingMax, Words: c.Words}
	if c.Where != "" {
		in, err := c.instrument(&p.Shelf.shelfPlace)
		if err != nil {
			return err
		}
		f, err := target(in, c.Where)
		if err != nil {
			return err
		}
		q.Near = f.Shift(analysis.Cents(c.Bend))
	}
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		found, err := r.Find(ctx, q)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
		for _, l := range found {
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s", clean(l.Object.Name), voiceWords(l.Voice), l.State, hzWords(l.Pitch, l.Spread), ringWords(l.Ring))
			if q.Near > 0 {
				fmt.Fprintf(t, "\t%s c", digits(float64(l.Off), float64(l.Spread), 1))
			}
			fmt.Fprintln(t)
		}
		if len(found) == 0 {
			fmt.Fprintln(std.out, "Nothing on the shelf is like that.")
		}
		return t.Flush()
	})
}

// target is the frequency that a note of an instrument, or a number, means.
func target(in instrument.Instrument, where string) (analysis.Hz, error) {
	if hz, err := strconv.ParseFloat(where, 64); err == nil {
		if !(hz > 0 && hz < 1e6) {
			return 0, fmt.Errorf("%s Hz: give a frequency above 0 and below a million Hz", where)
		}
		return analysis.Hz(hz), nil
	}
	key, err := instrument.ParseLabel(where)
	if err != nil {
		return 0, err
	}
	if note, ok := in.Note(key); ok && len(note.Targets) > 0 {
		return note.Targets[0], nil
	}
	return instrument.Frequency(key, in.Reference), nil
}
