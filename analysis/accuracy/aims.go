package accuracy

import "fmt"

// aim is one figure that matters: what is wanted of it, and what came.
type aim struct{ figure, wanted, reached string }

func (b *bench) aim(figure, wanted, format string, a ...any) {
	b.aims = append(b.aims, aim{figure, wanted, fmt.Sprintf(format, a...)})
}

// reached ends the table with all that was aimed at.
func (b *bench) reached() {
	t := b.table("What is aimed at, and what is reached", "figure", "aim", "reached")
	for _, a := range b.aims {
		t.row(a.figure, a.wanted, a.reached)
	}
	t.end(nil)
}
