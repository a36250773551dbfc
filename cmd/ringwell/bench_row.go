package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"text/tabwriter"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/webview"
)

type benchRow struct {
	File string   `arg:"" help:"A CSV with the columns name, holds_ml, in_ml and hz: one line a sound, several lines of one name where several fills were heard."`
	Aims []string `env:"-" required:"" sep:"none" name:"aim" placeholder:"PLACE" help:"A place as in a wanted list; once for each note."`
	vessel
	JSON bool `name:"json" env:"-" help:"One JSON object."`
	held
	shelfPlace
}

// Validate is called by kong once the flags are read.
func (c *benchRow) Validate() error { return errors.Join(c.vessel.Validate(), c.held.Validate()) }

// Run prints which vessel is for which note.
func (c *benchRow) Run(_ context.Context, std stdio) error {
	in, err := c.instrument(&c.shelfPlace)
	if err != nil {
		return err
	}
	var aims []bench.Aim
	for _, text := range c.Aims {
		a, err := aimAt(text, in)
		if err != nil {
			return err
		}
		aims = append(aims, a)
	}
	vessels, err := readVessels(c.File, c.vessel.job())
	if err != nil {
		return err
	}
	row, err := bench.Assign(vessels, aims)
	if err != nil {
		return err
	}
	if c.JSON {
		return json.NewEncoder(std.out).Encode(webview.RowOf(row, vessels, aims))
	}
	t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
	fmt.Fprintln(t, "note\tvessel\tadd ml\tin it ml\tin it g\tdone")
	for _, p := range row.Placed {
		done := "[ ]"
		if p.Advice.Step == bench.There {
			done = "[x]"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s %s\t%s\t%s\n", aims[p.Aim].Name, clean(vessels[p.Vessel].Name), withSign(p.Change, p.Fill.Sigma),
			digits(p.Fill.Value, p.Fill.Sigma, 1), plusMinus(p.Fill.Sigma), digits(p.Grams, p.Fill.Sigma, 1), done)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("write the row: %w", err)
	}
	for _, a := range row.Bare {
		fmt.Fprintf(std.out, "%s: none of these is likely to reach it.\n", aims[a].Name)
	}
	for _, v := range row.Spare {
		fmt.Fprintf(std.out, "%s is left over.\n", clean(vessels[v].Name))
	}
	return nil
}

// readVessels reads the file of a row.
func readVessels(file string, job bench.Job) ([]bench.Vessel, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("row: %w", err)
	}
	defer f.Close()
	r := csv.NewReader(io.LimitReader(f, longestList))
	r.TrimLeadingSpace, r.FieldsPerRecord, r.Comment = true, 4, '#'
	var all []bench.Vessel
	at, fills := map[string]int{}, map[string]float64{}
	for n := 0; ; n++ {
		record, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("row: %s: %w (the columns are name,holds_ml,in_ml,hz)", file, err)
		}
		if n == 0 && strings.EqualFold(record[0], "name") {
			continue
		}
		line, _ := r.FieldPos(0)
		var x [3]float64
		for i := range x {
			if x[i], err = strconv.ParseFloat(strings.TrimSpace(record[i+1]), 64); err != nil {
				return nil, fmt.Errorf("row: %s:%d: %q is no number; the columns are name,holds_ml,in_ml,hz", file, line, record[i+1])
			}
		}
		name := strings.TrimSpace(record[0])
		i, known := at[name]
		if !known {
			i = len(all)
			at[name] = i
			j := job
			j.Capacity = x[0]
			all = append(all, bench.Vessel{Name: name, Job: j})
		}
		all[i].Entries = append(all[i].Entries, bench.Entry{Added: x[1] - fills[name], Heard: analysis.Hz(x[2])})
		fills[name] = x[1]
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("row: %s names no vessel; write one a line: name,holds_ml,in_ml,hz", file)
	}
	return all, nil
}
