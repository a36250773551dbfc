package wanted

import "fmt"

// Fault is what is wrong with a line of a list, and what to write instead.
type Fault struct {
	Line   int // from 1
	Column int // of the first rune of what is meant, from 1
	Length int // in runes, at least 1
	Words  string
}

func (f *Fault) Error() string {
	return fmt.Sprintf("line %d, column %d: %s", f.Line, f.Column, f.Words)
}

// fault says what is wrong with a word.
func (w word) fault(format string, args ...any) *Fault {
	return &Fault{Column: w.column, Length: max(1, len([]rune(w.text))), Words: fmt.Sprintf(format, args...)}
}
