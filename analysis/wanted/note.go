package wanted

import (
	"regexp"
	"strings"

	"ringwell/analysis/instrument"
)

// naming is whose names a line uses.
type naming int

const (
	anyName     naming = iota
	plainB             // B, which is B flat to some
	foreignName        // Fis, Es, H
)

type note struct {
	label  string // as it is spelt, in plain letters: "F#5", "Gb5", "Fis5"
	key    int
	naming naming
}

// The forms of names. Octaves are those of scientific pitch notation: C4 is
// middle C. regexp.Regexp is safe to share and never changes.
var (
	plainForm   = regexp.MustCompile(`^([A-Ga-g])((?:#|♯|b|♭)*)([-−]?\d)$`)
	foreignForm = regexp.MustCompile(`^(?i)([A-H])(isis|is|eses|es|ses|s|)([-−]?\d)$`)
	syllable    = regexp.MustCompile(`^(?i)(do|ut|re|ré|mi|fa|sol|la|si)(?:(#|♯|b|♭)*)(-?\d)?$`)
	glued       = regexp.MustCompile(`^([A-Ha-h](?:#|♯|b|♭|is|es|s)*[-−]?\d)([-+±−].*)$`)
	signed      = regexp.MustCompile(`^([A-Ha-h](?:#|♯|b|♭)*)([+↑↓])(\d)$`)
	noOctave    = regexp.MustCompile(`^(?i)[A-H](?:#|♯|b|♭|is|es|s)*$`)
)

// readNote reads the name of a note.
func readNote(w word) (note, *Fault) {
	text, _, _ := strings.Cut(w.text, "/")
	if text != w.text { // both names: F#5/Gb5
		if _, err := instrument.ParseLabel(w.text); err != nil {
			return note{}, w.fault("%v", err)
		}
	}
	if m := plainForm.FindStringSubmatch(text); m != nil {
		n, err := spelt(m[1], strings.NewReplacer("♯", "#", "♭", "b").Replace(m[2]), m[3])
		if err != nil {
			return note{}, w.fault("%v", err)
		}
		if n.label[0] == 'B' && m[2] == "" && text == w.text {
			n.naming = plainB
		}
		return n, nil
	}
	if m := foreignForm.FindStringSubmatch(text); m != nil {
		if n, ok := foreign(m[1], strings.ToLower(m[2]), m[3]); ok {
			return n, nil
		}
	}
	return note{}, w.fault("%s", noNote(w.text))
}

// spelt checks a spelling; accidentals are # and b.
func spelt(letter, accidentals, octave string) (note, error) {
	label := strings.ToUpper(letter) + accidentals + strings.ReplaceAll(octave, "−", "-")
	key, err := instrument.ParseLabel(label)
	return note{label: label, key: key}, err
}

// foreign reads German and Dutch names: is is a sharp, es a flat, As and Es
// drop a letter, H is B.
func foreign(letter, ending, octave string) (note, bool) {
	letter = strings.ToUpper(letter)
	vowel := letter == "A" || letter == "E"
	var accidentals string
	switch {
	case ending == "" && letter == "H":
	case ending == "is":
		accidentals = "#"
	case ending == "isis":
		accidentals = "##"
	case ending == "es" && !vowel, ending == "s" && vowel:
		accidentals = "b"
	case ending == "eses" && !vowel, ending == "ses" && vowel:
		accidentals = "bb"
	default:
		return note{}, false
	}
	n, err := spelt(strings.Replace(letter, "H", "B", 1), accidentals, octave)
	// The spelling stays: printed as B4, H4 would no longer say whose B a B is.
	n.label = letter + ending + strings.ReplaceAll(octave, "−", "-")
	n.naming = foreignName
	return n, err == nil
}

// noNote says what to write instead of a name that cannot be read.
func noNote(text string) string {
	if m := syllable.FindStringSubmatch(text); m != nil {
		letters := map[string]string{"do": "C", "ut": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
		letter := letters[strings.ToLower(m[1])]
		return "the octave after a syllable is counted differently from country to country (la3 is A4 to some); write a letter: " +
			letter + "4 lies in the octave from middle C up"
	}
	if m := glued.FindStringSubmatch(text); m != nil {
		return "put a space between the note and the bend: " + m[1] + " " + m[2]
	}
	if m := signed.FindStringSubmatch(text); m != nil {
		return "for a quarter-tone write " + m[1] + m[3] + " quarter-sharp or " + m[1] + m[3] + " quarter-flat"
	}
	if noOctave.MatchString(text) {
		return "say in which octave, as in " + text + "4 (middle C is C4)"
	}
	_, err := instrument.ParseLabel(text)
	if err == nil {
		return "write the note plainly, as in F#5"
	}
	return err.Error() + "; a line begins with a note or a frequency, as in F#5 or 440 Hz"
}
