package wanted

import (
	"reflect"
	"strings"
	"testing"

	"ringwell/analysis"
)

func TestParseLines(t *testing.T) {
	for line, want := range map[string]Spec{
		"F#5 +30 +-15 bottle x2":      {Label: "F#5", Key: 78, Bend: 30, Tolerance: 15, Kind: analysis.Bottle, Count: 2},
		"  gb5\t-12,5c  ×3 ":          {Label: "Gb5", Key: 78, Bend: -12.5, Count: 3},
		"F♯5/G♭5 ±7":                  {Label: "F#5", Key: 78, Tolerance: 7, Count: 1},
		"440 Hz":                      {Frequency: 440, Count: 1},
		"1.25kHz glass":               {Frequency: 1250, Kind: analysis.Glass, Count: 1},
		"440,5 hz −10 cents":          {Frequency: 440.5, Bend: -10, Count: 1},
		"A4 quarter-flat":             {Label: "A4", Key: 69, Quarters: -1, Count: 1},
		"A4 Three-Quarters sharp +5":  {Label: "A4", Key: 69, Quarters: 3, Bend: 5, Count: 1},
		"x2 is the count, not a note": {},
		"C-1 +/- 20 ct":               {Label: "C-1", Key: 0, Tolerance: 20, Count: 1},
		"Fis5 Bells":                  {Label: "Fis5", Key: 78, Kind: analysis.Bell, Count: 1},
		"Es4":                         {Label: "Es4", Key: 63, Count: 1},
		"As3":                         {Label: "As3", Key: 56, Count: 1},
		"h4":                          {Label: "H4", Key: 71, Count: 1},
		"Ces5":                        {Label: "Ces5", Key: 71, Count: 1},
		"B4 + 20":                     {Label: "B4", Key: 71, Bend: 20, Count: 1},
		"A4 +0 x 4":                   {Label: "A4", Key: 69, Count: 4},
	} {
		l, faults := Parse(line)
		if want.Count == 0 {
			if len(faults) == 0 {
				t.Errorf("%q: got %+v, wanted a fault", line, l.Places)
			}
			continue
		}
		if want.Kind == "" {
			want.Kind = analysis.Unknown
		}
		if len(faults) > 0 || len(l.Places) != 1 || l.Places[0].Spec != want {
			t.Errorf("%q: got %+v, %v, wanted %+v", line, l.Places, faults, want)
		}
	}
}

// Every fault says where it is and what to write instead.
func TestFaults(t *testing.T) {
	for line, want := range map[string]struct {
		column int
		words  string // among them
	}{
		"F#":                             {1, "F#4"},
		"h":                              {1, "octave"},
		"440":                            {1, "440 Hz"},
		"12 Hz":                          {1, "between 20 and 20000"},
		"1,200 Hz":                       {1, "1200 or 1.200"},
		"2x A4":                          {1, "x2"},
		"la4 +10":                        {1, "A4 lies in the octave"},
		"sib3":                           {1, "B4 lies"},
		"F#5+30":                         {1, "F#5 +30"},
		"F+5":                            {1, "F5 quarter-sharp"},
		"Q4":                             {1, "A to G"},
		"A4 30":                          {4, "+30 or -30"},
		"A4 +30 +40":                     {8, "bend already"},
		"A4 bottle glass":                {11, "kind already"},
		"A4 +-200":                       {4, "+-100"},
		"A4 +-0.1":                       {4, "+-0.5"},
		"A4 +150":                        {4, "name the next note"},
		"A4 +30 Hz":                      {4, "in cents"},
		"A4 x0":                          {4, "x1 to x99"},
		"A4 x":                           {4, "x2"},
		"A4 3x":                          {4, "x3"},
		"A4 jars":                        {4, "for a jar write glass"},
		"A4 spoon":                       {4, "bar, bell"},
		"A4 # high":                      {4, "line of its own"},
		"A4 B4":                          {4, "line of its own"},
		"A4 880Hz":                       {4, "line of its own"},
		"A4 quarter":                     {4, "quarter-sharp"},
		"440 Hz quarter-sharp":           {8, "+50"},
		"ä5 +10":                         {1, "A to G"},
		"A4 \x1b[31m":                    {4, `\x1b`},
		"A4 \xff":                        {1, "UTF-8"},
		"A4 " + strings.Repeat("x", 300): {201, "200 letters"},
	} {
		l, faults := Parse("# first\n" + line + "\nC5")
		if len(faults) != 1 || faults[0].Line != 2 || faults[0].Column != want.column || faults[0].Length < 1 || !strings.Contains(faults[0].Words, want.words) {
			t.Errorf("%q: got %v, wanted one fault at line 2, column %d with %q", line, faults, want.column, want.words)
		}
		if len(l.Places) != 1 || l.Places[0].Label != "C5" || !reflect.DeepEqual(l.Places[0].Above, []string{"# first", line}) {
			t.Errorf("%q: got %+v, wanted the good line kept and the rest above it", line, l.Places)
		}
	}
}

// B is B flat where German is spoken: a list that shows it may not leave it open.
func TestPlainBBesideGermanNames(t *testing.T) {
	l, faults := Parse("B4\nFis5\nBb3\nB3 +10\n")
	if len(l.Places) != 2 || len(faults) != 2 || faults[0].Line != 1 || faults[1].Line != 4 || !strings.Contains(faults[0].Words, "H4 or Bb4") {
		t.Errorf("B beside Fis: got %v and %v, wanted faults at lines 1 and 4 that offer H4 or Bb4", l.Places, faults)
	}
	if l, faults = Parse("B4\nF#5\n"); len(l.Places) != 2 || len(faults) != 0 {
		t.Errorf("B beside F#: got %v and %v, wanted two places", l.Places, faults)
	}
}

func TestTooManyPlaces(t *testing.T) {
	l, faults := Parse(strings.Repeat("A4\n", MostPlaces+2))
	if len(l.Places) != MostPlaces || len(faults) != 2 || faults[0].Line != MostPlaces+1 {
		t.Errorf("%d lines: got %d places and %v, wanted %d and two faults", MostPlaces+2, len(l.Places), faults, MostPlaces)
	}
}

// What is printed and read again is the same list, with the same faults, and
// nothing that was typed is lost.
func FuzzRoundTrip(f *testing.F) {
	for _, text := range []string{
		"", "\n", "# jars\n\nF#5 +30 +-15 bottle x2\n", "440 Hz\r\nwhat?\r\nA4 quarter-flat\n# end", "H4\nB4\nBb4\n",
		"\ufeffC-1 −3,5 ±.5", "1,000 Hz\n1,0 kHz", "A4 x99 ¢\n\x00\n\x1b[2J\n\u2028", "C#b4 +0", "B♭♭3 three-quarters flat",
		"\xef\ufeff\xbb\xbf", "A4\n\ufeffC5",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, faults := Parse(text)
		again, faultsAgain := Parse(l.String())
		if !reflect.DeepEqual(l, again) || !reflect.DeepEqual(faults, faultsAgain) {
			t.Errorf("%q: got %+v %v, printed %q, read again %+v %v, wanted the same", text, l, faults, l.String(), again, faultsAgain)
		}
		for _, fault := range faults {
			if fault.Line < 1 || fault.Column < 1 || fault.Length < 1 || fault.Words == "" {
				t.Errorf("%q: got fault %+v, wanted a place and words", text, fault)
			}
		}
		for _, p := range l.Places {
			if p.Count < 1 || p.Count > MostCount || p.Tolerance < 0 || p.Tolerance > MostWithin || p.Bend > MostBend || p.Bend < -MostBend {
				t.Errorf("%q: got %+v, out of range", text, p.Spec)
			}
			if one, err := ParseLine(p.Spec.String()); err != nil || one != p.Spec {
				t.Errorf("%q: the line %q by itself: got %+v, %v, wanted %+v", text, p.Spec.String(), one, err, p.Spec)
			}
		}
	})
}
