package instrument

import (
	"math"
	"strings"
	"testing"

	"ringwell/analysis"
)

// The ranges the trade gives: public range guides, encyclopaedic text on
// marimbas and handbooks, as the table's own rows say; those marked handbook
// there are from memory, unchecked. MIDI numbers: C4 = 60 (MIDI 1.0).
func TestRanges(t *testing.T) {
	for _, c := range []struct {
		name      string
		low, high int
		notes     int
		transpose int
	}{
		{"vibraphone", 53, 89, 37, 0}, // three octaves F to F are 37 bars
		{"vibraphone 3.5", 48, 89, 42, 0},
		{"vibraphone 4", 48, 96, 49, 0},
		{"marimba 4", 48, 96, 49, 0},
		{"marimba 4.3", 45, 96, 52, 0},
		{"marimba 4.5", 41, 96, 56, 0},
		{"marimba 5", 36, 96, 61, 0},
		{"xylophone 3.5", 65, 108, 44, 12},
		{"xylophone 4", 60, 108, 49, 12},
		{"glockenspiel", 79, 108, 30, 24},
		{"glockenspiel 3", 77, 113, 37, 24},
		{"crotales", 84, 108, 25, 24},
		{"crotales 2.5", 84, 113, 30, 24},
		{"tubular bells", 60, 77, 18, 0}, // the usual set of 18
		{"tubular bells to G5", 60, 79, 20, 0},
		{"celesta", 60, 108, 49, 12},
		{"celesta 5", 48, 108, 61, 12},
		{"piano", 21, 108, 88, 0},
		{"double bass strings", 28, 43, 4, -12},
		{"cello strings", 36, 57, 4, 0},
		{"viola strings", 48, 69, 4, 0},
		{"violin strings", 55, 76, 4, 0},
	} {
		in, err := ByName(c.name, 440)
		if err != nil {
			t.Error(err)
			continue
		}
		low, high := in.Notes[0].Key, in.Notes[len(in.Notes)-1].Key
		if low != c.low || high != c.high || len(in.Notes) != c.notes || in.Transpose != c.transpose {
			t.Errorf("%s: got %d notes %s to %s, %+d; want %d notes %s to %s, %+d", c.name,
				len(in.Notes), Label(low), Label(high), in.Transpose, c.notes, Label(c.low), Label(c.high), c.transpose)
		}
		if in.Source == "" {
			t.Errorf("%s: its range has no source", c.name)
		}
	}
}

func TestTableIsWhole(t *testing.T) {
	claimed := map[string]string{}
	for _, r := range table() {
		for _, n := range append(strings.Split(r.also, ","), r.name) {
			if n == "" {
				continue
			}
			if owner, twice := claimed[fold(n)]; twice {
				t.Errorf("%q names both %s and %s", n, owner, r.name)
			}
			claimed[fold(n)] = r.name
			in, err := ByName(strings.ToUpper(n), 442)
			if err != nil || in.Name != r.name {
				t.Errorf("ByName(%q): got %q, %v, want %q", n, in.Name, err, r.name)
			}
		}
		keys := r.keys()
		for i := 1; i < len(keys); i++ {
			if keys[i] <= keys[i-1] {
				t.Errorf("%s: keys do not ascend: %v", r.name, keys)
			}
		}
	}
	if names := Names(); len(names) != len(table()) || names[0] != Default {
		t.Errorf("Names() = %v, want all, %s first", names, Default)
	}
}

func TestByNameRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		ref  analysis.Hz
		says string
	}{
		{"kazoo", 440, "vibraphone"}, // names what there is
		{"", 440, "vibraphone"},
		{"vibraphone", 400, "415"},
		{"vibraphone", analysis.Hz(math.NaN()), "415"},
	} {
		if _, err := ByName(c.name, c.ref); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("ByName(%q, %g): got error %v, want one that says %q", c.name, c.ref, err, c.says)
		}
	}
	if in, err := ByName("piano", 0); err != nil || in.Reference != 440 {
		t.Errorf("ByName(piano, 0): got reference %g Hz, %v, want 440 Hz", in.Reference, err)
	}
}

func TestAtMovesAllButTheMeasured(t *testing.T) {
	in, err := FromCSV(strings.NewReader("note,hz,cents\nC4,262,\nD4,,-5\nE4,none,\n"), "bench", 440)
	if err != nil {
		t.Fatal(err)
	}
	up, err := in.At(442)
	if err != nil {
		t.Fatal(err)
	}
	if got := up.Notes[0].Targets[0]; got != 262 {
		t.Errorf("measured C4 after the move: got %g Hz, want 262 Hz", got)
	}
	if got, want := up.Notes[1].Targets[0], Frequency(62, 442).Shift(-5); math.Abs(float64(got.Above(want))) > 1e-9 {
		t.Errorf("D4 after the move: got %g Hz, want %g Hz", got, want)
	}
	if got := in.Notes[1].Targets[0]; math.Abs(float64(got.Above(Frequency(62, 440).Shift(-5)))) > 1e-9 {
		t.Errorf("the instrument moved from was changed: D4 lies at %g Hz", got)
	}
	if _, err := in.At(500); err == nil {
		t.Error("At(500): taken, want an error")
	}
}

// A glockenspiel sounds two octaves above what is written, a double bass one
// below (public range guide; handbooks, from memory, unchecked).
func TestWritten(t *testing.T) {
	for name, c := range map[string]struct{ sounding, written string }{
		"glockenspiel": {"C6", "C4"}, "xylophone": {"C5", "C4"}, "double bass": {"E1", "E2"}, "vibraphone": {"A4", "A4"},
	} {
		in, err := ByName(name, 440)
		if err != nil {
			t.Fatal(err)
		}
		key, _ := ParseLabel(c.sounding)
		if got := in.Written(key); got != c.written {
			t.Errorf("%s, sounding %s: written %q, want %q", name, c.sounding, got, c.written)
		}
	}
	in, _ := ByName("glockenspiel", 440)
	if got := in.Transposed(12).Written(84); got != "C5" {
		t.Errorf("glockenspiel read an octave below: sounding C6 is written %q, want C5", got)
	}
	if got := in.Written(3); got != "" {
		t.Errorf("nothing can be written for key 3: got %q", got)
	}
}
