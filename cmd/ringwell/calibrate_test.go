package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"ringwell/analysis/clock"
	"ringwell/analysis/listen"
	"ringwell/audio"
)

// A recording made by a card that ran 40 ppm fast, of a tone of 1000 Hz.
func TestCalibrateMeasuresARecording(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tone.wav")
	x := make([]float32, 12*48000)
	for i := range x {
		x[i] = float32(0.25 * math.Sin(2*math.Pi*1000/(48000*(1+40e-6))*float64(i)))
	}
	write(t, path, 48000, x)
	var out, complaints output
	if status := run([]string{"calibrate", "--reference", "1000", "--recording", path}, stdio{strings.NewReader(""), &out, &complaints}); status != 0 {
		t.Fatalf("status %d: %s", status, complaints.String())
	}
	m := regexp.MustCompile(`runs ([0-9.]+) ±([0-9.]+) ppm fast`).FindStringSubmatch(out.String())
	if m == nil {
		t.Fatalf("got %q, want the clock's error", out.String())
	}
	got, _ := strconv.ParseFloat(m[1], 64)
	sigma, _ := strconv.ParseFloat(m[2], 64)
	if math.Abs(got-40) > 4*sigma {
		t.Errorf("a clock 40 ppm fast: got %g ±%g ppm", got, sigma)
	}
}

func TestCalibrateRefuses(t *testing.T) {
	for _, c := range []struct {
		why  string
		args []string
		want string
	}{
		{"nothing said", nil, "--reference"},
		{"a level by halves", []string{"--spl", "94"}, "--dbfs"},
		{"both at once", []string{"--spl", "94", "--dbfs=-20", "--reference", "1000"}, "one at a time"},
		{"over full scale", []string{"--spl", "94", "--dbfs=3"}, "--dbfs"},
		{"too short to tell", []string{"--reference", "1000", "--seconds", "1"}, "--seconds"},
		{"no such file", []string{"--reference", "1000", "--recording", "none.wav"}, "none.wav"},
	} {
		var out, complaints output
		if status := run(append([]string{"calibrate"}, c.args...), stdio{strings.NewReader(""), &out, &complaints}); status == 0 || !strings.Contains(complaints.String(), c.want) {
			t.Errorf("%s: status %d, said %q; want a complaint with %q", c.why, status, complaints.String(), c.want)
		}
	}
}

func TestCalibrationIsKeptAndApplied(t *testing.T) {
	path := filepath.Join(t.TempDir(), "state", "inputs.json")
	c, err := loadCalibrations(path)
	if err != nil {
		t.Fatal(err)
	}
	d, err := audio.NewDemo(audio.DemoOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if got := c.apply(d); got != listen.Source(d) {
		t.Error("a source nobody calibrated is not to be touched")
	}
	if err := c.keep(d.Name(), func(in *calibration) { in.Clock = &clockCalibration{PPM: 100, SigmaPPM: 2} }); err != nil {
		t.Fatal(err)
	}
	if err := c.keep(d.Name(), func(in *calibration) { in.Level = &levelCalibration{SPL: 94, DBFS: -20} }); err != nil {
		t.Fatal(err)
	}
	again, err := loadCalibrations(path)
	if err != nil {
		t.Fatal(err)
	}
	s := again.apply(d)
	if got, want := float64(s.Rate()), float64(d.Rate())*1.0001; math.Abs(got-want) > 1e-6 {
		t.Errorf("100 ppm fast: rate %g, want %g", got, want)
	}
	if f, ok := s.(listen.Calibrated); !ok || f.ClockPPM() != 2 {
		t.Errorf("the sigma that is left: got %v, want 2 ppm", f)
	}
	if got, want := again.inputs[d.Name()].String(), "clock runs 100 ±2 ppm fast; 94 dB SPL at -20 dBFS"; got != want {
		t.Errorf("said %q, want %q", got, want)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file: %v %v, want 0600", info, err)
	}
}

func TestBrokenCalibrationSaysWhatToDo(t *testing.T) {
	for _, c := range []struct{ why, text string }{
		{"no JSON", "{"},
		{"from the future", `{"v":7}`},
		{"no clock is that wrong", `{"v":1,"inputs":{"x":{"clock":{"ppm":1e9,"sigma_ppm":1}}}}`},
	} {
		path := filepath.Join(t.TempDir(), "inputs.json")
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := loadCalibrations(path); err == nil || !strings.Contains(err.Error(), "calibrat") || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: got %v, want an error that names %s", c.why, err, path)
		}
	}
}

func TestRunsSaysWhichWay(t *testing.T) {
	for _, c := range []struct {
		r    clock.Reading
		want string
	}{
		{clock.Reading{PPM: 12.34, Sigma: 0.3}, "12.3 ±0.3 ppm fast"},
		{clock.Reading{PPM: -7, Sigma: 2}, "7 ±2 ppm slow"},
	} {
		if got := runs(c.r); got != c.want {
			t.Errorf("%+v: got %q, want %q", c.r, got, c.want)
		}
	}
}
