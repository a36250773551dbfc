package instrument

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ringwell/analysis"
)

// The MIDI note frequencies: MIDI 1.0, MIDI Association, public text
// (f = A·2^((n−69)/12), middle C = 60), computed to four decimals with
// numpy. A4 = 440 Hz is ISO 16:1975 (from memory, unchecked); 442 Hz is one
// mallet maker's published example.
func TestFrequencyOfMIDINotes(t *testing.T) {
	for _, c := range []struct {
		key   int
		label string
		at440 float64
		at442 float64
	}{
		{0, "C-1", 8.1758, 8.2130},
		{21, "A0", 27.5000, 27.6250},
		{53, "F3", 174.6141, 175.4078},
		{60, "C4", 261.6256, 262.8148},
		{69, "A4", 440, 442},
		{72, "C5", 523.2511, 525.6295},
		{89, "F6", 1396.9129, 1403.2625},
		{108, "C8", 4186.0090, 4205.0364},
		{127, "G9", 12543.8540, 12600.8715},
	} {
		for ref, want := range map[analysis.Hz]float64{440: c.at440, 442: c.at442} {
			// Half a unit in the last printed place, and as much again for the
			// table's own rounding.
			if got := Frequency(c.key, ref); math.Abs(float64(got)-want) > 1e-4 {
				t.Errorf("%s (MIDI %d) with A4 = %g Hz: got %.5f Hz, want %.4f Hz", c.label, c.key, ref, got, want)
			}
		}
		if got := Label(c.key); got != c.label {
			t.Errorf("label of MIDI %d: got %q, want %q", c.key, got, c.label)
		}
		if got, err := ParseLabel(c.label); err != nil || got != c.key {
			t.Errorf("%q: got MIDI %d, %v, want %d", c.label, got, err, c.key)
		}
	}
}

// Offsets of reference pitches from 440 Hz: 1200·log2(f/440), computed with
// numpy to four decimals.
func TestReferenceOffsets(t *testing.T) {
	for f, want := range map[analysis.Hz]float64{441: 3.9302, 442: 7.8514, 443: 11.7638, 435: -19.7857} {
		key, got := Nearest(f, 440)
		if key != 69 || math.Abs(float64(got)-want) > 5.1e-5 {
			t.Errorf("%g Hz on 440: got key %d and %.5f cents, want 69 and %.4f", f, key, got, want)
		}
	}
}

func TestCheckReference(t *testing.T) {
	for _, good := range []analysis.Hz{415, 415.3, 432, 440, 442, 466, 466.16} {
		if err := CheckReference(good); err != nil {
			t.Errorf("%g Hz: %v, want it taken", good, err)
		}
	}
	for _, bad := range []analysis.Hz{0, -440, 414, 467, 44000, analysis.Hz(math.NaN()), analysis.Hz(math.Inf(1))} {
		if err := CheckReference(bad); err == nil {
			t.Errorf("%g Hz: taken, want an error", bad)
		}
	}
}

func TestEveryLabelIsReadBack(t *testing.T) {
	for key := LowestKey; key <= HighestKey; key++ {
		for _, l := range []string{Label(key), FlatLabel(key), Label(key) + "/" + FlatLabel(key), strings.ToLower(Label(key))} {
			if got, err := ParseLabel(l); err != nil || got != key {
				t.Errorf("%q: got MIDI %d, %v, want %d", l, got, err, key)
			}
		}
	}
}

func TestParseLabel(t *testing.T) {
	for s, want := range map[string]int{
		"F#4": 66, "Gb4": 66, "f♯4": 66, "G♭4": 66, "F#4/Gb4": 66,
		"Cb4": 59, "B#3": 60, "Fbb4": 63, "C##4": 62, " A4 ": 69, "C−1": 0, "bb3": 58,
	} {
		if got, err := ParseLabel(s); err != nil || got != want {
			t.Errorf("%q: got MIDI %d, %v, want %d", s, got, err, want)
		}
	}
	for s, why := range map[string]string{
		"":        "nothing there",
		"4":       "no letter",
		"H4":      "not a letter of A to G",
		"A":       "no octave",
		"A10":     "octave too high",
		"A9":      "above G9",
		"Cb-1":    "below C-1",
		"A###4":   "three accidentals",
		"A4x":     "something after the octave",
		"F#4/G4":  "two different notes",
		"F#4/":    "half of it missing",
		"A４":      "a digit that is not one of 0 to 9",
		"\x1b[31": "control characters",
	} {
		if got, err := ParseLabel(s); err == nil {
			t.Errorf("%q (%s): got MIDI %d, want an error", s, why, got)
		}
	}
}

func TestNearestIsLowerAtTheMiddle(t *testing.T) {
	middle := Frequency(60, 440).Shift(50)
	if key, above := Nearest(middle, 440); key != 60 || math.Abs(float64(above)-50) > 1e-9 {
		t.Errorf("%g Hz, 50 cents above C4: got key %d, %+.3f cents", middle, key, above)
	}
	for f, want := range map[analysis.Hz]int{0.1: LowestKey, 90000: HighestKey} {
		if key, _ := Nearest(f, 440); key != want {
			t.Errorf("%g Hz: got key %d, want the outermost, %d", f, key, want)
		}
	}
}

// MIDI 1.0, MIDI Association: note 69 is A4 at 440 Hz, note 60 middle C at
// 261.6256 Hz.
func ExampleFrequency() {
	fmt.Printf("%s %.4f Hz, %s %.4f Hz\n", Label(60), Frequency(60, 440), Label(69), Frequency(69, 440))
	// Output: C4 261.6256 Hz, A4 440.0000 Hz
}
