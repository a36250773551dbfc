package wanted

import (
	"fmt"
	"math"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// Name is what a place is called in a sentence: "F#5 bent +30", "A4
// quarter-flat", "440 Hz".
func (s Spec) Name() string {
	name := s.Label
	if name == "" {
		name = decimal(float64(s.Frequency)) + " Hz"
	}
	if s.Quarters != 0 {
		name += " " + quarterWord(s.Quarters)
	}
	if s.Bend != 0 {
		name += " bent " + signedCents(s.Bend)
	}
	return name
}

// Words says a verdict in one or two sentences, the answer first. ref is A4 in
// Hz, by which pitches are named that have no place.
func (l *List) Words(v Verdict, ref analysis.Hz) string {
	var place string
	if v.Place >= 0 {
		place = l.Places[v.Place].Name()
	}
	away := distance(v.Cents, v.Sigma)
	var w string
	switch v.Reason {
	case Fits:
		w = fmt.Sprintf("Yes: %s, %s.", place, away)
	case Better:
		w = fmt.Sprintf("Yes: %s, %s, nearer than what fills it.", place, away)
	case FillsIt:
		w = fmt.Sprintf("Found: %s, %s.", place, away)
	case Unsure:
		w = fmt.Sprintf("Perhaps: %s, %s. It is not known well enough yet; let it ring or strike it again.", place, away)
	case Split:
		w = fmt.Sprintf("Perhaps: %s, %s, but listeners may hear another pitch in it.", place, away)
	case SecondFits:
		w = fmt.Sprintf("Nearly: some will hear it as %s.", place)
	case NearBy, Reachable:
		w = fmt.Sprintf("Nearly: %s, %s.", place, away)
	case Far:
		w = fmt.Sprintf("Not wanted: the nearest open place is %s, %s.", place, away)
	case OtherKind:
		w = fmt.Sprintf("Not wanted: it would be %s, but that place is for a %s.", place, l.Places[v.Place].Kind)
	case Filled:
		w = fmt.Sprintf("Not wanted: %s is filled, and by one that is as near or nearer.", place)
		if l.Places[v.Place].Ticked {
			w = fmt.Sprintf("Not wanted: %s is ticked off.", place)
		}
	case NoPitch:
		w = "Not wanted: no pitch."
	case AllFound:
		w = "Not wanted: every place is filled."
	}
	if v.Guess != nil && v.Answer != NotWanted {
		w += " " + v.Guess.words()
	}
	if v.Other != nil && v.Reason != SecondFits && v.Reason != Split {
		w += " Some will hear it as " + l.otherName(v.Other, ref) + "."
	}
	return w
}

func (l *List) otherName(o *Other, ref analysis.Hz) string {
	if o.Place >= 0 {
		return l.Places[o.Place].Name()
	}
	key, _ := instrument.Nearest(o.Frequency, ref)
	return instrument.Label(key)
}

// distance says how far, no finer than it is known and no finer than a tenth.
func distance(c, sigma analysis.Cents) string {
	places, finest := 1, 0.05
	if !(sigma < 0.5) {
		places, finest = 0, 0.5
	}
	off := math.Abs(float64(c))
	switch {
	case off < finest:
		return "right there"
	case c > 0:
		return trim(off, places) + " c high"
	}
	return trim(off, places) + " c low"
}

func trim(x float64, places int) string {
	text := fmt.Sprintf("%.*f", places, x)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

func (g *Guess) words() string {
	how := map[Means]string{
		Water:   "Water moves it there",
		Pour:    "If there is water in it, pouring some out raises it",
		Cut:     "Cutting it shorter raises it and cannot be undone",
		Load:    "A little wax or tape lowers it",
		Slacken: "Slackening the skin lowers it",
		Tighten: "Tightening the skin raises it",
		Shade:   "Shading the mouth lowers it",
	}[g.Means]
	if g.Likely {
		return how + ": likely within reach, a guess by its kind."
	}
	return how + ": perhaps, a guess by its kind."
}
