package match

import (
	"fmt"
	"math"

	"ringwell/analysis"
)

// Words says what changed, and by how much, in one sentence.
func (c *Change) Words() string {
	f := math.Round(float64(c.Frequency))
	switch c.What {
	case Fell:
		return fmt.Sprintf("The partial at %.0f Hz lies %.0f cents lower than its strikes so far and the temperature explain.", f, math.Max(1, math.Round(-c.By)))
	case Split:
		return fmt.Sprintf("The partial at %.0f Hz beats %.1f times a second, and did not before.", f, c.By)
	case Unlike:
		return "Nothing of it lies where its strikes so far have it: is it that object, struck that way?"
	default:
		return fmt.Sprintf("The partial at %.0f Hz rings %.0f %% as long as it did.", f, 100*c.By)
	}
}

// Words says in one sentence how a strike stands beside its history: of what
// changed, what is least likely by chance.
func (h *Health) Words() string {
	switch {
	case !h.Known:
		return "Too few strikes are kept to say whether it sounds as it did."
	case h.Suspect():
		return h.Changes[0].Words()
	}
	return "It sounds as it did."
}

// Advice is what to do about a voice that is suspect: a measurement is never
// proof of a crack. "" while nothing has changed.
func (h *Health) Advice(kind analysis.Kind) string {
	if !h.Suspect() {
		return ""
	}
	s := "That is consistent with a crack, and with another hold, support or filling. Stop striking it and look at it in good light."
	switch kind {
	case analysis.Glass, analysis.Plate, analysis.Bottle, analysis.Bell, analysis.Unknown:
		// Common practice, no source: mallet instruments are struck with a
		// glancing stroke, which spares what is brittle.
		s += " If it is glass or ceramic: it may break into sharp pieces when struck; wear eye protection, keep others away," +
			" never strike a cracked one, and strike a sound one with a glancing stroke, as on a mallet instrument."
	}
	return s
}
