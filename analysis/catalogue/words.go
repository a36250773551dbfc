package catalogue

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"ringwell/analysis"
)

// How long a text may be, in characters.
const (
	longestLine  = 200
	longestNotes = 20000
)

// Fault is something a person wrote that cannot be kept as it is.
type Fault struct {
	Field string // as in the export: name, mass_g
	Words string // one sentence that can be shown
}

func (f *Fault) Error() string { return "catalogue: " + f.Field + ": " + f.Words }

func (o *Object) check() error {
	if strings.TrimSpace(o.Name) == "" {
		return &Fault{"name", "Give it a name."}
	}
	for _, t := range []struct{ field, text string }{
		{"name", o.Name}, {"material", o.Material}, {"kept_at", o.KeptAt}, {"found_at", o.FoundAt},
	} {
		if err := line(t.field, t.text); err != nil {
			return err
		}
	}
	if err := prose("notes", o.Notes); err != nil {
		return err
	}
	if o.Kind == "" {
		o.Kind = analysis.Unknown
	}
	if !slices.Contains(analysis.Kinds(), o.Kind) {
		return &Fault{"kind", fmt.Sprintf("%q is no kind; there are %v.", o.Kind, analysis.Kinds())}
	}
	if o.FoundOn != "" && !dateForm.MatchString(o.FoundOn) {
		return &Fault{"found_on", "Give a year, a month or a day, as 2024, 2024-05 or 2024-05-17."}
	}
	for _, q := range []struct {
		field string
		value *float64
	}{
		{"length_mm", o.Size.LengthMM}, {"width_mm", o.Size.WidthMM}, {"height_mm", o.Size.HeightMM},
		{"diameter_mm", o.Size.DiameterMM}, {"thickness_mm", o.Size.ThicknessMM}, {"mass_g", o.Size.MassG},
	} {
		if q.value != nil && !(*q.value > 0 && *q.value <= 1e7) {
			return &Fault{q.field, "Give more than 0 and at most ten million, or leave it empty."}
		}
	}
	return nil
}

var dateForm = regexp.MustCompile(`^[0-9]{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12][0-9]|3[01]))?)?$`)

func (v *Voice) check() error {
	for _, t := range []struct{ field, text string }{
		{"place", v.Place}, {"beater", v.Beater}, {"support", v.Support}, {"fill", v.Fill},
	} {
		if err := line(t.field, t.text); err != nil {
			return err
		}
	}
	if p := float64(v.PinnedHz); p != 0 && !(p > 0 && p < 1e6) {
		return &Fault{"pinned_hz", "Give a frequency above 0 Hz, or 0 for the pitch as heard."}
	}
	return nil
}

// line checks a text of one line.
func line(field, text string) error {
	if strings.ContainsAny(text, "\n\r\t") {
		return &Fault{field, "Keep it on one line."}
	}
	return written(field, text, longestLine)
}

// prose checks a text that may have lines.
func prose(field, text string) error { return written(field, text, longestNotes) }

func written(field, text string, longest int) error {
	if !utf8.ValidString(text) {
		return &Fault{field, "It is not text (UTF-8)."}
	}
	if n := utf8.RuneCountInString(text); n > longest {
		return &Fault{field, fmt.Sprintf("It is %d characters long; %d is the most that is kept.", n, longest)}
	}
	for _, r := range text {
		if unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' {
			return &Fault{field, fmt.Sprintf("It holds a control character (U+%04X).", r)}
		}
	}
	return nil
}

// finite reports whether all numbers are numbers.
func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
