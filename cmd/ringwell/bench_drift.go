package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/drift"
	"ringwell/analysis/physics/material"
	"ringwell/webview"
)

type benchDrift struct {
	Readings []string `arg:"" name:"celsius=hz" help:"Degrees and the frequency heard there, as in 18.5=440.2; or one CSV with the columns celsius and hz, and time (RFC 3339) and sigma_cents if there are."`
	Material string   `env:"-" placeholder:"NAME" help:"What it is made of, to hold physics beside it: ${materials}."`
	Here     *float64 `env:"-" placeholder:"CELSIUS" help:"The temperature it lies right at. (the mean of the readings)"`
	Stage    *float64 `env:"-" placeholder:"CELSIUS" help:"The temperature on stage."`
	Within   float64  `env:"-" default:"10" placeholder:"CENTS" help:"How near is near enough on stage. (${default})"`
	Made     string   `env:"-" placeholder:"NAME" help:"What the instrument's bars are made of. (by the instrument)"`
	JSON     bool     `name:"json" env:"-" help:"One JSON object."`
	held
	shelfPlace
}

// Run tells how a voice drifts.
func (c *benchDrift) Run(std stdio) error {
	in, err := c.instrument(&c.shelfPlace)
	if err != nil {
		return err
	}
	readings, err := c.readings()
	if err != nil {
		return err
	}
	line, err := drift.Fit(readings)
	if err != nil {
		return err
	}
	form := webview.DriftForm(line)
	var of material.Material
	if c.Material != "" {
		var ok bool
		if of, ok = material.Named(c.Material); !ok {
			return fmt.Errorf("drift: there is no material %q; there are: %s", c.Material, strings.Join(material.Names(), ", "))
		}
		form.Material, form.Expected = &of.Name, ptr(float64(of.PerDegree()))
		if w := line.Beside(of); w != "" {
			form.Remark = &w
		}
	}
	moves, made, known := drift.Instrument(in.Name)
	if c.Made != "" {
		if made, known = material.Named(c.Made); !known {
			return fmt.Errorf("drift: there is no material %q; there are: %s", c.Made, strings.Join(material.Names(), ", "))
		}
		moves = drift.Of(made)
	}
	if c.Stage != nil {
		if !(*c.Stage >= -20 && *c.Stage <= 50) {
			return errors.New("drift: --stage: give -20 to 50 °C")
		}
		if !(c.Within > 0) {
			return errors.New("drift: --within: give a number of cents above 0")
		}
		here := line.At
		if c.Here != nil {
			here = *c.Here
		}
		form.Stage = webview.ForecastForm(drift.Stage(&line, 0, analysis.Cents(c.Within), moves, here, *c.Stage), here, *c.Stage, c.Within)
	}
	if c.JSON {
		return json.NewEncoder(std.out).Encode(form)
	}
	c.write(std.out, line, form, of, in.Name, moves, made, known)
	return nil
}

func ptr[T any](x T) *T { return &x }

func (c *benchDrift) write(w io.Writer, l drift.Line, form webview.Drift, of material.Material, instrument string, moves drift.Moves, made material.Material, known bool) {
	s := float64(l.Sigma)
	fmt.Fprintf(w, "%s c a degree %s (95 %%: %s to %s), from %s about %s degrees.\n", withSign(float64(l.Slope), s), plusMinus(s),
		withSign(float64(l.Low), s), withSign(float64(l.High), s), count(l.Readings, "reading"), analysis.Fixed(l.At, 0))
	if l.Lag > 0 {
		fmt.Fprintf(w, "It follows the thermometer about %s late: wait twice as long before you trust a strike.\n", minutes(l.Lag))
	}
	if n := len(l.Outliers); n > 0 {
		fmt.Fprintf(w, "%s off the line: %s.\n", map[bool]string{true: "One reading lies", false: count(n, "reading") + " lie"}[n == 1], ordinals(l.Outliers))
	}
	if form.Material != nil {
		fmt.Fprintf(w, "Physics expects %s c a degree of %s (%s).\n", analysis.Fixed(float64(of.PerDegree()), -2), of.Name, of.Source)
	}
	if form.Remark != nil {
		fmt.Fprintln(w, *form.Remark)
	}
	f := form.Stage
	if f == nil {
		return
	}
	if known {
		fmt.Fprintf(w, "The %s itself moves %s c a degree (%s).\n", clean(instrument), analysis.Fixed(float64(moves.Slope), -2), made.Name)
	} else {
		fmt.Fprintf(w, "How the %s moves is not known; it is taken to stand still.\n", clean(instrument))
	}
	verdict := "it stays within"
	if f.Leaves {
		verdict = "it leaves its tolerance"
	}
	fmt.Fprintf(w, "At %s degrees it lies %s c %s from the aim (95 %%: %s to %s): %s ±%s c.\n", analysis.Fixed(f.There, -1), withSign(f.Away.Value, f.Away.Sigma), plusMinus(f.Away.Sigma),
		withSign(f.Away.Low, f.Away.Sigma), withSign(f.Away.High, f.Away.Sigma), verdict, trimmed(c.Within))
	if f.Leaves {
		fmt.Fprintf(w, "Bend it %s c now, at %s degrees.\n", withSign(f.Bend, f.Away.Sigma), analysis.Fixed(f.Here, -1))
	}
}

func minutes(d time.Duration) string {
	if d < 90*time.Minute {
		return fmt.Sprintf("%d minutes", int(d.Minutes()+0.5))
	}
	return fmt.Sprintf("%d hours", int(d.Hours()+0.5))
}

func ordinals(all []int) string {
	var words []string
	for _, i := range all {
		words = append(words, "number "+strconv.Itoa(i+1))
	}
	return strings.Join(words, ", ")
}

// readings reads typed pairs or a CSV.
func (c *benchDrift) readings() (all []drift.Reading, err error) {
	if len(c.Readings) == 1 && !strings.Contains(c.Readings[0], "=") {
		return readingsFrom(c.Readings[0])
	}
	for _, text := range c.Readings {
		degrees, hz, ok := strings.Cut(text, "=")
		t, err1 := strconv.ParseFloat(strings.Replace(degrees, ",", ".", 1), 64)
		f, err2 := strconv.ParseFloat(strings.Replace(hz, ",", ".", 1), 64)
		if !ok || err1 != nil || err2 != nil {
			return nil, fmt.Errorf("drift: %q: write degrees, =, and a frequency, as in 18.5=440.2", text)
		}
		all = append(all, drift.Reading{Celsius: t, Heard: analysis.Hz(f)})
	}
	return all, nil
}

// readingsFrom reads a CSV with a head.
func readingsFrom(file string) (all []drift.Reading, err error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("drift: %w", err)
	}
	defer f.Close()
	r := csv.NewReader(io.LimitReader(f, longestList))
	r.TrimLeadingSpace, r.Comment = true, '#'
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("drift: %s: %w", file, err)
	}
	column := map[string]int{}
	for i, name := range head {
		column[strings.ToLower(strings.TrimSpace(name))] = i
	}
	if _, ok := column["celsius"]; !ok {
		return nil, fmt.Errorf("drift: %s has no column celsius; the first line names the columns: time,celsius,hz,sigma_cents", file)
	}
	if _, ok := column["hz"]; !ok {
		return nil, fmt.Errorf("drift: %s has no column hz; the first line names the columns: time,celsius,hz,sigma_cents", file)
	}
	for {
		record, err := r.Read()
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return nil, fmt.Errorf("drift: %s: %w", file, err)
		}
		line, _ := r.FieldPos(0)
		var reading drift.Reading
		for name, i := range column {
			text := strings.TrimSpace(record[i])
			x, err := strconv.ParseFloat(text, 64)
			switch name {
			case "celsius":
				reading.Celsius = x
			case "hz":
				reading.Heard = analysis.Hz(x)
			case "sigma_cents":
				reading.Sigma = analysis.Cents(x)
			case "time":
				reading.Time, err = time.Parse(time.RFC3339, text)
			default:
				continue
			}
			if err != nil {
				return nil, fmt.Errorf("drift: %s:%d: %q cannot stand under %s", file, line, text, name)
			}
		}
		all = append(all, reading)
	}
}
