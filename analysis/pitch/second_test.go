package pitch

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"ringwell/analysis"
)

// TestSecondOpinion puts periodic sounds before libaubio's YIN, a
// general-purpose library that Debian carries (package aubio-tools), and before
// ours: both must agree on the note, and our refined track must lie nearer the
// truth. libaubio runs with a buffer of 2048 and a hop of 256 samples.
func TestSecondOpinion(t *testing.T) {
	tool, err := exec.LookPath("aubiopitch")
	if err != nil {
		t.Skip("second opinion of libaubio's YIN: aubiopitch is not installed (Debian package aubio-tools)")
	}
	const rate, n = 48000, 2 * 48000
	r := rand.New(rand.NewPCG(11, 1))
	breath := func(x []float64, f, sd float64) []float64 {
		pole := math.Exp(-math.Pi * 40 / rate)
		a, b := 0.0, 0.0
		for i := range x {
			a, b = sd*r.NormFloat64()+2*pole*math.Cos(2*math.Pi*f/rate)*a-pole*pole*b, a
			x[i] += a
		}
		return x
	}
	for _, c := range []struct {
		name string
		hz   float64
		x    []float64
	}{
		{"blown bottle", 187.3, breath(harmonic(rate, 187.3, n, .4, .06, .03), 200, 2e-4)},
		{"blown jar", 233.71, breath(harmonic(rate, 233.71, n, .4, .063, .03, .01), 240, 2e-4)},
		{"bowed string", 196.6, harmonic(rate, 196.6, n, .1, .2, .1, .1, .06, .05, .03)},
		{"rubbed glass", 880.9, harmonic(rate, 880.9, n, .4, .02)},
	} {
		file := filepath.Join(t.TempDir(), "sound.wav")
		if err := os.WriteFile(file, wave16(c.x, rate), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-i", file, "-p", "yin", "-B", "2048", "-H", "256").Output()
		if err != nil {
			t.Fatalf("%s: aubiopitch: %v", c.name, err)
		}
		var theirs []float64
		for _, line := range strings.Split(string(out), "\n") {
			var at, hz float64
			if k, _ := fmt.Sscan(line, &at, &hz); k == 2 && hz > 0 && at > 0.1 && at < 1.9 {
				theirs = append(theirs, math.Abs(1200*math.Log2(hz/c.hz)))
			}
		}
		var ours []float64
		f := NewFitter(rate, 8, 9600)
		for _, e := range run(rate, Options{}, c.x) {
			if from := int(e.At) - 4800; from >= 0 && from+9600 <= n {
				if fit, ok := f.Fit(c.x[from:from+9600], e.Frequency); ok {
					ours = append(ours, math.Abs(float64(fit.Frequency.Above(analysis.Hz(c.hz)))))
				}
			}
		}
		if len(theirs) < 100 || len(ours) < 100 {
			t.Fatalf("%s: only %d of their estimates and %d of ours", c.name, len(theirs), len(ours))
		}
		a, b := median(theirs), median(ours)
		t.Logf("%-13s %7.2f Hz: median error libaubio %.3f cents, ours %.4f cents", c.name, c.hz, a, b)
		if a > 30 || b > 1 {
			t.Errorf("%s, %.2f Hz: libaubio is off by %.1f cents, ours by %.3f cents; wanted under 30 and 1", c.name, c.hz, a, b)
		}
		if b > a {
			t.Errorf("%s, %.2f Hz: ours is off by %.3f cents, more than libaubio's %.3f cents", c.name, c.hz, b, a)
		}
	}
}

func median(x []float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	return x[len(x)/2]
}

// wave16 is a mono 16-bit WAV file.
func wave16(x []float64, rate int) []byte {
	b := []byte("RIFF\x00\x00\x00\x00WAVEfmt ")
	le := binary.LittleEndian
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1)
	b = le.AppendUint16(b, 1)
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(2*rate))
	b = le.AppendUint16(b, 2)
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(2*len(x)))
	for _, v := range x {
		b = le.AppendUint16(b, uint16(int16(math.Round(max(-1, min(1, v))*32767))))
	}
	le.PutUint32(b[4:], uint32(len(b)-8))
	return b
}
