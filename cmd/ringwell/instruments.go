package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// held is what strikes are held against, as listen and measure both take it.
// What is nil was not said.
type held struct {
	Instrument *string  `placeholder:"NAME" help:"The instrument, or a CSV of notes with columns note, hz, cents, label. (${instrument})"`
	Tuning     *string  `placeholder:"FILE.csv" help:"Measured notes of that instrument: columns note and hz or cents."`
	Reference  *float64 `placeholder:"HZ" help:"Where A4 lies, 415 to 466 Hz. (440)"`
	Kind       *string  `placeholder:"KIND" help:"What is in the hand, which sharpens the choice of the pitch heard: ${kinds}. (unknown)"`
	ClockPPM   *float64 `name:"clock-ppm" placeholder:"PPM" help:"How far the input's clock may be off, one standard deviation; 0 for a file whose clock is exact. (${clock})"`
}

// Validate is called by kong once the flags are read.
func (h *held) Validate() error {
	if h.Reference != nil {
		if err := instrument.CheckReference(analysis.Hz(*h.Reference)); err != nil {
			return fmt.Errorf("--reference: give A4 as %d to %d Hz", instrument.ReferenceLow, instrument.ReferenceHigh)
		}
	}
	if h.Kind != nil {
		if !slices.Contains(analysis.Kinds(), analysis.Kind(*h.Kind)) {
			return fmt.Errorf("--kind: there is no kind %q; there are: %s", *h.Kind, kindNames())
		}
	}
	if h.ClockPPM != nil && !(*h.ClockPPM >= 0 && *h.ClockPPM <= 10000) {
		return fmt.Errorf("--clock-ppm: give 0 to 10000 parts per million")
	}
	return nil
}

func (h *held) kind() analysis.Kind {
	if h.Kind == nil {
		return analysis.Unknown
	}
	return analysis.Kind(*h.Kind)
}

func (h *held) clockPPM() float64 {
	if h.ClockPPM == nil {
		return analysis.UncalibratedClockPPM
	}
	return *h.ClockPPM
}

func (h *held) reference() analysis.Hz {
	if h.Reference == nil {
		return instrument.StandardReference
	}
	return analysis.Hz(*h.Reference)
}

func kindNames() string {
	var names []string
	for _, k := range analysis.Kinds() {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

// instruments are those there are: the built-in ones, those measured onto the
// shelf and, first, one the player brought as a CSV.
type instruments struct {
	own   string      // name of the player's own; "" for none
	notes []byte      // its CSV
	base  string      // the built-in one of which those notes replace some; "" for none
	shelf *shelfPlace // where measured ones are
}

// instruments reads the player's own instrument, if there is one, and checks
// that all is there.
func (h *held) instruments(shelf *shelfPlace) (*instruments, error) {
	set, chosen := &instruments{shelf: shelf}, instrument.Default
	if h.Instrument != nil {
		chosen = *h.Instrument
	}
	var file string
	switch ownFile := strings.EqualFold(filepath.Ext(chosen), ".csv"); {
	case ownFile && h.Tuning != nil:
		return nil, fmt.Errorf("--tuning gives measured notes of a built-in instrument, but %s is an instrument of its own: give one of them", chosen)
	case ownFile:
		file = chosen
		set.own = strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
		if _, err := instrument.ByName(set.own, 0); err == nil {
			set.own += " (own)"
		}
	default:
		if h.Tuning == nil {
			_, err := set.byName(chosen, h.reference())
			return set, err
		}
		in, err := instrument.ByName(chosen, 0)
		if err != nil {
			return nil, err
		}
		file, set.base, set.own = *h.Tuning, in.Name, in.Name+" (measured)"
	}
	notes, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("instrument: %w", err)
	}
	set.own, set.notes = clean(set.own), notes
	if _, err = set.byName(set.own, h.reference()); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return set, nil
}

// names lists the instruments in the order they are offered.
func (s *instruments) names() []string {
	if s.own == "" {
		return instrument.Names()
	}
	return append([]string{s.own}, instrument.Names()...)
}

// byName returns one of them on a reference pitch.
func (s *instruments) byName(name string, ref analysis.Hz) (instrument.Instrument, error) {
	if s.own == "" || name != s.own {
		in, err := instrument.ByName(name, ref)
		if err != nil {
			if measured, none := s.shelf.measured(name, ref); none == nil {
				return measured, nil
			}
		}
		return in, err
	}
	if s.base == "" {
		return instrument.FromCSV(bytes.NewReader(s.notes), s.own, ref)
	}
	in, err := instrument.ByName(s.base, ref)
	if err != nil {
		return in, err
	}
	in, err = in.WithCSV(bytes.NewReader(s.notes))
	in.Name = s.own
	return in, err
}

// chosen is the name of the instrument the flags ask for; "" where they do not.
func (h *held) chosen(s *instruments) string {
	switch {
	case s.own != "":
		return s.own
	case h.Instrument != nil:
		return *h.Instrument
	}
	return ""
}
