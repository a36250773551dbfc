package hearing

import (
	"math"
	"slices"

	"ringwell/analysis"
)

const (
	// worthSaying is the share of listeners from which a second pitch is told:
	// one in ten. Our choice.
	worthSaying = 0.10
	// atTone is how near a tone of its own must lie, in cents, for a pitch to
	// be that tone's. Our choice.
	atTone = 30
	// foreign is the share of tones that do not belong to a pitch from which
	// the sound is a bell's and no harmonic one: then its prime and its strike
	// note are two things, however near they lie. The value is a guess: eight
	// synthetic church bells came within 3 cents with it and the recordings of
	// the tests stayed right; no other value was tried, and the shares that
	// bells and harmonic sounds really have were not measured.
	foreign = 0.15
)

// Heard names the pitch a listener hears in a strike, and a second one where
// listeners would split. Each Pitch carries the share of listeners expected to
// name it; its Partial refers to the slice given. kind is what the player says
// is in the hand. heard is nil where there is nothing to hear, second where
// nearly all would agree. Partials without a sound frequency are passed over.
//
// An energy-weighted mean stands for partials the ear cannot tell apart (near
// pairs, the broad clusters of dull wood); Partial is then the strongest.
func Heard(partials []analysis.Partial, kind analysis.Kind) (heard, second *analysis.Pitch) {
	ts := tones(partials)
	cs := candidates(ts, priorOf(kind)) // the likeliest first
	if len(cs) == 0 {
		return nil, nil
	}
	p := likelihoods(cs)
	heard = cs[0].pitch(ts, p[0])
	if len(cs) > 1 && p[1] >= worthSaying {
		second = cs[1].pitch(ts, p[1])
	}
	return heard, second
}

// pitch says where c lies and what it rests on: its own tone if that is where
// the harmonics above put it, or speaks louder than they.
func (c *candidate) pitch(ts []tone, likelihood float64) *analysis.Pitch {
	if i := c.tone[0]; i >= 0 {
		rest, lent := c.rest(ts)
		near := math.Abs(1200*math.Log2(ts[i].f/rest)) < atTone
		if ts[i].share >= lent || near && !c.bell(ts) {
			return &analysis.Pitch{
				Frequency:  analysis.Hz(ts[i].f),
				Sigma:      analysis.Cents(ts[i].sigma),
				Basis:      analysis.OnPartial,
				Partial:    ts[i].lead,
				Likelihood: likelihood,
			}
		}
		c.tone[0], c.h = -1, rest
	}
	return &analysis.Pitch{
		Frequency:  analysis.Hz(c.h),
		Sigma:      analysis.Cents(c.sigma(ts)),
		Basis:      analysis.StrikeNote,
		Partial:    -1,
		Likelihood: likelihood,
	}
}

// rest is where the harmonics above the first put the pitch, and their share.
// Where the octave speaks loudest of them it alone does: a bell's strike note
// lies at half its nominal (T.D. Rossing & R. Perrin, Applied Acoustics 20
// (1987) 41).
func (c *candidate) rest(ts []tone) (h, lent float64) {
	above := *c
	above.tone[0] = -1
	most := 0.0
	for _, s := range c.share[1:] {
		lent += s
		most = max(most, s)
	}
	if i := c.tone[1]; i >= 0 && c.share[1] == most {
		return ts[i].f / 2, lent
	}
	return above.centre(ts), lent
}

// bell reports whether the tones stand as a bell's do: octave and twelfth of
// the pitch, beside much that belongs to no harmonic of it.
func (c *candidate) bell(ts []tone) bool {
	if c.tone[1] < 0 || c.tone[2] < 0 {
		return false
	}
	left := 0.0
	for i, t := range ts {
		if !slices.Contains(c.tone[:], i) {
			left += t.share
		}
	}
	return left >= foreign
}

// sigma is one standard deviation of a strike note in cents: of the mean of
// what its harmonics say, from their own sigmas and from how far they differ.
func (c *candidate) sigma(ts []tone) float64 {
	weight, own, differ, n := 0.0, 0.0, 0.0, 0
	for k, i := range c.tone {
		if i < 0 {
			continue
		}
		cents := 1200 * math.Log2(ts[i].f/float64(k+1)/c.h)
		weight += c.share[k]
		own += c.share[k] * c.share[k] * ts[i].sigma * ts[i].sigma
		differ += c.share[k] * cents * cents
		n++
	}
	if weight == 0 {
		return 0
	}
	return math.Sqrt(own/(weight*weight) + differ/weight/float64(max(1, n-1)))
}
