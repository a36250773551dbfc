package main

import (
	"context"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// told is what can be told of an object besides its name; what is nil stays.
type told struct {
	Kind        *string  `env:"-" help:"What kind of thing it is: ${kinds}."`
	Material    *string  `env:"-" help:"What it is made of."`
	KeptAt      *string  `env:"-" placeholder:"PLACE" help:"Where it is."`
	FoundAt     *string  `env:"-" placeholder:"PLACE" help:"Where it came from."`
	FoundOn     *string  `env:"-" placeholder:"DATE" help:"When: a year, a month or a day, as 2024-05-17."`
	Notes       *string  `env:"-" help:"Anything else."`
	LengthMM    *float64 `name:"length-mm" env:"-" placeholder:"MM" help:"How long it is."`
	WidthMM     *float64 `name:"width-mm" env:"-" placeholder:"MM" help:"How wide."`
	HeightMM    *float64 `name:"height-mm" env:"-" placeholder:"MM" help:"How high."`
	DiameterMM  *float64 `name:"diameter-mm" env:"-" placeholder:"MM" help:"How wide, if it is round."`
	ThicknessMM *float64 `name:"thickness-mm" env:"-" placeholder:"MM" help:"How thick."`
	MassG       *float64 `name:"mass-g" env:"-" placeholder:"GRAMS" help:"How heavy."`
}

func (c *told) apply(o *catalogue.Object) {
	if c.Kind != nil {
		o.Kind = analysis.Kind(*c.Kind)
	}
	for _, f := range []struct {
		to   *string
		from *string
	}{{&o.Material, c.Material}, {&o.KeptAt, c.KeptAt}, {&o.FoundAt, c.FoundAt}, {&o.FoundOn, c.FoundOn}, {&o.Notes, c.Notes}} {
		if f.from != nil {
			*f.to = *f.from
		}
	}
	s := &o.Size
	for _, f := range []struct {
		to   **float64
		from *float64
	}{{&s.LengthMM, c.LengthMM}, {&s.WidthMM, c.WidthMM}, {&s.HeightMM, c.HeightMM}, {&s.DiameterMM, c.DiameterMM}, {&s.ThicknessMM, c.ThicknessMM}, {&s.MassG, c.MassG}} {
		if f.from != nil {
			*f.to = f.from
		}
	}
}

type shelfChange struct {
	Object string  `arg:"" help:"The object's name or ID."`
	Name   *string `env:"-" help:"What it is called from now on."`
	told
}

// Run tells something else of an object; what is not given stays.
func (c *shelfChange) Run(ctx context.Context, p *program) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, false)
		if err != nil {
			return err
		}
		if c.Name != nil {
			o.Name = *c.Name
		}
		c.apply(&o)
		return s.ChangeObject(ctx, o)
	})
}
