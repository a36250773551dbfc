package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/listen"
	"ringwell/analysis/match"
	"ringwell/audio"
	"ringwell/webview"
)

type shelfCallOver struct {
	Objects []string `arg:"" optional:"" name:"object" help:"Names or IDs of the objects. (all that are whole or suspect)"`
	KeptAt  string   `env:"-" placeholder:"PLACE" help:"Only what is kept there."`
	Celsius *float64 `env:"-" placeholder:"DEGREES" help:"The temperature of the air."`
	From    *string  `placeholder:"mic|demo|FILE" help:"Where sound comes from. (mic)"`
	Input   *string  `placeholder:"NAME" help:"The input to listen to. (the system's default)"`
	held
}

// callOver hears strikes and tells of each object once it is struck.
type callOver struct {
	match.CallOver
	shelf   *catalogue.Reader
	degrees *float64
	voices  []match.Voice
	ear     *match.Recogniser
	names   map[string]string // of all objects
	ctx     context.Context
	all     context.CancelFunc
	out     io.Writer
	fault   error
}

// Run listens until each object was struck, the recording ends, or it is
// interrupted; then what was not struck is told. It ends with status 1 unless
// all are present.
func (c *shelfCallOver) Run(ctx context.Context, p *program, std stdio, log *slog.Logger) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		group, names, err := c.group(ctx, r)
		if err != nil {
			return err
		}
		voices, err := r.Voiceprints(ctx)
		if err != nil {
			return err
		}
		ctx, all := context.WithCancel(ctx)
		defer all()
		o := &callOver{CallOver: *match.NewCallOver(group), shelf: r, degrees: c.Celsius, voices: voices, ear: match.NewRecogniser(voices), names: names, ctx: ctx, all: all, out: std.out}
		fmt.Fprintf(std.out, "Strike each of %s once, in any order.\n", count(len(group), "object"))
		if err := c.listen(ctx, o, std, log); err != nil && ctx.Err() == nil {
			return err
		}
		if o.fault != nil {
			return o.fault
		}
		return o.close()
	})
}

// group is which objects are called, and what every object is called, by ID.
func (c *shelfCallOver) group(ctx context.Context, r *catalogue.Reader) (group, names map[string]string, err error) {
	objects, err := r.Objects(ctx, false)
	if err != nil {
		return nil, nil, err
	}
	states, err := r.NowStates(ctx)
	if err != nil {
		return nil, nil, err
	}
	group, names = map[string]string{}, map[string]string{}
	for _, o := range objects {
		names[o.ID] = o.Name
		here := states[o.ID] == catalogue.Whole || states[o.ID] == catalogue.Suspect
		if len(c.Objects) == 0 && here && strings.Contains(strings.ToLower(o.KeptAt), strings.ToLower(c.KeptAt)) {
			group[o.ID] = o.Name
		}
	}
	for _, called := range c.Objects {
		o, err := object(ctx, r, called, false)
		if err != nil {
			return nil, nil, err
		}
		group[o.ID] = o.Name
	}
	if len(group) == 0 {
		return nil, nil, errors.New("there is nothing to call over; see ringwell shelf list")
	}
	return group, names, nil
}

func (c *shelfCallOver) listen(ctx context.Context, o *callOver, std stdio, log *slog.Logger) error {
	kind := listen.Options{Kind: c.kind(), ClockPPM: c.clockPPM()}
	if c.From != nil && *c.From != fromMic && *c.From != fromDemo {
		r, err := audio.OpenRecording(*c.From, audio.RecordingOptions{})
		if err != nil {
			return err
		}
		defer r.Close()
		kind.LSB = r.LSB()
		return listen.Attend(ctx, func(context.Context) (listen.Source, error) { return r, nil }, kind, nil, o)
	}
	d := &daemon{command: &listenCommand{From: c.From, Input: c.Input, held: c.held}, std: std, log: log}
	var err error
	if d.calibrations, err = loadCalibrations(calibrationPath()); err != nil {
		d.calibrations = &calibrations{}
	}
	from := webview.Source{Choice: fromMic}
	if c.From != nil {
		from.Choice = *c.From
	}
	if c.Input != nil {
		from.Input = *c.Input
	}
	open, err := d.opener(from, nil)
	if err != nil {
		return err
	}
	return listen.Attend(ctx, open, kind, &d.controls, o)
}

func (o *callOver) Level(listen.Level) {}
func (o *callOver) Room(listen.Room)   {}
func (o *callOver) State(s listen.State) {
	if s.Code == listen.Deaf {
		fmt.Fprintln(o.out, clean(s.Words))
	}
}
func (o *callOver) Keep(analysis.Strike, []float32) {}

// Hear takes a strike once it is final.
func (o *callOver) Hear(s analysis.Strike) {
	if s.Stage != analysis.Final || len(s.Partials) == 0 || o.fault != nil {
		return
	}
	v := o.ear.Recognise(s.Partials)
	is, ok := o.Which(v)
	if !ok {
		was := len(o.Unsure)
		o.Wonder(s.ID, v, s.Partials, o.voices)
		if len(o.Unsure) > was {
			fmt.Fprintf(o.out, "not sure: perhaps %s\n", o.perhaps(o.Unsure[was].Candidates))
		} else {
			fmt.Fprintln(o.out, "not on the shelf")
		}
		return
	}
	past, err := o.shelf.Soundings(o.ctx, is.ID, s.ID, match.History)
	if err != nil {
		o.fault = err
		o.all()
		return
	}
	h := match.Examine(past, match.Sounding{Partials: s.Partials, Temperature: o.degrees})
	if !o.CallOver.Hear(s.ID, is, h) {
		fmt.Fprintf(o.out, "%s: not called\n", clean(o.names[is.Object]))
		return
	}
	for i := range o.Lines {
		if l := &o.Lines[i]; l.Object == is.Object {
			fmt.Fprintf(o.out, "%s: %s\n", clean(l.Name), l.Words())
		}
	}
	if o.Count(match.Missing) == 0 {
		o.all()
	}
}

func (o *callOver) perhaps(all []match.Candidate) string {
	var names []string
	for _, c := range all {
		names = append(names, clean(o.names[c.Object]))
	}
	return strings.Join(names, ", or ")
}

// close tells how all of them stand.
func (o *callOver) close() error {
	present, suspect, missing := o.Count(match.Present), o.Count(match.Doubted), o.Count(match.Missing)
	fmt.Fprintf(o.out, "%d present, %d suspect, %d missing.\n", present, suspect, missing)
	for i := range o.Lines {
		if l := &o.Lines[i]; l.Answer == match.Missing {
			fmt.Fprintf(o.out, "%s: missing\n", clean(l.Name))
		}
	}
	if suspect > 0 {
		fmt.Fprintln(o.out, "Suspect is consistent with a crack, and no proof of one: stop striking it, and look at it in good light.")
	}
	if suspect+missing > 0 {
		return errTold
	}
	return nil
}
