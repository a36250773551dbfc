package listen

import (
	"math"
	"math/cmplx"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

const (
	againShare    = 0.35 // of an earlier ring's amplitude that may be left of it, where the same thing was struck again: -9 dB
	besideShare   = 1.0  // the same where another was: its own partials stand elsewhere
	leftoverWidth = 3.0  // line widths within which it is the same mode
	leftoverHz    = 2.0
	elsewhere     = 0.1 // of the early energy in partials of their own place says that another thing was struck ...
	elsewhereLeft = 2   // ... if there are so many of them
	ownShare      = 0.5 // of the early energy that must be the strike's own for a pitch
)

// disown takes out of a reading the partials that are not the strike's own.
// Where an earlier thing still rings, taking its ring out leaves some of it, and
// what is left is no partial of what was struck now: it has the place of an
// earlier component and a share of its amplitude. The same thing struck again
// adds about as much as it had; beside another thing's partials nothing at such
// a place counts. If most of what was explained was left over, nothing with a
// pitch was struck.
func (r *rings) disown(reading *partial.Reading, seconds float64) {
	if len(r.list) == 0 {
		return
	}
	shares := make([]float64, len(reading.Partials))
	all, apart, others := 0.0, 0.0, 0
	for i, p := range reading.Partials {
		shares[i] = r.share(p, reading.Ring, seconds)
		all += early(p)
		if math.IsInf(shares[i], 1) {
			apart += early(p)
			others++
		}
	}
	limit := againShare
	if others >= elsewhereLeft && apart >= elsewhere*all {
		limit = besideShare
	}
	var kept []analysis.Partial
	own, top := 0.0, math.Inf(-1)
	for i, p := range reading.Partials {
		if shares[i] < limit {
			continue
		}
		own += early(p)
		top = max(top, p.Level)
		kept = append(kept, p)
	}
	if len(kept) == len(reading.Partials) {
		return
	}
	for i := range kept { // levels stand against the strongest that is left
		kept[i].Level -= top
	}
	reading.Partials = kept
	reading.Explained *= own / all
	reading.Pitched = reading.Pitched && own >= ownShare*all
}

// early is the energy of a partial in its first tenth of a second, in units
// that are the same for all partials of a strike.
func early(p analysis.Partial) float64 {
	const tenth = 0.1
	e := math.Pow(10, p.Level/10)
	if p.T60 <= 0 {
		return e * tenth
	}
	d := 2 * analysis.LnThousand / p.T60
	return e * (1 - math.Exp(-d*tenth)) / d
}

// share is the amplitude of a partial against that of what rang there before,
// +Inf where nothing did.
func (r *rings) share(p analysis.Partial, model []partial.Component, seconds float64) float64 {
	omega := 2 * math.Pi * float64(p.Frequency) / float64(r.rate)
	var mine partial.Component
	for _, c := range model {
		if math.Abs(c.Omega-omega) < math.Abs(mine.Omega-omega) {
			mine = c
		}
	}
	width := max(2*math.Pi*max(leftoverHz, 1/seconds)/float64(r.rate), leftoverWidth*mine.Decay)
	var earlier complex128
	for _, g := range r.list {
		for _, c := range g.components {
			if math.Abs(c.Omega-omega) < width {
				earlier += c.Amp
			}
		}
	}
	if earlier == 0 {
		return math.Inf(1)
	}
	return cmplx.Abs(mine.Amp) / cmplx.Abs(earlier)
}
