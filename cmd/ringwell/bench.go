package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/analysis/physics/air"
	"ringwell/analysis/physics/cavity"
	"ringwell/analysis/wanted"
	"ringwell/webview"
)

type benchCommand struct {
	Water benchWater `cmd:"" help:"How much water brings a vessel to a note, from what was heard at some fills."`
	Row   benchRow   `cmd:"" help:"Which of several vessels for which note, and how much water each."`
	Drift benchDrift `cmd:"" help:"Cents a degree from strikes at several temperatures, and what that does on stage."`
}

// vessel is what is said of a vessel and its water.
type vessel struct {
	Struck  bool    `env:"-" xor:"way" help:"It is struck: the wall sounds, and water lowers it."`
	Blown   bool    `env:"-" xor:"way" help:"It is blown: the air sounds, and water raises it."`
	Pour    string  `env:"-" enum:"scale,syringe,eye,known" default:"scale" help:"How water is measured: ${enum}. By eye is 3 ml, by scale and syringe the larger of 0.5 ml and 3 %; known fills are exact. (${default})"`
	Water   float64 `env:"-" placeholder:"CELSIUS" help:"The water's temperature, for weighing. (20)"`
	Rounded float64 `env:"-" placeholder:"HZ" help:"The step the typed frequencies were rounded to. (not rounded)"`
	Scatter float64 `env:"-" placeholder:"CENTS" help:"One standard deviation from one sound of a fill to the next. (1 struck, 3 blown)"`
}

func (v vessel) job() bench.Job {
	j := bench.Job{Way: bench.Struck, Pouring: bench.Pouring(v.Pour), Water: v.Water, Rounding: analysis.Hz(v.Rounded), Scatter: analysis.Cents(v.Scatter)}
	if v.Blown {
		j.Way = bench.Blown
	}
	return j
}

// Validate is called by kong once the flags are read.
func (v vessel) Validate() error {
	if v.Struck == v.Blown {
		return errors.New("say --struck (the wall sounds, water lowers it) or --blown (the air sounds, water raises it)")
	}
	return nil
}

type benchWater struct {
	Fills []string `arg:"" name:"fill=heard" help:"Millilitres (or, as 150g, grams) in it and what was heard there, a frequency or a recording, in the order they were poured: 0=931.2 150=take2.wav"`
	vessel
	Holds float64 `env:"-" required:"" placeholder:"ML" help:"How much it holds: struck, to the brim; blown, to the foot of the neck."`
	Aim   string  `env:"-" required:"" placeholder:"PLACE" help:"Where it shall sound, as in a wanted list: \"F#5 +30 +-5\"."`

	Celsius  *float64 `env:"-" help:"The air's temperature, for a blown one."`
	Humidity float64  `env:"-" default:"50" placeholder:"PERCENT" help:"The air's relative humidity. (${default})"`
	Stage    *float64 `env:"-" placeholder:"CELSIUS" help:"The temperature where it will be played, for a blown one. (as here)"`

	NeckBore   float64 `env:"-" placeholder:"MM" help:"Inner width of a bottle's neck; with the two below it sharpens the first guess."`
	NeckLength float64 `env:"-" placeholder:"MM" help:"Length of the neck."`
	BodyBore   float64 `env:"-" placeholder:"MM" help:"Inner width of the body."`

	JSON bool `name:"json" env:"-" help:"One JSON object."`
	held
	shelfPlace
}

// Validate is called by kong once the flags are read.
func (c *benchWater) Validate() error { return errors.Join(c.vessel.Validate(), c.held.Validate()) }

// Run says what to do with a vessel.
func (c *benchWater) Run(ctx context.Context, std stdio) error {
	in, err := c.instrument(&c.shelfPlace)
	if err != nil {
		return err
	}
	j := c.vessel.job()
	j.Capacity = c.Holds
	if j.Aim, err = aimAt(c.Aim, in); err != nil {
		return err
	}
	if j.Bottle, err = c.bottle(); err != nil {
		return err
	}
	here, err := c.airs(&j)
	if err != nil {
		return err
	}
	if err := j.Check(); err != nil {
		return err
	}
	entries, err := c.entries(ctx, j, here)
	if err != nil {
		return err
	}
	if err := j.CheckEntries(entries); err != nil {
		return err
	}
	a := bench.Advise(j, entries)
	if c.JSON {
		return json.NewEncoder(std.out).Encode(webview.AdviceForm(a, j, entries))
	}
	return writeAdvice(std, a, j, entries, in)
}

func (c *benchWater) bottle() (*cavity.Bottle, error) {
	if c.NeckBore == 0 && c.NeckLength == 0 && c.BodyBore == 0 {
		return nil, nil
	}
	if !(c.NeckBore >= 5 && c.NeckLength >= 5 && c.BodyBore > c.NeckBore && c.BodyBore <= 500 && c.NeckLength <= 500) {
		return nil, errors.New("bench: give --neck-bore, --neck-length and --body-bore together, in mm, the body wider than the neck")
	}
	return &cavity.Bottle{NeckRadius: c.NeckBore / 2000, NeckLength: c.NeckLength / 1000, BodyRadius: c.BodyBore / 2000, Volume: c.Holds * 1e-6}, nil
}

func (c *benchWater) airs(j *bench.Job) (here *air.Air, err error) {
	if c.Celsius != nil {
		here = &air.Air{Celsius: *c.Celsius, Humidity: c.Humidity / 100}
		err = here.Check()
	}
	if c.Stage != nil {
		if here == nil {
			return nil, errors.New("bench: --stage needs --celsius, the temperature here")
		}
		j.Stage = &air.Air{Celsius: *c.Stage, Humidity: c.Humidity / 100}
	}
	return here, err
}

// entries reads FILL=HEARD, sounds that were recorded among them.
func (c *benchWater) entries(ctx context.Context, j bench.Job, here *air.Air) (all []bench.Entry, err error) {
	in := 0.0
	for _, text := range c.Fills {
		fill, heard, ok := strings.Cut(text, "=")
		fill, weighed := strings.CutSuffix(strings.TrimSuffix(strings.TrimSpace(fill), "ml"), "g")
		ml, err := strconv.ParseFloat(strings.Replace(fill, ",", ".", 1), 64)
		if weighed {
			ml /= j.WaterDensity()
		}
		if !ok || err != nil || math.IsNaN(ml) || math.IsInf(ml, 0) {
			return nil, fmt.Errorf("bench: %q: write millilitres, =, and a frequency or a recording, as in 150=842.7, 150g=842.7 or 150=take2.wav", text)
		}
		e := bench.Entry{Added: ml - in, Air: here}
		in = ml
		if hz, err := strconv.ParseFloat(strings.Replace(strings.TrimSuffix(strings.TrimSpace(heard), "Hz"), ",", ".", 1), 64); err == nil {
			e.Heard = analysis.Hz(hz)
		} else if err := c.listen(ctx, heard, j.Way, &e); err != nil {
			return nil, err
		}
		all = append(all, e)
	}
	return all, nil
}

// listen takes the last pitched sound of a recording.
func (c *benchWater) listen(ctx context.Context, file string, way bench.Way, e *bench.Entry) error {
	kind := c.kind()
	if kind == analysis.Unknown {
		kind = map[bench.Way]analysis.Kind{bench.Struck: analysis.Glass, bench.Blown: analysis.Blown}[way]
	}
	all, _, err := hearFile(ctx, file, listen.Options{Kind: kind, ClockPPM: c.clockPPM()})
	if err != nil {
		return err
	}
	for _, s := range all {
		told, ok := bench.Told(s.Strike)
		if !ok {
			continue
		}
		if told != way {
			return fmt.Errorf("bench: in %s it was %s, and %s is meant: water moves the two opposite ways. Say --%s, or record it anew", file, told, way, told)
		}
		e.Heard, e.Sigma, e.Partials, e.Strike = s.Heard.Frequency, s.Heard.Sigma, s.Partials, s.ID
	}
	if e.Heard == 0 {
		return fmt.Errorf("bench: in %s no pitch was heard", file)
	}
	return nil
}

// aimAt reads a place as it is written in a wanted list.
func aimAt(text string, in instrument.Instrument) (bench.Aim, error) {
	list, faults := wanted.Parse(text)
	switch {
	case len(faults) > 0:
		return bench.Aim{}, fmt.Errorf("aim: %s", faults[0].Words)
	case len(list.Places) != 1:
		return bench.Aim{}, errors.New("aim: give one place, as in F#5 +30 +-5")
	}
	p := list.Places[0]
	return bench.Aim{Name: p.Name(), Target: p.Target(in), Tolerance: p.Tolerance}, nil
}

// writeAdvice tells an advice for people.
func writeAdvice(std stdio, a bench.Advice, j bench.Job, entries []bench.Entry, in instrument.Instrument) error {
	fmt.Fprintln(std.out, clean(a.Says))
	if a.Words != "" {
		fmt.Fprintln(std.out, clean(a.Words))
	}
	if a.Doubt != "" {
		fmt.Fprintln(std.out, clean(a.Doubt))
	}
	t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
	fmt.Fprintln(t, "\tml\tg\tcents from the aim")
	line := func(what string, fill, fillSigma float64, at bench.Interval) {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", what, digits(fill, fillSigma, 0.1), digits(fill*j.WaterDensity(), fillSigma, 0.1), centsFrom(at))
	}
	line("empty", 0, 0, a.Empty)
	line("now", a.Fill, 0.1, a.Now)
	if a.Step != bench.Cannot && a.Step != bench.There {
		fmt.Fprintf(t, "at the aim\t%s %s\t%s\t0\n", digits(a.Aim.Value, a.Aim.Sigma, 1), plusMinus(a.Aim.Sigma), digits(a.Aim.Value*j.WaterDensity(), a.Aim.Sigma, 1))
	}
	full := j.Capacity
	if len(a.Path) > 0 {
		full = a.Path[len(a.Path)-1].Fill
	}
	line("full", full, 1, a.Full)
	for _, p := range a.Parts {
		key, cents := instrument.Nearest(p.At, in.Reference)
		fmt.Fprintf(t, "partial %s\t\t\tat the aim %s\n", digits(float64(p.First), 0.1, 1)+" Hz", beside(instrument.Label(key), float64(cents), max(p.Below.Sigma, finestCents)))
	}
	return t.Flush()
}

// centsFrom writes where a fill lies and the 95 % interval of it.
func centsFrom(at bench.Interval) string {
	return fmt.Sprintf("%s (95 %%: %s to %s)", withSign(at.Value, at.Sigma), withSign(at.Low, at.Sigma), withSign(at.High, at.Sigma))
}

func withSign(x, u float64) string {
	text := digits(x, u, 1)
	if x > 0 && strings.Trim(text, "0.") != "" {
		return "+" + text
	}
	return text
}
