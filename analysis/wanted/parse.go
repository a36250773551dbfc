package wanted

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Parse reads a list. Lines that cannot be read are told of, all of them and in
// order, and kept as they are among the lines around; the places of all others
// make up the list. IDs are w1, w2, ...; nothing is filled.
func Parse(text string) (List, []*Fault) {
	lines := splitLines(text)
	specs, faults := make([]*Spec, len(lines)), make([]*Fault, len(lines))
	names := make([]naming, len(lines))
	foreign := false
	for i, line := range lines {
		specs[i], names[i], faults[i] = parseLine(line)
		foreign = foreign || names[i] == foreignName
	}
	l := List{Next: 1}
	var waiting []string // lines that are no place
	var told []*Fault
	for i, line := range lines {
		fault := faults[i]
		switch {
		case specs[i] != nil && foreign && names[i] == plainB:
			w := words(line)[0]
			octave := strings.TrimLeft(w.text, "Bb")
			fault = w.fault("beside names like Fis and H a plain B may be B or B flat; write H%s or Bb%s", octave, octave)
		case specs[i] != nil && len(l.Places) == MostPlaces:
			fault = words(line)[0].fault("a list holds at most %d places; leave this one out", MostPlaces)
		}
		if fault != nil {
			fault.Line = i + 1
			told = append(told, fault)
		}
		if fault != nil || specs[i] == nil {
			waiting = append(waiting, line)
			continue
		}
		l.Places = append(l.Places, Place{ID: l.newID(), Spec: *specs[i], Above: waiting})
		waiting = nil
	}
	l.Below = waiting
	return l, told
}

func (l *List) newID() string {
	l.Next++
	return fmt.Sprintf("w%d", l.Next-1)
}

// splitLines cuts text into lines. Byte order marks that begin a line, as where
// one file was put behind another, and carriage returns that end one are
// editors' business and go. A mark within a line stays: taken out of broken
// text, it may leave another.
func splitLines(text string) []string {
	text = withoutMark(text)
	if text == "" {
		return nil
	}
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	for i := range lines {
		lines[i] = withoutMark(strings.TrimRight(lines[i], "\r"))
	}
	return lines
}

func withoutMark(text string) string {
	for strings.HasPrefix(text, "\ufeff") {
		text = text[len("\ufeff"):]
	}
	return text
}

// word is a run of runes without a space.
type word struct {
	text   string
	column int // of its first rune, from 1
}

func words(line string) []word {
	var ws []word
	column, start, from := 0, -1, 0
	for i, r := range line {
		column++
		if unicode.IsSpace(r) {
			if start >= 0 {
				ws = append(ws, word{line[start:i], from})
			}
			start = -1
		} else if start < 0 {
			start, from = i, column
		}
	}
	if start >= 0 {
		ws = append(ws, word{line[start:], from})
	}
	return ws
}

// parseLine reads one line: a place, or nothing where it is empty or a comment.
func parseLine(line string) (*Spec, naming, *Fault) {
	trimmed := strings.TrimSpace(line)
	if trimmed == "" {
		return nil, 0, nil
	}
	if !utf8.ValidString(line) {
		return nil, 0, &Fault{Column: 1, Length: 1, Words: "this line is not text in UTF-8; save the list as UTF-8"}
	}
	if strings.HasPrefix(trimmed, "#") {
		return nil, 0, nil
	}
	if n := utf8.RuneCountInString(line); n > longestLine {
		return nil, 0, &Fault{Column: longestLine + 1, Length: n - longestLine,
			Words: fmt.Sprintf("a line holds at most %d letters; put remarks on lines of their own that begin with #", longestLine)}
	}
	r := reader{words: words(line)}
	spec, fault := r.spec()
	if fault != nil {
		return nil, 0, fault
	}
	return &spec, r.naming, nil
}

// ParseLine reads one line that names a place, by itself: a plain B is B.
func ParseLine(line string) (Spec, error) {
	spec, _, fault := parseLine(line)
	switch {
	case fault != nil:
		fault.Line = 1
		return Spec{}, fault
	case spec == nil:
		return Spec{}, errors.New("this line names no place")
	}
	return *spec, nil
}
