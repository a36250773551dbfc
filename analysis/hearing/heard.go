package hearing

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

const (
	// worthSaying is the share of listeners from which a second pitch is told:
	// one in ten. Our choice.
	worthSaying = 0.10
	// decided is the share of listeners from which a pitch is the answer;
	// below it a second is always told where there is one. Our choice.
	decided = 0.85
)

// Heard names the pitch a listener hears in a strike, and a second one where
// listeners would split. Each Pitch carries the share of listeners expected to
// name it; its Partial refers to the slice given. kind is what the player says
// is in the hand. heard is nil where there is nothing to hear, second where
// nearly all would agree; it is never likelier than heard. Partials without a
// sound frequency are passed over.
//
// An energy-weighted mean stands for partials the ear cannot tell apart (near
// pairs, the broad clusters of dull wood); Sigma then holds their spread, so
// that either of a pair lies within what is said, and Partial is the strongest.
func Heard(partials []analysis.Partial, kind analysis.Kind) (heard, second *analysis.Pitch) {
	ts := tones(partials)
	cs := opinions(ts, analysis.Unknown)
	if kind != analysis.Unknown {
		cs = told(opinions(ts, kind), cs)
	}
	if len(cs) == 0 {
		return nil, nil
	}
	heard = cs[0].pitch(ts)
	if len(cs) > 1 && (cs[1].likelihood >= worthSaying || cs[0].likelihood < decided) {
		second = cs[1].pitch(ts)
	}
	return heard, second
}

// opinions lists what may be heard in the tones of a thing of a kind, the
// likeliest first.
func opinions(ts []tone, kind analysis.Kind) []candidate {
	p := priorOf(kind)
	cs := candidates(ts, &p)
	for i, l := range likelihoods(cs) {
		cs[i].likelihood = l
	}
	return cs
}

// trusted is how far what the player says is in the hand counts, against what
// the sound says alone: a dish may ring like a bell, and a kind may have been
// left set. It is the most (in tenths) at which nothing can be said with
// certainty (decided) that is not likeliest by the sound alone, too.
const trusted = 0.7

// told weighs the opinions on a thing of the kind said against those on a thing
// of which nothing was said.
func told(said, alone []candidate) []candidate {
	for i := range said {
		said[i].likelihood *= trusted
	}
	for _, a := range alone {
		a.likelihood *= 1 - trusted
		if i := slices.IndexFunc(said, func(s candidate) bool { return math.Abs(a.h/s.h-1) < same }); i >= 0 {
			said[i].likelihood += a.likelihood
			continue
		}
		said = append(said, a)
	}
	slices.SortStableFunc(said, func(a, b candidate) int { return cmp.Compare(b.likelihood, a.likelihood) })
	return said
}
