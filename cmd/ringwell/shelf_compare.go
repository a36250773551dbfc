package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

type shelfCompare struct {
	First  string `arg:"" help:"An object, or one of its voices as shelf list calls it (tile, middle, foam), of which the newest strike is taken; or a strike's ID."`
	Second string `arg:"" optional:"" help:"The same; without it, the strike of the same voice before that is the first."`
}

// Run holds the second of two strikes against the first, partial by partial.
func (c *shelfCompare) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		a, err := strikeOf(ctx, r, c.First)
		if err != nil {
			return err
		}
		b := a
		if c.Second == "" {
			a, err = before(ctx, r, b)
		} else {
			b, err = strikeOf(ctx, r, c.Second)
		}
		if err != nil {
			return err
		}
		return c.tell(ctx, r, a, b, std)
	})
}

func (c *shelfCompare) tell(ctx context.Context, r *catalogue.Reader, a, b catalogue.Kept, std stdio) error {
	own, err := r.Figures(ctx, a.Voice)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for i, k := range []catalogue.Kept{b, a} {
		row, err := r.Row(ctx, k.Voice)
		if err != nil {
			return err
		}
		fmt.Fprintf(std.out, "%s%s, %s, struck %s\n", [...]string{"", "against "}[i], clean(row.Object.Name), voiceWords(row.Voice), k.Time.Local().Format(time.DateTime))
	}
	pairs := match.Compare(a.Partials, b.Partials, own.Modes)
	t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
	fmt.Fprintln(t, "partial\tcents\tdB\ttimes as long\t")
	for _, p := range pairs {
		switch {
		case p.B < 0:
			fmt.Fprintf(t, "%s\tonly in the other\t\t\t\n", partialHz(a, p.A))
		case p.A < 0:
			fmt.Fprintf(t, "%s\tonly in this\t\t\t\n", partialHz(b, p.B))
		default:
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t\n", partialHz(a, p.A), deltaWords(p.Cents, true, 0.1), deltaWords(p.Level, true, 0.1), deltaWords(p.Ring, false, 0.01))
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	says := match.Sayings(pairs, a.Partials)
	if len(says) == 0 {
		says = []string{"No difference beyond chance."}
	}
	for _, w := range says {
		fmt.Fprintln(std.out, w)
	}
	return nil
}

// deltaWords is a difference with the digits that its range leaves, but none
// finer than least, marked where it is beyond chance.
func deltaWords(d *match.Delta, signed bool, least float64) string {
	if d == nil {
		return ""
	}
	words := digits(d.By, max(least, (d.High-d.Low)/4), least) // 95 % are two sigma to either side
	if signed && d.By > 0 {
		words = "+" + words
	}
	if d.Significant {
		words += " *"
	}
	return words
}

// partialHz is where a partial lies, as well as the input's clock is known.
func partialHz(k catalogue.Kept, i int) string {
	q := k.Partials[i]
	clock := analysis.Cents(k.ClockPPM * 1e-6 * analysis.CentsPerNeper)
	return hzWords(q.Frequency, analysis.Cents(math.Hypot(float64(q.Sigma), float64(clock))))
}

// strikeOf finds a strike by its ID, or the newest of an object or a voice.
func strikeOf(ctx context.Context, r *catalogue.Reader, called string) (catalogue.Kept, error) {
	k, err := r.Strike(ctx, called)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return k, err
	}
	voices, err := voicesCalled(ctx, r, called)
	if err != nil {
		return k, err
	}
	found := false
	for _, v := range voices {
		id, err := r.Newest(ctx, v.ID)
		if errors.Is(err, fs.ErrNotExist) || err == nil && id == "" {
			continue
		}
		if err != nil {
			return k, err
		}
		one, err := r.Strike(ctx, id)
		if err != nil {
			return k, err
		}
		if !found || one.Time.After(k.Time) {
			k, found = one, true
		}
	}
	if !found {
		return k, fmt.Errorf("no strike of %s is kept; keep one with: ringwell shelf keep", called)
	}
	return k, nil
}

// voicesCalled are all voices of an object, or the one that is called by its
// object and how it is sounded, or enough of that to tell it from the others.
func voicesCalled(ctx context.Context, r *catalogue.Reader, called string) ([]catalogue.Voice, error) {
	o, unknown := object(ctx, r, called, false)
	if unknown == nil {
		return r.Voices(ctx, o.ID)
	}
	rows, err := r.Find(ctx, catalogue.Query{})
	if err != nil {
		return nil, err
	}
	var fit []catalogue.Voice
	for i := range rows {
		v := rows[i].Voice
		more, ok := strings.CutPrefix(called, rows[i].Object.Name+", ")
		if v.ID == called || ok && soundedSo(&v, more) {
			fit = append(fit, v)
		}
	}
	switch len(fit) {
	case 0:
		return nil, unknown
	case 1:
		return fit, nil
	}
	return nil, fmt.Errorf("%d voices are called %s; say more of how it is sounded, as shelf list has it", len(fit), called)
}

// soundedSo reports whether a voice has each of some words between commas.
func soundedSo(v *catalogue.Voice, words string) bool {
	if words == v.Label() {
		return true
	}
	for word := range strings.SplitSeq(words, ", ") {
		if word == "" || !slices.Contains([]string{v.Place, v.Beater, v.Support, v.Fill}, word) {
			return false
		}
	}
	return true
}

// before is the strike of the same voice before k.
func before(ctx context.Context, r *catalogue.Reader, k catalogue.Kept) (catalogue.Kept, error) {
	all, err := r.Strikes(ctx, k.Voice)
	if err != nil {
		return k, err
	}
	for i := len(all) - 1; i > 0; i-- {
		if all[i].ID == k.ID {
			return all[i-1], nil
		}
	}
	return k, errors.New("it is the first strike of its voice that is kept; name another to compare it with")
}
