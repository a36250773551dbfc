package instrument

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"ringwell/analysis"
)

// The reference pitches that are taken, in Hz for A4: a semitone below
// (415.3, "low pitch") to a semitone above (466.2, "choir pitch") the standard
// 440, each given to the nearest hertz. Common practice, no source.
const (
	ReferenceLow  = 415
	ReferenceHigh = 466
)

// StandardReference is A4 of ISO 16:1975, in Hz. From memory, unchecked.
const StandardReference analysis.Hz = 440

// Keys run over the MIDI note numbers.
const (
	LowestKey  = 0   // C-1
	HighestKey = 127 // G9
	keyA4      = 69
)

// Note is one note of an instrument.
type Note struct {
	Key     int           // MIDI note number of the sounding pitch, 0..127
	Label   string        // what is said and shown, sounding pitch: "F#4"
	Targets []analysis.Hz // where it lies, ascending: one by default, none or several for a prepared string
	Fixed   bool          // the targets were measured: they stay where they are when the reference pitch moves
}

// CheckReference returns an error unless ref, rounded to a whole hertz, lies
// within ReferenceLow..ReferenceHigh.
func CheckReference(ref analysis.Hz) error {
	if r := math.Round(float64(ref)); r >= ReferenceLow && r <= ReferenceHigh {
		return nil
	}
	return fmt.Errorf("instrument: reference pitch %g Hz: give A4 as %d to %d Hz", float64(ref), ReferenceLow, ReferenceHigh)
}

// Frequency returns the frequency in Hz of a key in equal temperament where
// A4 lies at ref: ref·2^((key−69)/12).
func Frequency(key int, ref analysis.Hz) analysis.Hz {
	return ref * analysis.Hz(math.Exp2(float64(key-keyA4)/12))
}

// Nearest returns the key in equal temperament nearest to f, 0..127, and how
// far f lies above it. Midway between two keys the lower one is returned. f
// and ref must be positive.
func Nearest(f, ref analysis.Hz) (key int, above analysis.Cents) {
	const tie = 1e-9 // semitones: rounding must not decide at the middle
	n := keyA4 + float64(f.Above(ref))/100
	key = int(min(max(math.Ceil(n-0.5-tie), LowestKey), HighestKey))
	return key, f.Above(Frequency(key, ref))
}

var (
	sharps = [12]string{"C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"}
	flats  = [12]string{"C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"}
)

// Label names a key, 0..127, with sharps: 66 is "F#4"; 60 is "C4", middle C.
func Label(key int) string { return label(key, &sharps) }

// FlatLabel names a key, 0..127, with flats: 66 is "Gb4".
func FlatLabel(key int) string { return label(key, &flats) }

func label(key int, names *[12]string) string {
	octave := int(math.Floor(float64(key)/12)) - 1
	return names[((key%12)+12)%12] + strconv.Itoa(octave)
}

// ParseLabel reads the name of a note and returns its key: a letter A to G,
// any accidentals (# or ♯, b or ♭, up to two), and an octave from -1 to 9
// where C4 is middle C. "F#4", "gb4", "B♭3", "Cb4" (which is B3) and both
// names at once, "F#4/Gb4", are read. The octave goes with the letter.
func ParseLabel(s string) (key int, err error) {
	if first, second, two := strings.Cut(s, "/"); two {
		a, err := ParseLabel(first)
		if err != nil {
			return 0, err
		}
		b, err := ParseLabel(second)
		if err != nil {
			return 0, err
		}
		if a != b {
			return 0, fmt.Errorf("%q names two different notes", s)
		}
		return a, nil
	}
	bad := func(why string) (int, error) {
		return 0, fmt.Errorf("%q is not a note: %s", s, why)
	}
	rest := strings.TrimSpace(s)
	if rest == "" {
		return bad("write a letter and an octave, as in F#4")
	}
	steps := strings.IndexByte("C D EF G A B", upper(rest[0]))
	if steps < 0 || rest[0] == ' ' {
		return bad("it begins with a letter from A to G, as in F#4")
	}
	rest = rest[1:]
	accidentals := 0
	for {
		if r, ok := cutAny(rest, "#", "♯"); ok {
			rest, steps, accidentals = r, steps+1, accidentals+1
		} else if r, ok := cutAny(rest, "b", "♭"); ok {
			rest, steps, accidentals = r, steps-1, accidentals+1
		} else {
			break
		}
	}
	if accidentals > 2 {
		return bad("at most two accidentals")
	}
	octave, err := strconv.Atoi(strings.ReplaceAll(rest, "−", "-"))
	if err != nil || octave < -1 || octave > 9 {
		return bad("it ends with an octave from -1 to 9, as in F#4 (middle C is C4)")
	}
	key = (octave+1)*12 + steps
	if key < LowestKey || key > HighestKey {
		return bad("notes run from C-1 to G9")
	}
	return key, nil
}

func upper(c byte) byte {
	if 'a' <= c && c <= 'z' {
		return c - 'a' + 'A'
	}
	return c
}

func cutAny(s string, prefixes ...string) (rest string, ok bool) {
	for _, p := range prefixes {
		if rest, ok := strings.CutPrefix(s, p); ok {
			return rest, true
		}
	}
	return s, false
}
