package wanted

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"ringwell/analysis"
)

// reader reads the words of one line.
type reader struct {
	words  []word
	naming naming
	seen   map[string]bool // parts of a line that were read
}

// next takes the next word.
func (r *reader) next() (w word, ok bool) {
	if len(r.words) == 0 {
		return word{}, false
	}
	w, r.words = r.words[0], r.words[1:]
	return w, true
}

// takes takes the next word if it is one of these, case apart.
func (r *reader) takes(texts ...string) (string, bool) {
	if len(r.words) == 0 {
		return "", false
	}
	text := strings.ToLower(r.words[0].text)
	if !slices.Contains(texts, text) {
		return "", false
	}
	r.words = r.words[1:]
	return text, true
}

// once reports a part of a line that comes a second time.
func (r *reader) once(w word, part string) *Fault {
	if r.seen[part] {
		return w.fault("this line has a %s already; leave one out", part)
	}
	r.seen[part] = true
	return nil
}

func (r *reader) spec() (Spec, *Fault) {
	s := Spec{Kind: analysis.Unknown, Count: 1}
	r.seen = map[string]bool{}
	first, _ := r.next()
	if fault := r.place(first, &s); fault != nil {
		return s, fault
	}
	for {
		w, ok := r.next()
		if !ok {
			return s, nil
		}
		if fault := r.part(w, &s); fault != nil {
			return s, fault
		}
	}
}

// place reads the note or frequency a line begins with.
func (r *reader) place(w word, s *Spec) *Fault {
	if c := w.text[0]; c >= '0' && c <= '9' || c == '.' || c == ',' {
		return r.frequency(w, s)
	}
	note, fault := readNote(w)
	if fault != nil {
		return fault
	}
	s.Label, s.Key, r.naming = note.label, note.key, note.naming
	return nil
}

func (r *reader) frequency(w word, s *Spec) *Fault {
	digits, unit := cutNumber(w.text)
	if unit == "" {
		unit, _ = r.takes("hz", "khz")
	}
	value, fault := number(w, digits)
	if fault != nil {
		return fault
	}
	switch strings.ToLower(unit) {
	case "hz":
	case "khz":
		value *= 1000
	case "":
		return w.fault("%s of what? For a frequency write %s Hz; a list has one place a line, the place first, as in F#5 or 440 Hz", digits, digits)
	default:
		if strings.ContainsAny(unit[:1], "xX×") || strings.HasPrefix(unit, "×") {
			return w.fault("a place comes first and how many after it: F#5 x%s", digits)
		}
		return w.fault("%q is no frequency; write it as in 440 Hz or 1.25 kHz", w.text)
	}
	if f := analysis.Hz(value); f < LowestHz || f > HighestHz {
		return w.fault("a frequency must lie between %g and %g Hz", float64(LowestHz), float64(HighestHz))
	}
	s.Frequency = analysis.Hz(value)
	return nil
}

// part reads whatever follows the place.
func (r *reader) part(w word, s *Spec) *Fault {
	if digits, ok := cutSign(w.text, "+-", "+/-", "±", "-+", "+−"); ok {
		return r.tolerance(w, digits, s)
	}
	if digits, ok := cutSign(w.text, "+"); ok {
		return r.bend(w, digits, 1, s)
	}
	if digits, ok := cutSign(w.text, "-", "−"); ok {
		return r.bend(w, digits, -1, s)
	}
	lower := strings.ToLower(w.text)
	if digits, ok := cutSign(lower, "x", "×"); ok && strings.Trim(digits, "0123456789") == "" {
		return r.count(w, digits, s)
	}
	if quarters, known, fault := r.quarters(w, lower); known || fault != nil {
		if fault == nil {
			fault = r.once(w, "quarter-tone")
		}
		if fault == nil && s.Label == "" {
			fault = w.fault("a quarter-tone goes with a note; beside a frequency write a bend in cents, as in +50")
		}
		s.Quarters = quarters
		return fault
	}
	for _, k := range analysis.Kinds() {
		if k != analysis.Unknown && (lower == string(k) || lower == string(k)+"s" || lower == string(k)+"es") {
			s.Kind = k
			return r.once(w, "kind")
		}
	}
	return stray(w, lower)
}

// quarters reads the words for a quarter-tone.
func (r *reader) quarters(w word, lower string) (n int, known bool, fault *Fault) {
	rest, known := strings.CutPrefix(lower, "three-quarters")
	n = 3
	if !known {
		if rest, known = strings.CutPrefix(lower, "quarter"); !known {
			return 0, false, nil
		}
		n = 1
	}
	switch rest = strings.TrimPrefix(rest, "-"); rest {
	case "":
		rest, _ = r.takes("sharp", "flat")
	case "sharp", "flat":
	}
	switch rest {
	case "sharp":
		return n, true, nil
	case "flat":
		return -n, true, nil
	}
	return 0, true, w.fault("for a quarter-tone write quarter-sharp, quarter-flat, three-quarters-sharp or three-quarters-flat")
}

func (r *reader) tolerance(w word, digits string, s *Spec) *Fault {
	value, fault := r.cents(w, digits, "tolerance", "+-15")
	if fault != nil {
		return fault
	}
	if c := analysis.Cents(value); !(c >= LeastWithin && c <= MostWithin) {
		return w.fault("a tolerance must lie between +-%g and +-%g cents", float64(LeastWithin), float64(MostWithin))
	}
	s.Tolerance = analysis.Cents(value)
	return r.once(w, "tolerance")
}

func (r *reader) bend(w word, digits string, sign float64, s *Spec) *Fault {
	value, fault := r.cents(w, digits, "bend", "+30")
	if fault != nil {
		return fault
	}
	if analysis.Cents(value) > MostBend {
		return w.fault("a bend is at most %g cents either way; beyond that name the next note", float64(MostBend))
	}
	s.Bend = analysis.Cents(sign*value) + 0 // no -0
	return r.once(w, "bend")
}

// cents reads a number with or without a unit behind it.
func (r *reader) cents(w word, text, part, example string) (float64, *Fault) {
	if len(r.words) > 0 && text == "" { // "+ 30" reads well enough
		text = r.words[0].text
		r.words = r.words[1:]
	}
	digits, unit := cutNumber(text)
	if digits == "" {
		return 0, w.fault("a %s is a number of cents, as in %s", part, example)
	}
	if unit == "" {
		unit, _ = r.takes("c", "ct", "cent", "cents", "¢", "hz", "%")
	}
	switch strings.ToLower(unit) {
	case "", "c", "ct", "cent", "cents", "¢":
		return number(w, digits)
	}
	return 0, w.fault("a %s is given in cents, as in %s, not in %q", part, example, unit)
}

func (r *reader) count(w word, digits string, s *Spec) *Fault {
	if digits == "" {
		if len(r.words) == 0 {
			return w.fault("say how many after the x, as in x2")
		}
		digits = r.words[0].text
		r.words = r.words[1:]
	}
	n, err := strconv.Atoi(digits)
	if err != nil || n < 1 || n > MostCount {
		return w.fault("how many are wanted is a whole number from x1 to x%d", MostCount)
	}
	s.Count = n
	return r.once(w, "count")
}

// stray says what to do about a word that fits nowhere.
func stray(w word, lower string) *Fault {
	digits, unit := cutNumber(lower)
	switch {
	case strings.HasPrefix(w.text, "#"):
		return w.fault("a remark stands on a line of its own that begins with #")
	case digits != "" && (unit == "x" || unit == "×"):
		return w.fault("write x%s for how many are wanted", digits)
	case digits != "" && (unit == "hz" || unit == "khz"):
		return w.fault("a line has one place; write %s on a line of its own", w.text)
	case digits != "":
		return w.fault("what is %s? Write +%s or -%s for a bend, +-%s for a tolerance, x%s for how many", digits, digits, digits, digits, digits)
	}
	if _, fault := readNote(w); fault == nil {
		return w.fault("a line has one place; write %s on a line of its own", w.text)
	}
	return w.fault("there is no kind %q; there are: %s%s", w.text, kindList(), hint(lower))
}

func kindList() string {
	var names []string
	for _, k := range analysis.Kinds()[1:] {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

// hint says which kind a thing is of, where its name is a common one.
func hint(thing string) string {
	thing = strings.TrimSuffix(thing, "s")
	for kind, things := range map[analysis.Kind][]string{
		analysis.Glass: {"jar", "cup", "tumbler", "goblet", "wineglass"},
		analysis.Bell:  {"bowl", "pot", "flowerpot", "basin", "drum brake", "gong"},
		analysis.Bar:   {"pipe", "tube", "plank", "rod", "slat", "key"},
		analysis.Plate: {"tile", "slate", "lid", "sheet"},
		analysis.Drum:  {"tin", "can", "skin", "bucket"},
	} {
		if slices.Contains(things, thing) {
			return "; for a " + thing + " write " + string(kind)
		}
	}
	return ""
}

// cutSign cuts one of the signs off the front of text.
func cutSign(text string, signs ...string) (rest string, ok bool) {
	for _, sign := range signs {
		if rest, ok := strings.CutPrefix(text, sign); ok {
			return rest, true
		}
	}
	return text, false
}

// cutNumber cuts the digits off the front of text, with their decimal sign.
func cutNumber(text string) (digits, rest string) {
	end := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' && r != ',' })
	if end < 0 {
		end = len(text)
	}
	return text[:end], text[end:]
}

// number reads digits with a decimal point or comma.
func number(w word, digits string) (float64, *Fault) {
	if whole, places, comma := strings.Cut(digits, ","); comma {
		if len(places) == 3 && whole != "" && strings.Trim(whole, "0") != "" {
			return 0, w.fault("is %s a thousand or a fraction? Write %s%s or %s.%s", digits, whole, places, whole, places)
		}
		digits = whole + "." + places
	}
	x, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return 0, w.fault("%q cannot be read as a number; write it as in 12.5", digits)
	}
	return x, nil
}
