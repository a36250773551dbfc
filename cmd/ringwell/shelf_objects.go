package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"text/tabwriter"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

type shelfList struct{}

func (shelfList) Run(ctx context.Context, p *program, std stdio) error {
	err := p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		objects, err := r.Objects(ctx, false)
		if err != nil {
			return err
		}
		if len(objects) == 0 {
			fmt.Fprintln(std.out, "The shelf is empty. Put something on it with: ringwell shelf add NAME")
			return nil
		}
		t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
		for _, o := range objects {
			if err := listObject(ctx, r, t, o); err != nil {
				return err
			}
		}
		return t.Flush()
	})
	if errors.Is(err, fs.ErrNotExist) {
		fmt.Fprintln(std.out, "There is no shelf yet. Make one with: ringwell shelf add NAME")
		return nil
	}
	return err
}

func listObject(ctx context.Context, r *catalogue.Reader, t *tabwriter.Writer, o catalogue.Object) error {
	past, err := r.History(ctx, o.ID)
	if err != nil {
		return err
	}
	state := ""
	if n := len(past); n > 0 {
		state = string(past[n-1].State)
	}
	fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", clean(o.Name), o.Kind, clean(o.Material), state, clean(o.KeptAt))
	voices, err := r.Voices(ctx, o.ID)
	if err != nil {
		return err
	}
	for _, v := range voices {
		f, err := r.Figures(ctx, v.ID)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\n", voiceWords(v), hzWords(f.Pitch, f.Spread), ringWords(f.Ring), count(f.Strikes, "strike"), "")
	}
	return nil
}

// voiceWords says how a voice is sounded.
func voiceWords(v catalogue.Voice) string {
	if label := v.Label(); label != "" {
		return clean(label)
	}
	return "as it comes"
}

// hzWords writes a pitch as far as its spread in cents carries.
func hzWords(f analysis.Hz, spread analysis.Cents) string {
	if f == 0 {
		return "no pitch"
	}
	u := float64(f) * float64(spread) / float64(analysis.CentsPerNeper)
	return digits(float64(f), u, 0.1) + " Hz"
}

func ringWords(t60 float64) string {
	if t60 == 0 {
		return ""
	}
	return digits(t60, t60/10, 0.1) + " s" // no ring is known to better than a tenth of it
}

type shelfAdd struct {
	Name string `arg:"" help:"What it is called."`
	told
}

func (c *shelfAdd) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.making(ctx, func(s *catalogue.Shelf) error {
		o := catalogue.Object{Name: c.Name}
		c.apply(&o)
		o, err := s.AddObject(ctx, o)
		if err == nil {
			fmt.Fprintln(std.out, o.ID)
		}
		return err
	})
}

type shelfState struct {
	Object string `arg:"" help:"The object's name or ID."`
	State  string `arg:"" enum:"whole,suspect,cracked,broken,lent,lost" help:"How it is: ${enum}."`
	Note   string `env:"-" help:"To whom it is lent, where it is cracked."`
}

func (c *shelfState) Run(ctx context.Context, p *program) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, false)
		if err != nil {
			return err
		}
		return s.SetState(ctx, o.ID, catalogue.Condition{State: catalogue.State(c.State), Note: c.Note})
	})
}

type shelfPhoto struct {
	Object string `arg:"" help:"The object's name or ID."`
	File   string `arg:"" help:"A JPEG, PNG or WebP file."`
}

func (c *shelfPhoto) Run(ctx context.Context, p *program) error {
	data, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	if len(data) == 0 { // which would take the old photo away
		return fmt.Errorf("%s: the file is empty", c.File)
	}
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, false)
		if err != nil {
			return err
		}
		if err := s.SetPhoto(ctx, o.ID, data); err != nil {
			return fmt.Errorf("%s: %w", c.File, err)
		}
		return nil
	})
}

type shelfAway struct {
	Object string `arg:"" help:"The object's name or ID."`
}

func (c *shelfAway) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, false)
		if err != nil {
			return err
		}
		if err := s.PutAway(ctx, catalogue.ObjectPart, o.ID); err != nil {
			return err
		}
		fmt.Fprintf(std.out, "%s is put away. Take it back with: ringwell shelf back %s\n", clean(o.Name), o.ID)
		return nil
	})
}

type shelfBack struct {
	Object string `arg:"" help:"The object's name or ID."`
}

func (c *shelfBack) Run(ctx context.Context, p *program) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, true)
		if err != nil {
			return err
		}
		return s.TakeBack(ctx, catalogue.ObjectPart, o.ID)
	})
}

type shelfEmpty struct {
	Name string `arg:"" optional:"" help:"The name or ID of what to remove for good, or all."`
}

func (c *shelfEmpty) Run(ctx context.Context, p *program, std stdio) error {
	if c.Name == "" {
		return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
			objects, err := r.Objects(ctx, true)
			if err != nil {
				return err
			}
			for _, o := range objects {
				fmt.Fprintf(std.out, "%s  %s, put away %s\n", o.ID, clean(o.Name), o.PutAway.Local().Format(time.DateTime))
			}
			if len(objects) == 0 {
				fmt.Fprintln(std.out, "No object was put away.")
			}
			return nil
		})
	}
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		id := ""
		if c.Name != "all" {
			o, err := object(ctx, &s.Reader, c.Name, true)
			if err != nil {
				return err
			}
			id = o.ID
		}
		gone, err := s.Empty(ctx, time.Now().Add(time.Second), id) // what was put away in this second goes too
		if err == nil {
			fmt.Fprintf(std.out, "Removed for good: %s, %s, %s, %s.\n", count(gone.Objects, "object"), count(gone.Voices, "voice"),
				count(gone.Strikes, "strike"), count(gone.Recordings, "recording"))
		}
		return err
	})
}
