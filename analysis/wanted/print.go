package wanted

import (
	"strconv"
	"strings"

	"ringwell/analysis"
)

// String returns the line that says s: Parse gives it back.
func (s Spec) String() string {
	parts := []string{s.Label}
	if s.Label == "" {
		parts[0] = decimal(float64(s.Frequency)) + " Hz"
	}
	if s.Quarters != 0 {
		parts = append(parts, quarterWord(s.Quarters))
	}
	if s.Bend != 0 {
		parts = append(parts, signedCents(s.Bend))
	}
	if s.Tolerance != 0 {
		parts = append(parts, "+-"+decimal(float64(s.Tolerance)))
	}
	if s.Kind != analysis.Unknown && s.Kind != "" {
		parts = append(parts, string(s.Kind))
	}
	if s.Count > 1 {
		parts = append(parts, "x"+strconv.Itoa(s.Count))
	}
	return strings.Join(parts, " ")
}

func quarterWord(n int) string {
	words := map[int]string{1: "quarter-sharp", -1: "quarter-flat", 3: "three-quarters-sharp", -3: "three-quarters-flat"}
	return words[n]
}

func signedCents(c analysis.Cents) string {
	if c > 0 {
		return "+" + decimal(float64(c))
	}
	return decimal(float64(c))
}

// decimal writes x so that reading it gives x again, without an exponent.
func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// String returns the text of the list: Parse gives it back, IDs, ticks and what
// was found apart.
func (l List) String() string {
	var b strings.Builder
	for _, p := range l.Places {
		for _, line := range p.Above {
			b.WriteString(line + "\n")
		}
		b.WriteString(p.Spec.String() + "\n")
	}
	for _, line := range l.Below {
		b.WriteString(line + "\n")
	}
	return b.String()
}
