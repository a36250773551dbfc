package main

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/webview"
)

// centsPerPPM turns a relative error in parts per million into cents.
const centsPerPPM = analysis.CentsPerNeper * 1e-6

// finestCents is the smallest uncertainty in cents a player is told: nobody
// hears or cuts finer than a tenth.
const finestCents = 0.1

// doubt is how far a pitch may be off against a tuned instrument, in cents,
// one standard deviation: its own sigma and the clock's together. 0 is unknown.
func doubt(sigma *float64, clockPPM float64) float64 {
	if sigma == nil {
		return 0
	}
	return max(finestCents, math.Hypot(*sigma, clockPPM*centsPerPPM))
}

// line tells a strike in a player's words: when, what is heard (named in equal
// temperament on ref), where that lies on the instrument, the strongest
// partials, how long it rings.
func line(s webview.Strike, ref analysis.Hz) string {
	p := partsOf(s, ref)
	if p.partials != "" {
		p.partials = "partials " + p.partials
	}
	if p.rings != "" {
		p.rings = "rings " + p.rings
	}
	words := []string{p.heard, p.where, p.wanted, p.partials, p.rings, p.remarks}
	words = slices.DeleteFunc(words, func(w string) bool { return w == "" })
	return when(s) + "  " + strings.Join(words, "; ")
}

// row tells the same as a row of a table, tabs between.
func row(s webview.Strike, ref analysis.Hz) string {
	p := partsOf(s, ref)
	columns := []string{analysis.Fixed(s.OnsetS, -3) + " s", p.heard, p.where, p.partials, p.rings, p.remarks}
	if s.Verdict != nil {
		columns = append(columns, p.wanted)
	}
	return strings.Join(columns, "\t")
}

// parts is what there is to say of a strike; "" where there is nothing.
type parts struct{ heard, where, wanted, partials, rings, remarks string }

func partsOf(s webview.Strike, ref analysis.Hz) parts {
	if s.Heard != nil && s.Heard.Frequency == 0 {
		s.Heard = nil // so low that the form rounds it to nothing
	}
	p := parts{heard: answer(s, ref), partials: strongest(s, 3), rings: rings(s)}
	if s.Heard != nil && s.Landing != nil {
		p.where = where(s, ref)
	}
	if s.Verdict != nil {
		p.wanted = strings.TrimSuffix(clean(s.Verdict.Words), ".")
	}
	var remarks []string
	for _, r := range s.Remarks {
		remarks = append(remarks, clean(r.Words))
	}
	p.remarks = strings.Join(remarks, "; ")
	return p
}

// when is the local time of the onset, or, where there is none, seconds from
// the beginning.
func when(s webview.Strike) string {
	if s.Time != nil {
		if t, err := time.Parse(time.RFC3339Nano, *s.Time); err == nil {
			return t.Local().Format(time.TimeOnly)
		}
	}
	return analysis.Fixed(s.OnsetS, -3) + " s"
}

// answer is what is heard: the note, how far beside it, and how sure that is.
func answer(s webview.Strike, ref analysis.Hz) string {
	if s.Heard == nil {
		if len(s.Partials) == 0 {
			return "no pitch: a knock"
		}
		return "no pitch"
	}
	key, cents := instrument.Nearest(analysis.Hz(s.Heard.Frequency), ref)
	text := beside(spelt(instrument.Label(key)), float64(cents), doubt(s.Heard.Sigma, s.ClockPPM))
	text += ", " + hertz(s.Heard.Frequency, s.Heard.Sigma)
	switch s.Heard.Basis {
	case analysis.StrikeNote:
		text += " (strike note: no partial there)"
	case analysis.Periodic:
		text += " (a steady tone)"
	}
	if s.Second != nil && s.Second.Frequency > 0 {
		key, _ := instrument.Nearest(analysis.Hz(s.Second.Frequency), ref)
		text += ", though some hear " + spelt(instrument.Label(key))
	}
	return text
}

// beside says how far from a note something lies: words before signs.
func beside(note string, cents, u float64) string {
	far := digits(math.Abs(cents), u, 10)
	band := plusMinus(u)
	if band != "" {
		band = " " + band
	}
	switch {
	case strings.Trim(far, "0.") == "" && band == "":
		return "about " + note
	case strings.Trim(far, "0.") == "":
		return note + band + " c"
	case cents > 0:
		return note + ", " + far + " c high" + band
	default:
		return note + ", " + far + " c low" + band
	}
}

// where says where that is among the notes of the instrument.
func where(s webview.Strike, ref analysis.Hz) string {
	l, u := s.Landing, doubt(s.Heard.Sigma, s.ClockPPM)
	name := clean(l.Instrument)
	if l.Aim == "note" || l.Aim == "nearest" && l.Bend != 0 {
		aim := spelt(l.Note)
		if l.Bend != 0 {
			aim += " bent " + signed(l.Bend)
		}
		return name + ": " + strings.Replace(beside(aim, l.Cents, u), aim+", ", aim+": ", 1)
	}
	_, cents := instrument.Nearest(analysis.Hz(s.Heard.Frequency), ref)
	switch {
	case l.Inside && math.Abs(l.Cents-float64(cents)) >= finestCents/2: // a post that stands elsewhere
		return name + ": " + beside(clean(spelt(l.Note)), l.Cents, u) + written(l)
	case l.Inside:
		return name + ": " + clean(spelt(l.Note)) + written(l)
	case l.Edge != nil && l.Edge.Cents > 0:
		return "above the " + name + ": " + digits(l.Edge.Cents, u, 10) + " c over its " + spelt(l.Edge.Note)
	case l.Edge != nil:
		return "below the " + name + ": " + digits(-l.Edge.Cents, u, 10) + " c under its " + spelt(l.Edge.Note)
	}
	return name + ": no note near"
}

func written(l *webview.Landing) string {
	if l.Written == nil {
		return ""
	}
	return " (written " + *l.Written + ")"
}

func signed(cents float64) string {
	if cents > 0 {
		return "+" + analysis.Fixed(cents, -1)
	}
	return analysis.Fixed(cents, -1)
}

// strongest lists the n strongest partials, strongest first; the two of a near
// pair are one, as they are to the ear.
func strongest(s webview.Strike, n int) string {
	partials := slices.Clone(s.Partials)
	slices.SortStableFunc(partials, func(a, b webview.Partial) int {
		switch {
		case a.Level > b.Level:
			return -1
		case a.Level < b.Level:
			return 1
		}
		return 0
	})
	var words []string
	told := map[int]bool{}
	for _, p := range partials {
		if len(words) == n {
			break
		}
		if p.Pair != nil {
			if told[*p.Pair] {
				continue
			}
			told[*p.Pair] = true
		}
		w := hertz(p.Frequency, p.Sigma)
		if p.Beat != nil {
			sigma := 0.0
			if p.SigmaBeat != nil {
				sigma = max(finestBeat, *p.SigmaBeat)
			}
			w += " beating " + digits(*p.Beat, sigma, 1) + " a second"
		}
		words = append(words, w)
	}
	return strings.Join(words, ", ")
}

// The finest a player is told. Cents say how near, so that hertz need only tell
// partials apart; and nobody counts hundredths of a beat.
const (
	finestHertz = 0.1
	finestBeat  = 0.1
)

// hertz writes a frequency as far as its uncertainty carries.
func hertz(f float64, sigma *float64) string {
	u := 0.0
	if sigma != nil {
		u = max(finestHertz, f**sigma/analysis.CentsPerNeper)
	}
	return digits(f, u, 1) + " Hz"
}

// rings says how long it rings, until 60 dB lower; "" where that is unknown.
func rings(s webview.Strike) string {
	if s.RingsS == nil {
		return ""
	}
	t, u := *s.RingsS, 0.0
	for _, p := range s.Partials {
		if p.T60 != nil && *p.T60 == t && p.SigmaT60 != nil {
			u = *p.SigmaT60
		}
	}
	// A tenth of it at best: strikes of one object differ by more than that.
	return digits(t, max(u, t/10), t/3) + " s"
}

// count writes a number of things: "1 strike", "4 strikes".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}

// trimmed writes x with the decimals it has and no more, at most three.
func trimmed(x float64) string {
	return strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 3, 64), "0"), ".")
}

// spelt is a note as the page calls it, too: of the black keys C, F and G are
// sharp, E and B flat (common practice, no source). A label of its own, as a
// prepared string may have, stays as it is.
func spelt(label string) string {
	if len(label) < 3 || strings.Trim(label[2:], "-0123456789") != "" {
		return label
	}
	switch label[:2] {
	case "D#":
		return "Eb" + label[2:]
	case "A#":
		return "Bb" + label[2:]
	}
	return label
}
