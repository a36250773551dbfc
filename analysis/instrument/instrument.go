package instrument

import (
	"fmt"
	"slices"
	"strings"

	"ringwell/analysis"
)

// Default is the name of the instrument taken where none is chosen.
const Default = "vibraphone"

// Instrument is a set of notes that do not move while one plays.
type Instrument struct {
	Name      string
	Notes     []Note      // by key, ascending, each key once; at least one
	Reference analysis.Hz // A4
	Transpose int         // sounding minus written, semitones: 24 for a glockenspiel
	Source    string      // where range and transposition come from, for people
}

// Names lists the built-in instruments in the order they are offered.
func Names() []string {
	var names []string
	for _, r := range table() {
		names = append(names, r.name)
	}
	return names
}

// ByName returns a built-in instrument in equal temperament on ref, which is
// A4 in Hz (0 means 440). Case, spaces, hyphens and underscores in the name do
// not matter. It errs where the name is unknown, naming those there are, and
// where ref is outside ReferenceLow..ReferenceHigh.
func ByName(name string, ref analysis.Hz) (Instrument, error) {
	if ref == 0 {
		ref = StandardReference
	}
	if err := CheckReference(ref); err != nil {
		return Instrument{}, err
	}
	for _, r := range table() {
		for _, known := range append(strings.Split(r.also, ","), r.name) {
			if fold(known) == fold(name) && fold(name) != "" {
				return r.instrument(ref), nil
			}
		}
	}
	return Instrument{}, fmt.Errorf("instrument: no instrument %q; there are: %s", name, strings.Join(Names(), ", "))
}

func (r row) instrument(ref analysis.Hz) Instrument {
	in := Instrument{Name: r.name, Reference: ref, Transpose: r.transpose, Source: r.source}
	for _, key := range r.keys() {
		in.Notes = append(in.Notes, Note{Key: key, Label: Label(key), Targets: []analysis.Hz{Frequency(key, ref)}})
	}
	return in
}

// fold makes names alike that differ only in case and in what stands between
// words.
func fold(name string) string {
	return strings.ToLower(strings.NewReplacer(" ", "", "-", "", "_", "").Replace(name))
}

// At returns the instrument on another reference pitch: every target moves
// with it but those of notes that were measured (Note.Fixed).
func (in Instrument) At(ref analysis.Hz) (Instrument, error) {
	if err := CheckReference(ref); err != nil {
		return Instrument{}, err
	}
	ratio := ref / in.Reference
	notes := make([]Note, len(in.Notes))
	for i, n := range in.Notes {
		n.Targets = slices.Clone(n.Targets)
		if !n.Fixed {
			for k := range n.Targets {
				n.Targets[k] *= ratio
			}
		}
		notes[i] = n
	}
	in.Notes, in.Reference = notes, ref
	return in, nil
}

// Transposed returns the instrument with another transposition, sounding minus
// written in semitones. What sounds stays as it is.
func (in Instrument) Transposed(semitones int) Instrument {
	in.Transpose = semitones
	return in
}

// Note returns the note with the given key.
func (in Instrument) Note(key int) (Note, bool) {
	i, ok := slices.BinarySearchFunc(in.Notes, key, func(n Note, key int) int { return n.Key - key })
	if !ok {
		return Note{}, false
	}
	return in.Notes[i], true
}

// Written names a sounding key as the player reads it on this instrument: a
// glockenspiel's sounding C6 is written C4. It is "" where nothing could be
// written.
func (in Instrument) Written(key int) string {
	if w := key - in.Transpose; w >= LowestKey && w <= HighestKey {
		return Label(w)
	}
	return ""
}
