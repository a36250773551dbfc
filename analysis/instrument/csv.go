package instrument

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"ringwell/analysis"
)

const (
	largestCSV   = 1 << 20 // bytes; 128 notes need a hundredth of it
	mostTargets  = 16      // of one note
	lowestHz     = 8       // C-1 lies at 8.18 Hz
	highestHz    = 25000   // above hearing
	largestCents = 1200    // an offset past an octave is a mistake
)

// FromCSV reads an instrument: exactly the notes listed, on the reference
// pitch ref (0 means 440).
//
// The first line that is neither empty nor a comment (#) names the columns, in
// any order; other columns are ignored:
//
//	note   F#4, Gb4 or a MIDI number, sounding; needed
//	hz     measured frequencies; they do not move with the reference pitch
//	cents  offsets from equal temperament on the reference pitch
//	label  what to show instead of the note's name
//
// A cell of hz or cents may hold several values with spaces between (a
// prepared string, a course of strings), or the word none: the note is there
// and has no place of its own. A row with both cells empty is in equal
// temperament; with both filled it is an error. Columns may be separated by
// commas, semicolons or tabs; with the last two, decimal commas are read too.
// Numbers are plain decimals. Every error names line and column, from 1.
func FromCSV(r io.Reader, name string, ref analysis.Hz) (Instrument, error) {
	if ref == 0 {
		ref = StandardReference
	}
	if err := CheckReference(ref); err != nil {
		return Instrument{}, err
	}
	notes, err := readCSV(r, ref, func(int) error { return nil })
	if err != nil {
		return Instrument{}, fmt.Errorf("instrument: %s: %w", name, err)
	}
	return Instrument{Name: name, Notes: notes, Reference: ref, Source: "measured, from CSV"}, nil
}

// WithCSV returns the instrument with those notes replaced that the CSV lists
// (form and errors as FromCSV). A note the instrument does not have is an
// error.
func (in Instrument) WithCSV(r io.Reader) (Instrument, error) {
	has := func(key int) error {
		if _, ok := in.Note(key); ok {
			return nil
		}
		low, high := in.Notes[0].Label, in.Notes[len(in.Notes)-1].Label
		return fmt.Errorf("the %s has no %s (it has notes from %s to %s)", in.Name, Label(key), low, high)
	}
	measured, err := readCSV(r, in.Reference, has)
	if err != nil {
		return Instrument{}, fmt.Errorf("instrument: %s: %w", in.Name, err)
	}
	in.Notes = slices.Clone(in.Notes)
	for _, n := range measured {
		i := slices.IndexFunc(in.Notes, func(have Note) bool { return have.Key == n.Key })
		in.Notes[i] = n
	}
	return in, nil
}

// CSVError is a fault in a CSV, at a line and a column of it.
type CSVError struct {
	Line, Column int // from 1; Column counts bytes
	Why          string
}

func (e *CSVError) Error() string {
	return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, e.Why)
}

// readCSV reads the notes of a CSV, by key. has says why a key is not taken.
func readCSV(r io.Reader, ref analysis.Hz, has func(key int) error) ([]Note, error) {
	text, err := io.ReadAll(io.LimitReader(r, largestCSV+1))
	if err != nil {
		return nil, fmt.Errorf("read: %w", err)
	}
	if len(text) > largestCSV {
		return nil, &CSVError{1, 1, "more than a megabyte: this is no list of notes"}
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff")) // a spreadsheet's byte order mark
	if line, column, ok := firstBad(text); !ok {
		return nil, &CSVError{line, column, "not UTF-8 text: save the list as CSV in UTF-8"}
	}
	s := &sheet{csv: csv.NewReader(bytes.NewReader(text)), ref: ref, has: has, seen: map[int]int{}}
	s.csv.Comma = separator(text)
	s.csv.Comment = '#'
	s.csv.FieldsPerRecord = -1
	s.csv.TrimLeadingSpace = s.csv.Comma != '\t'
	return s.notes()
}

// firstBad returns where the first byte stands that is not UTF-8 text.
func firstBad(text []byte) (line, column int, ok bool) {
	line, column = 1, 1
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size == 1 || r == 0 {
			return line, column, false
		}
		if column += size; r == '\n' {
			line, column = line+1, 1
		}
		i += size
	}
	return line, column, true
}

// separator looks at the line that names the columns.
func separator(text []byte) rune {
	for line := range bytes.Lines(text) {
		if line = bytes.TrimSpace(line); len(line) == 0 || line[0] == '#' {
			continue
		}
		for _, c := range ";\t" {
			if bytes.ContainsRune(line, c) {
				return c
			}
		}
		break
	}
	return ','
}

// sheet is a CSV while it is read.
type sheet struct {
	csv     *csv.Reader
	ref     analysis.Hz
	has     func(key int) error
	columns map[string]int
	seen    map[int]int // line by key
}

func (s *sheet) notes() ([]Note, error) {
	header, err := s.row()
	if err == io.EOF {
		return nil, &CSVError{1, 1, `empty: the first line names the columns, as in "note,hz"`}
	}
	if err != nil {
		return nil, err
	}
	s.columns = map[string]int{}
	for i, h := range header {
		h = strings.ToLower(strings.TrimSpace(h))
		if _, twice := s.columns[h]; twice && h != "" {
			return nil, s.fault(i, "a second column %q", h)
		}
		s.columns[h] = i
	}
	if _, ok := s.columns["note"]; !ok {
		return nil, s.fault(0, `no column is called "note": the first line names the columns, as in "note,hz" or "note,cents"`)
	}
	var notes []Note
	for {
		cells, err := s.row()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if strings.TrimSpace(strings.Join(cells, "")) == "" {
			continue
		}
		n, err := s.note(cells)
		if err != nil {
			return nil, err
		}
		notes = append(notes, n)
	}
	if len(notes) == 0 {
		line, column := s.csv.FieldPos(0)
		return nil, &CSVError{line, column, "no notes follow this line"}
	}
	slices.SortFunc(notes, func(a, b Note) int { return a.Key - b.Key })
	return notes, nil
}

// row returns the next row; its faults are in our words.
func (s *sheet) row() ([]string, error) {
	cells, err := s.csv.Read()
	var p *csv.ParseError
	if errors.As(err, &p) {
		return nil, &CSVError{p.Line, max(p.Column, 1), p.Err.Error()}
	}
	return cells, err
}

// fault is an error at a cell of the row read last.
func (s *sheet) fault(cell int, format string, args ...any) error {
	line, column := s.csv.FieldPos(cell)
	return &CSVError{line, column, fmt.Sprintf(format, args...)}
}

// cell returns the text of a column and its place; place -1 where the row or
// the sheet does not have it.
func (s *sheet) cell(cells []string, name string) (text string, at int) {
	i, ok := s.columns[name]
	if !ok || i >= len(cells) {
		return "", -1
	}
	return strings.TrimSpace(cells[i]), i
}

func (s *sheet) note(cells []string) (Note, error) {
	name, at := s.cell(cells, "note")
	if at < 0 || name == "" {
		return Note{}, s.fault(max(at, 0), "no note in this row")
	}
	key, err := parseKey(name)
	if err != nil {
		return Note{}, s.fault(at, "%v", err)
	}
	if err := s.has(key); err != nil {
		return Note{}, s.fault(at, "%v", err)
	}
	line, _ := s.csv.FieldPos(at)
	if before, twice := s.seen[key]; twice {
		return Note{}, s.fault(at, "%s stands in line %d already; write several frequencies into one cell, with spaces between", Label(key), before)
	}
	s.seen[key] = line
	n := Note{Key: key, Label: Label(key)}
	if label, _ := s.cell(cells, "label"); printable(label) != "" {
		n.Label = printable(label)
	}
	hz, hzAt := s.cell(cells, "hz")
	cents, centsAt := s.cell(cells, "cents")
	home := Frequency(key, s.ref)
	switch {
	case hz != "" && cents != "":
		return Note{}, s.fault(centsAt, "%s has both hz and cents: leave one of them empty", Label(key))
	case hz != "":
		n.Fixed = true
		n.Targets, err = s.values(hz, hzAt, func(v float64) (analysis.Hz, bool) {
			return analysis.Hz(v), v >= lowestHz && v <= highestHz
		}, fmt.Sprintf("a frequency from %d to %d Hz", lowestHz, highestHz))
	case cents != "":
		n.Targets, err = s.values(cents, centsAt, func(v float64) (analysis.Hz, bool) {
			return home.Shift(analysis.Cents(v)), math.Abs(v) <= largestCents
		}, fmt.Sprintf("an offset from -%d to %d cents", largestCents, largestCents))
	default:
		n.Targets = []analysis.Hz{home}
	}
	return n, err
}

// values reads the targets in one cell.
func (s *sheet) values(text string, at int, target func(float64) (analysis.Hz, bool), wanted string) ([]analysis.Hz, error) {
	if strings.EqualFold(text, "none") {
		return nil, nil
	}
	words := strings.Fields(text)
	if len(words) > mostTargets {
		return nil, s.fault(at, "%d values: a note has at most %d", len(words), mostTargets)
	}
	var targets []analysis.Hz
	for _, w := range words {
		plain := strings.ReplaceAll(w, "−", "-")
		if s.csv.Comma != ',' {
			plain = strings.ReplaceAll(plain, ",", ".")
		}
		v, err := strconv.ParseFloat(plain, 64)
		// ParseFloat takes hexadecimal and underscores too, and nobody means them.
		if err != nil || strings.ContainsAny(plain, "xXpP_nN") {
			return nil, s.fault(at, "%q is not a number; wanted %s, or none", w, wanted)
		}
		t, ok := target(v)
		if !ok {
			return nil, s.fault(at, "%s is not %s", w, wanted)
		}
		targets = append(targets, t)
	}
	slices.Sort(targets)
	return targets, nil
}

func parseKey(s string) (int, error) {
	if n, err := strconv.Atoi(s); err == nil {
		if n < LowestKey || n > HighestKey {
			return 0, fmt.Errorf("MIDI note %d: they run from %d to %d", n, LowestKey, HighestKey)
		}
		return n, nil
	}
	return ParseLabel(s)
}

// printable keeps a label from a file short and free of control characters,
// so that it can stand on a terminal and on a page.
func printable(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == utf8.RuneError || r >= 0x80 && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return -1
		}
		return r
	}, s)
	const longest = 24
	if runes := []rune(s); len(runes) > longest {
		return string(runes[:longest])
	}
	return s
}
