package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"text/tabwriter"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/wanted"
)

type wantedCommand struct {
	File string `arg:"" name:"file" help:"A wanted list: one place a line, as in F#5 +30 +-15 bottle x2."`
	shelfPlace
	held
}

// longestList is the longest file read as a list, in bytes: places enough for
// years.
const longestList = 1 << 20

// mostFaults is how many lines that cannot be read are named: a screenful. What
// has more is hardly a list.
const mostFaults = 20

// Run checks a list and tells where its places lie. Lines that cannot be read
// are told on standard error, as FILE:LINE:COLUMN.
func (c *wantedCommand) Run(std stdio) error {
	in, err := c.instrument(&c.shelfPlace)
	if err != nil {
		return err
	}
	list, readable, err := readWanted(c.File, std.err)
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(std.out, 2, 0, 2, ' ', 0)
	for _, p := range list.Places {
		within, kind := wanted.Usual, "any kind"
		if p.Tolerance > 0 {
			within = p.Tolerance
		}
		if p.Kind != analysis.Unknown {
			kind = string(p.Kind)
		}
		fmt.Fprintf(t, "%s\t%s Hz\t± %s c\t%s\t%d wanted\n", p.Name(), analysis.Fixed(float64(p.Target(in)), -2), trimmed(float64(within)), kind, p.Count)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("write the list: %w", err)
	}
	if !readable {
		return errTold
	}
	return nil
}

// readWanted reads a list from a file and tells of the lines that cannot be
// read; the others make up the list.
func readWanted(file string, complaints io.Writer) (list wanted.List, readable bool, err error) {
	f, err := os.Open(file)
	if err != nil {
		return list, false, fmt.Errorf("wanted list: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, longestList+1))
	if err != nil {
		return list, false, fmt.Errorf("wanted list: %w", err)
	}
	if len(text) > longestList {
		return list, false, fmt.Errorf("wanted list: %s is longer than %d bytes: is it a list?", file, longestList)
	}
	list, faults := wanted.Parse(string(text))
	for i, fault := range faults {
		if i == mostFaults {
			fmt.Fprintf(complaints, "%s: %d more lines cannot be read: is it a list?\n", clean(file), len(faults)-i)
			break
		}
		fmt.Fprintf(complaints, "%s:%d:%d: %s\n", clean(file), fault.Line, fault.Column, clean(fault.Words))
	}
	if len(list.Places) == 0 && len(faults) == 0 {
		return list, false, errors.New("wanted list: " + file + " names no place; write one a line, as in F#5 +30 +-15 bottle x2")
	}
	return list, len(faults) == 0, nil
}

// instrument is the one the flags ask for, or the usual one.
func (h *held) instrument(shelf *shelfPlace) (instrument.Instrument, error) {
	set, err := h.instruments(shelf)
	if err != nil {
		return instrument.Instrument{}, err
	}
	name := h.chosen(set)
	if name == "" {
		name = instrument.Default
	}
	return set.byName(name, h.reference())
}
