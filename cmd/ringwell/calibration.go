package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/clock"
	"ringwell/analysis/listen"
	"ringwell/webview/share"
)

// calibration is what was found out about one input.
type calibration struct {
	Clock *clockCalibration `json:"clock,omitempty"`
	Level *levelCalibration `json:"level,omitempty"`
}

type clockCalibration struct {
	PPM         float64   `json:"ppm"`
	SigmaPPM    float64   `json:"sigma_ppm"`
	ReferenceHz float64   `json:"reference_hz"`
	Measured    time.Time `json:"measured"`
}

// levelCalibration: a sound of SPL dB (re 20 µPa) reads DBFS.
type levelCalibration struct {
	SPL  float64 `json:"spl_db"`
	DBFS float64 `json:"dbfs"`
}

func (l levelCalibration) String() string {
	return fmt.Sprintf("%g dB SPL at %g dBFS", l.SPL, l.DBFS)
}

// String is what the list of inputs says of it.
func (c calibration) String() string {
	var known []string
	if c.Clock != nil {
		known = append(known, "clock runs "+runs(clock.Reading{PPM: c.Clock.PPM, Sigma: c.Clock.SigmaPPM}))
	}
	if c.Level != nil {
		known = append(known, c.Level.String())
	}
	return strings.Join(known, "; ")
}

// calibrations keeps what is known of the inputs, by their names, in a file.
// Without a path nothing is kept.
type calibrations struct {
	path   string
	inputs map[string]calibration
}

type savedCalibrations struct {
	V      int                    `json:"v"`
	Inputs map[string]calibration `json:"inputs"`
}

func calibrationPath() string {
	if dir := stateHome(); dir != "" {
		return filepath.Join(dir, "inputs.json")
	}
	return ""
}

// loadCalibrations reads the file; a missing one is empty. One that cannot be
// understood is an error that says what to do, and is left as it is.
func loadCalibrations(path string) (*calibrations, error) {
	c := &calibrations{path: path, inputs: map[string]calibration{}}
	if path == "" {
		return c, nil
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return c, nil
	}
	if err != nil {
		return nil, fmt.Errorf("calibration: %w", err)
	}
	var saved savedCalibrations
	if err := json.Unmarshal(data, &saved); err != nil {
		return nil, fmt.Errorf("calibration: %s cannot be understood (%v): mend it, or move it away and calibrate again", path, err)
	}
	if saved.V != 1 {
		return nil, fmt.Errorf("calibration: %s is of version %d, this ringwell knows 1: move it away and calibrate again", path, saved.V)
	}
	for name, in := range saved.Inputs {
		if in.Clock != nil && !(math.Abs(in.Clock.PPM) <= 1e4 && in.Clock.SigmaPPM >= 0 && in.Clock.SigmaPPM <= 1e4) {
			return nil, fmt.Errorf("calibration: %s: the clock of %q cannot be off by %g ±%g ppm: calibrate it again", path, name, in.Clock.PPM, in.Clock.SigmaPPM)
		}
		c.inputs[name] = in
	}
	return c, nil
}

// keep changes what is known of an input and writes the file.
func (c *calibrations) keep(name string, change func(*calibration)) error {
	if c.path == "" {
		return errors.New("calibration: there is no home directory to keep it in: set XDG_STATE_HOME")
	}
	in := c.inputs[name]
	change(&in)
	c.inputs[name] = in
	data, err := json.MarshalIndent(savedCalibrations{V: 1, Inputs: c.inputs}, "", "  ")
	if err != nil {
		return fmt.Errorf("calibration: %w", err)
	}
	if err := share.WritePrivate(c.path, append(data, '\n')); err != nil {
		return fmt.Errorf("calibration: keep it: %w", err)
	}
	return nil
}

// apply returns the source at its true rate where its clock was calibrated,
// else the source itself.
func (c *calibrations) apply(s listen.Source) listen.Source {
	in := c.inputs[s.Name()].Clock
	if in == nil {
		return s
	}
	return calibrated{s, clock.Reading{PPM: in.PPM, Sigma: in.SigmaPPM}}
}

// calibrated is a source whose clock's error is known.
type calibrated struct {
	listen.Source
	clock clock.Reading
}

func (s calibrated) Rate() analysis.Rate { return s.clock.Apply(s.Source.Rate()) }

// ClockPPM is what listen.Attend puts into the strikes of this source.
func (s calibrated) ClockPPM() float64 { return s.clock.Sigma }
