package instrument

// row is one instrument of the table: either every semitone from low to high,
// or the open strings listed.
type row struct {
	name      string
	also      string // other names it is found by, separated by commas
	low, high string // sounding
	strings   []string
	transpose int // sounding minus written, semitones
	source    string
}

const (
	retailer = "a retailer's public range guide; else common practice, no source"
	handbook = "from memory of orchestration handbooks, unchecked"
	practice = "common practice, no source"
)

// table returns the built-in instruments in the order they are offered. The
// first is the default.
func table() []row {
	return []row{
		{name: "vibraphone", also: "vibraphone 3, vibes", low: "F3", high: "F6", source: retailer},
		{name: "vibraphone 3.5", low: "C3", high: "F6", source: practice},
		{name: "vibraphone 4", low: "C3", high: "C7", source: practice},
		{name: "marimba 4", low: "C3", high: "C7", source: "public encyclopaedic text on marimba ranges; " + retailer},
		{name: "marimba 4.3", low: "A2", high: "C7", source: "public encyclopaedic text on marimba ranges; " + retailer},
		{name: "marimba 4.5", low: "F2", high: "C7", source: "public encyclopaedic text on marimba ranges; " + retailer},
		{name: "marimba 5", also: "marimba", low: "C2", high: "C7", source: "public encyclopaedic text on marimba ranges; " + retailer},
		{name: "xylophone 3.5", low: "F4", high: "C8", transpose: 12, source: retailer},
		{name: "xylophone 4", also: "xylophone", low: "C4", high: "C8", transpose: 12, source: retailer},
		{name: "glockenspiel", also: "glockenspiel 2.5, orchestra bells", low: "G5", high: "C8", transpose: 24, source: handbook + "; transposition: " + retailer},
		{name: "glockenspiel 3", low: "F5", high: "F8", transpose: 24, source: retailer},
		{name: "crotales", also: "crotales 2, antique cymbals", low: "C6", high: "C8", transpose: 24, source: retailer},
		{name: "crotales 2.5", low: "C6", high: "F8", transpose: 24, source: retailer},
		{name: "tubular bells", also: "chimes, tubular bells 1.5", low: "C4", high: "F5", source: handbook + "; the pitch is a strike note"},
		{name: "tubular bells to G5", low: "C4", high: "G5", source: handbook + "; the pitch is a strike note"},
		{name: "celesta", also: "celeste, celesta 4", low: "C4", high: "C8", transpose: 12, source: handbook},
		{name: "celesta 5", low: "C3", high: "C8", transpose: 12, source: handbook},
		{name: "piano", also: "piano 88", low: "A0", high: "C8", source: handbook},
		{name: "double bass strings", also: "double bass, bass strings, contrabass", strings: []string{"E1", "A1", "D2", "G2"}, transpose: -12, source: handbook},
		{name: "cello strings", also: "cello", strings: []string{"C2", "G2", "D3", "A3"}, source: handbook},
		{name: "viola strings", also: "viola", strings: []string{"C3", "G3", "D4", "A4"}, source: handbook},
		{name: "violin strings", also: "violin", strings: []string{"G3", "D4", "A4", "E5"}, source: handbook},
	}
}

// keys returns the row's sounding keys, ascending. The table is checked by a
// test, so that a label that cannot be read here is a bug.
func (r row) keys() []int {
	must := func(label string) int {
		key, err := ParseLabel(label)
		if err != nil {
			panic("instrument: table: " + r.name + ": " + err.Error())
		}
		return key
	}
	var keys []int
	for _, s := range r.strings {
		keys = append(keys, must(s))
	}
	if keys == nil {
		for key := must(r.low); key <= must(r.high); key++ {
			keys = append(keys, key)
		}
	}
	return keys
}
