package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

type shelfAlike struct {
	Object string `arg:"" help:"The object's name or ID."`
	Most   int    `default:"5" env:"-" placeholder:"N" help:"How many to list. (${default})"`
}

// Run lists, for each voice of an object, the voices of others that are most
// like it: what could replace it.
func (c *shelfAlike) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		o, err := object(ctx, r, c.Object, false)
		if err != nil {
			return err
		}
		rows, err := r.Find(ctx, catalogue.Query{Object: o.ID})
		if err != nil {
			return err
		}
		prints, err := r.Voiceprints(ctx)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
		if len(rows) == 0 {
			fmt.Fprintf(std.out, "No strike of %s was kept yet. Keep some with: ringwell shelf keep %s FILE\n", clean(o.Name), o.ID)
		}
		for _, row := range rows {
			f, err := r.Row(ctx, row.Voice.ID)
			if err != nil {
				return err
			}
			fmt.Fprintf(t, "%s, %s:\n", clean(o.Name), voiceWords(row.Voice))
			alike := match.Alike(f.Modes, prints, o.ID, c.Most)
			if len(alike) == 0 {
				fmt.Fprintln(t, "  nothing else on the shelf was struck and kept")
			}
			for _, n := range alike {
				other, err := r.Row(ctx, n.ID)
				if err != nil {
					return err
				}
				fmt.Fprintf(t, "  %s\t%s\t%s\t%.0f %% alike\n", clean(other.Object.Name), voiceWords(other.Voice), hzWords(other.Pitch, other.Spread), 100*(1-n.Distance))
			}
		}
		return t.Flush()
	})
}

type shelfPairs struct {
	Beat float64 `default:"8" env:"-" placeholder:"HZ" help:"The fastest beat to list. (${default})"`
	Most int     `default:"20" env:"-" placeholder:"N" help:"How many pairs to list. (${default})"`
}

// Run lists the pairs of objects that beat when struck together, the slowest
// first.
func (c *shelfPairs) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		rows, err := r.Find(ctx, catalogue.Query{})
		if err != nil {
			return err
		}
		voices := make([]match.Pitched, len(rows))
		for i := range rows {
			voices[i] = match.Pitched{ID: rows[i].Voice.ID, Object: rows[i].Object.ID, Pitch: rows[i].Pitch, Spread: rows[i].Spread}
		}
		t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
		pairs := match.Pairs(voices, c.Beat, c.Most)
		for _, b := range pairs {
			x, y := &rows[b.A], &rows[b.B]
			fmt.Fprintf(t, "%s, %s\t%s, %s\t%s Hz\n", clean(x.Object.Name), voiceWords(x.Voice), clean(y.Object.Name), voiceWords(y.Voice), digits(b.Beat, b.Sigma, 0.1))
		}
		if len(pairs) == 0 {
			fmt.Fprintln(std.out, "No two objects lie so near each other.")
		}
		return t.Flush()
	})
}
