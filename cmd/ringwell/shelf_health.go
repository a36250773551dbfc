package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"text/tabwriter"
	"time"

	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

type shelfHealth struct {
	Objects []string `arg:"" optional:"" name:"object" help:"Names or IDs of the objects. (all)"`
}

// Run holds the newest strike of each voice against those before. It ends with
// status 1 where one is suspect.
func (c *shelfHealth) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		queries := []catalogue.Query{}
		for _, called := range c.Objects {
			o, err := object(ctx, r, called, false)
			if err != nil {
				return err
			}
			queries = append(queries, catalogue.Query{Object: o.ID})
		}
		if len(c.Objects) == 0 {
			queries = append(queries, catalogue.Query{})
		}
		t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
		voices, advice := 0, []string{}
		for _, q := range queries {
			rows, err := r.Find(ctx, q)
			if err != nil {
				return err
			}
			for i := range rows {
				h, err := newestHealth(ctx, r, t, &rows[i])
				if err != nil {
					return err
				}
				if h.Suspect() {
					advice = append(advice, clean(rows[i].Object.Name)+": "+h.Advice(rows[i].Object.Kind))
				}
				voices++
			}
		}
		if err := t.Flush(); err != nil {
			return err
		}
		if voices == 0 {
			fmt.Fprintln(std.out, "No strike is kept yet. Keep some with: ringwell shelf keep OBJECT RECORDING")
		}
		for _, words := range advice {
			fmt.Fprintln(std.out, words)
		}
		if len(advice) > 0 {
			return errTold
		}
		return nil
	})
}

// newestHealth writes a line on a voice.
func newestHealth(ctx context.Context, r *catalogue.Reader, t *tabwriter.Writer, row *catalogue.Row) (h match.Health, err error) {
	id, err := r.Newest(ctx, row.Voice.ID)
	if errors.Is(err, fs.ErrNotExist) {
		_, err = fmt.Fprintf(t, "%s, %s\tnever struck\t\n", clean(row.Object.Name), voiceWords(row.Voice))
		return h, err
	}
	if err != nil {
		return h, err
	}
	newest, err := r.Strike(ctx, id)
	if err != nil {
		return h, err
	}
	strikes, err := r.Soundings(ctx, row.Voice.ID, "", match.History+1)
	if err != nil {
		return h, err
	}
	h = match.ExamineNewest(strikes)
	_, err = fmt.Fprintf(t, "%s, %s\tstruck %s\t%s\n", clean(row.Object.Name), voiceWords(row.Voice), newest.Time.Local().Format(time.DateTime), h.Words())
	return h, err
}
