package wav

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// These tests check both ways against sox (sox.sourceforge.net), an independent
// program that has read and written WAV since 1991.

func needSox(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("sox"); err != nil {
		t.Skip("sox is not installed")
	}
}

func sox(t *testing.T, stdin []byte, args ...string) []byte {
	t.Helper()
	cmd := exec.Command("sox", append([]string{"-V1", "-D"}, args...)...)
	cmd.Stdin = bytes.NewReader(stdin)
	var out, words bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &words
	if err := cmd.Run(); err != nil {
		t.Fatalf("sox %s: %v: %s", strings.Join(args, " "), err, words.String())
	}
	return out.Bytes()
}

func TestReadsWhatSoxWrites(t *testing.T) {
	needSox(t)
	dir := t.TempDir()
	const channels, rate = 2, 44100
	p := noise(channels*2000, 5)
	raw := floats32(func() []float64 {
		v := make([]float64, len(p))
		for i, x := range p {
			p[i] = x * 0.9 // so that rounding up never clips
			v[i] = float64(p[i])
		}
		return v
	}()...)
	for _, row := range []struct {
		args string
		step float64
	}{
		{"-b 8 -e unsigned-integer", 1.0 / 128},
		{"-b 16 -e signed-integer", 1.0 / 32768},
		{"-b 24 -e signed-integer", 0x1p-23},
		{"-b 32 -e signed-integer", 0x1p-24}, // the source has 24 bits of mantissa
		{"-b 32 -e floating-point", 0x1p-24}, // sox itself rounds to 24 bits,
		{"-b 64 -e floating-point", 0x1p-30},
	} {
		path := filepath.Join(dir, "x.wav")
		in := []string{"-t", "raw", "-e", "floating-point", "-b", "32", "-L", "-r", fmt.Sprint(rate), "-c", fmt.Sprint(channels), "-"}
		check := func(how string, file []byte) {
			r, err := NewReader(bytes.NewReader(file))
			if err != nil {
				t.Errorf("%s%s: %v", row.args, how, err)
				return
			}
			if f := r.Format(); f.Rate != rate || f.Channels != channels {
				t.Errorf("%s%s: read as %+v", row.args, how, f)
			}
			got, err := readAll(r, 333)
			if err != nil || len(got) != len(p) {
				t.Errorf("%s%s: %d samples, %v; want %d", row.args, how, len(got), err, len(p))
				return
			}
			for i := range got {
				if math.Abs(got[i]-float64(p[i])) > row.step {
					t.Errorf("%s%s: sample %d reads %v, sox was given %v", row.args, how, i, got[i], p[i])
					return
				}
			}
		}
		sox(t, raw, append(append(in, strings.Fields(row.args)...), path)...)
		file, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		check("", file)
		// Into a pipe sox cannot state the size.
		check(", piped", sox(t, raw, append(append(in, strings.Fields(row.args)...), "-t", "wav", "-")...))
	}
}

func TestSoxReadsWhatIsWritten(t *testing.T) {
	needSox(t)
	for _, row := range written {
		p := noise(1200*row.f.Channels, 9)
		for i := range p {
			p[i] *= 0.9
		}
		path := filepath.Join(t.TempDir(), "ours.wav")
		file := encode(t, row.f, p, Meta{Note: &Note{Key: 72, Fraction: 0.25}, Cues: []Cue{{ID: 1, Frame: 100}}})
		if err := os.WriteFile(path, file, 0o600); err != nil {
			t.Fatal(err)
		}
		out := sox(t, nil, path, "-t", "raw", "-e", "floating-point", "-b", "64", "-L", "-")
		d, err := NewDecoder(Format{Rate: row.f.Rate, Channels: row.f.Channels, Bits: 64, Float: true})
		if err != nil {
			t.Fatal(err)
		}
		got := make([]float64, len(out)/8)
		d.Decode(got, out)
		if len(got) != len(p) {
			t.Errorf("%s: sox reads %d samples, want %d", row.name, len(got), len(p))
			continue
		}
		for i := range got {
			if math.Abs(got[i]-float64(p[i])) > row.step+0x1p-30 {
				t.Errorf("%s: sox reads sample %d as %v, written was %v", row.name, i, got[i], p[i])
				break
			}
		}
		if _, err := exec.LookPath("soxi"); err != nil {
			continue
		}
		for flag, want := range map[string]int{"-r": row.f.Rate, "-c": row.f.Channels, "-b": row.f.Bits, "-s": 1200} {
			said, err := exec.Command("soxi", flag, path).Output()
			if got := strings.TrimSpace(string(said)); err != nil || got != fmt.Sprint(want) {
				t.Errorf("%s: soxi %s says %q, %v; want %d", row.name, flag, got, err, want)
			}
		}
	}
}
