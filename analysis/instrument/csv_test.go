package instrument

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"ringwell/analysis"
)

func TestFromCSV(t *testing.T) {
	tempered := func(key int, cents ...analysis.Cents) []analysis.Hz {
		var out []analysis.Hz
		for _, c := range cents {
			out = append(out, Frequency(key, 442).Shift(c))
		}
		return out
	}
	for _, c := range []struct {
		why, csv string
		want     []Note
	}{
		{"frequencies, sorted by key", "note,hz\nC4,263.1\nA3,221\n", []Note{
			{57, "A3", []analysis.Hz{221}, true}, {60, "C4", []analysis.Hz{263.1}, true}}},
		{"offsets on the reference", "note,cents\nA4,-3.5\n", []Note{{69, "A4", tempered(69, -3.5), false}}},
		{"MIDI numbers, other columns, any order", "bar,cents,note\nx,+2,69\n", []Note{{69, "A4", tempered(69, 2), false}}},
		{"an empty row is tempered", "note,hz\nA4,\nB4\n", []Note{
			{69, "A4", tempered(69, 0), false}, {71, "B4", tempered(71, 0), false}}},
		{"several and none", "note,hz,label\nC4,523 261,bolt\nD4,None,\n", []Note{
			{60, "bolt", []analysis.Hz{261, 523}, true}, {62, "D4", nil, true}}},
		{"several offsets", "note,cents\nC4,3 -3\n", []Note{{60, "C4", tempered(60, -3, 3), false}}},
		{"semicolons and decimal commas", "note;hz\nGb4;370,5\n", []Note{{66, "F#4", []analysis.Hz{370.5}, true}}},
		{"tabs", "note\thz\nF♯4\t370,5 741\n", []Note{{66, "F#4", []analysis.Hz{370.5, 741}, true}}},
		{"byte order mark, comments, blank lines, CRLF, quotes", "\ufeff# bars\r\n\r\n\"Note\",\"Hz\"\r\n\"A4\",\"441\"\r\n,\r\n", []Note{
			{69, "A4", []analysis.Hz{441}, true}}},
		{"a label's control characters are dropped", "note,label\nA4,\x1b[31mred\u202e\n", []Note{{69, "[31mred", tempered(69, 0), false}}},
		{"a typographic minus", "note,cents\nA4,−4\n", []Note{{69, "A4", tempered(69, -4), false}}},
	} {
		in, err := FromCSV(strings.NewReader(c.csv), "bench", 442)
		if err != nil {
			t.Errorf("%s: %q: %v", c.why, c.csv, err)
			continue
		}
		if got, want := fmt.Sprint(in.Notes), fmt.Sprint(c.want); got != want {
			t.Errorf("%s: %q:\n got %s\nwant %s", c.why, c.csv, got, want)
		}
	}
}

func TestFromCSVRefuses(t *testing.T) {
	for _, c := range []struct {
		why, csv     string
		line, column int
		says         string
	}{
		{"empty", "", 1, 1, "empty"},
		{"only a comment", "# nothing\n", 1, 1, "empty"},
		{"no column note", "key,hz\nA4,440\n", 1, 1, "note"},
		{"a column twice", "note,hz,hz\n", 1, 9, "second column"},
		{"no notes", "note,hz\n", 1, 1, "no notes"},
		{"no note in a row", "note,hz\nA4,440\n,441\n", 3, 1, "no note"},
		{"not a note", "note,hz\nA4,440\nH4,441\n", 3, 1, "A to G"},
		{"MIDI number too high", "note,hz\n128,441\n", 2, 1, "127"},
		{"the same note twice", "note,hz\nF#4,370\n\nGb4,371\n", 4, 1, "line 2"},
		{"both hz and cents", "note,hz,cents\nA4,440,2\n", 2, 8, "both"},
		{"not a number", "note,hz\nA4,44o\n", 2, 4, "44o"},
		{"not a number, later in the cell", "note,hz\nA4,440 x\n", 2, 4, `"x"`},
		{"NaN", "note,hz\nA4,NaN\n", 2, 4, "NaN"},
		{"infinite", "note,hz\nA4,inf\n", 2, 4, "inf"},
		{"hexadecimal", "note,hz\nA4,0x1p8\n", 2, 4, "0x1p8"},
		{"negative", "note,hz\nA4,-440\n", 2, 4, "8 to 25000"},
		{"huge", "note,hz\nA4,1e300\n", 2, 4, "8 to 25000"},
		{"offset past an octave", "note,cents\nA4,1201\n", 2, 4, "1200"},
		{"too many values", "note,hz\nA4," + strings.Repeat("440 ", 17) + "\n", 2, 4, "at most 16"},
		{"a decimal comma between commas", "note,hz\nA4,\"440,5\"\n", 2, 4, "440,5"},
		{"a quote left open", "note,hz\nA4,\"440\n", 2, 9, "quote"},
		{"UTF-16", "\xff\xfen\x00o\x00", 1, 1, "UTF-8"},
		{"Latin 1 further down", "note,hz\nA4,440\nB\xb4,2\n", 3, 2, "UTF-8"},
		{"a zero byte", "note,hz\nA4\x00,440\n", 2, 3, "UTF-8"},
		{"too large", "note,hz\n" + strings.Repeat("#\n", 1<<19), 1, 1, "megabyte"},
	} {
		_, err := FromCSV(strings.NewReader(c.csv), "bench", 440)
		var fault *CSVError
		if !errors.As(err, &fault) {
			t.Errorf("%s: got error %v, want one with line and column", c.why, err)
			continue
		}
		if fault.Line != c.line || fault.Column != c.column || !strings.Contains(fault.Why, c.says) {
			t.Errorf("%s: got %v; want line %d, column %d, saying %q", c.why, err, c.line, c.column, c.says)
		}
		if !strings.Contains(err.Error(), "bench") {
			t.Errorf("%s: %v does not name the instrument", c.why, err)
		}
	}
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, os.ErrClosed }

func TestFromCSVPassesOnReadErrors(t *testing.T) {
	if _, err := FromCSV(brokenReader{}, "bench", 440); !errors.Is(err, os.ErrClosed) {
		t.Errorf("got %v, want the reader's own error", err)
	}
	if _, err := FromCSV(strings.NewReader("note\nA4\n"), "bench", 300); err == nil {
		t.Error("reference 300 Hz: taken, want an error")
	}
}

func TestWithCSV(t *testing.T) {
	vibes := named(t, "vibraphone", 442)
	in, err := vibes.WithCSV(strings.NewReader("note,hz\nA4,443.2\n"))
	if err != nil {
		t.Fatal(err)
	}
	if n, _ := in.Note(69); !n.Fixed || n.Targets[0] != 443.2 {
		t.Errorf("A4: got %+v, want 443.2 Hz, measured", n)
	}
	if n, _ := in.Note(70); n.Fixed || math.Abs(float64(n.Targets[0].Above(Frequency(70, 442)))) > exact {
		t.Errorf("A#4: got %+v, want it as it was", n)
	}
	if n, _ := vibes.Note(69); n.Fixed {
		t.Error("the instrument overlaid was changed")
	}
	var fault *CSVError
	if _, err := vibes.WithCSV(strings.NewReader("note,hz\nA4,443\nC8,4200\n")); !errors.As(err, &fault) || fault.Line != 3 || fault.Column != 1 {
		t.Errorf("a note the instrument does not have: got %v, want line 3, column 1", err)
	}
}

// Whatever is read, the instrument can be relied on: keys ascend, targets
// ascend and lie in hearing, every frequency lands; or the error has a place.
func FuzzFromCSV(f *testing.F) {
	for _, seed := range []string{
		"note,hz\nA4,440\n", "note;cents\nGb4;-3,5 2\n", "\ufeff# x\nnote\tlabel\n60\tbolt\n", "note,hz\nC4,none\n", "note,hz\nA4,\"44", "note\n\xff",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		in, err := FromCSV(strings.NewReader(text), "fuzz", 440)
		if err != nil {
			var fault *CSVError
			if !errors.As(err, &fault) || fault.Line < 1 || fault.Column < 1 {
				t.Fatalf("%q: error without a place: %v", text, err)
			}
			return
		}
		last := -1
		for _, n := range in.Notes {
			if n.Key <= last || n.Key > HighestKey || n.Label == "" {
				t.Fatalf("%q: note %+v after key %d", text, n, last)
			}
			last = n.Key
			for i, hz := range n.Targets {
				if !(hz >= 4 && hz <= highestHz*2) || i > 0 && hz < n.Targets[i-1] {
					t.Fatalf("%q: %s has targets %v", text, n.Label, n.Targets)
				}
			}
		}
		for _, hz := range []analysis.Hz{9, 440, 9999} {
			if l := in.Land(hz, Aim{Bend: 3}); l.Key < 0 || math.IsNaN(float64(l.Cents)) || l.Target <= 0 {
				t.Fatalf("%q: %g Hz lands at %+v", text, hz, l)
			}
		}
	})
}
