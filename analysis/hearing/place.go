package hearing

import (
	"math"

	"ringwell/analysis"
)

const (
	// atTone is how near a tone of its own must lie, in cents, for a pitch to
	// be that tone's. Our choice.
	atTone = 30
	// hears is one standard deviation in cents of where a listener hears a
	// pitch that no tone carries: 0.2 %, the smallest change heard between 0.5
	// and 2 kHz (C.C. Wier, W. Jesteadt & D.M. Green, J. Acoust. Soc. Am. 61
	// (1977) 178, unchecked).
	hears = 3.5
)

// place says where c lies and whether it is its own tone's. It is where there
// is one where the harmonics above put it, or one that speaks louder than
// they; never in a bell, whose prime and strike note are two things however
// near they lie.
func (c *candidate) place(ts []tone) {
	rest, lent := c.rest(ts)
	if i := c.tone[0]; i >= 0 && !c.strike {
		near := math.Abs(1200*math.Log2(ts[i].f/rest)) < atTone
		if near || ts[i].share >= lent {
			c.h, c.own = ts[i].f, true
			return
		}
	}
	c.h, c.tone[0] = rest, -1
}

// rest is where the harmonics above the first put the pitch, and their share.
// A bell's strike note lies at half its nominal (T.D. Rossing & R. Perrin,
// Applied Acoustics 20 (1987) 41).
func (c *candidate) rest(ts []tone) (h, lent float64) {
	above := *c
	above.tone[0] = -1
	for _, s := range c.share[1:] {
		lent += s
	}
	if i := c.tone[1]; i >= 0 && c.strike {
		return ts[i].f / 2, lent
	}
	return above.centre(ts), lent
}

// pitch is c as it is told.
func (c *candidate) pitch(ts []tone) *analysis.Pitch {
	p := analysis.Pitch{
		Frequency:  analysis.Hz(c.h),
		Sigma:      analysis.Cents(c.sigma(ts)),
		Basis:      analysis.StrikeNote,
		Partial:    -1,
		Likelihood: c.likelihood,
	}
	if c.own {
		t := ts[c.tone[0]]
		p.Sigma, p.Basis, p.Partial = analysis.Cents(t.sigma), analysis.OnPartial, t.lead
	}
	return &p
}

// sigma is one standard deviation of a strike note in cents: from the sigmas of
// its harmonics, from how far they differ, each weighted by what it lends, and
// from how well a listener places it.
func (c *candidate) sigma(ts []tone) float64 {
	weight, own, differ := 0.0, 0.0, 0.0
	for k, i := range c.tone {
		if i < 0 || c.strike && k > 3 {
			continue
		}
		cents := 1200 * math.Log2(ts[i].f/float64(k+1)/c.h)
		weight += c.share[k]
		own += c.share[k] * c.share[k] * ts[i].sigma * ts[i].sigma
		differ += c.share[k] * cents * cents
	}
	if weight == 0 {
		return hears
	}
	return math.Sqrt(own/(weight*weight) + differ/weight + hears*hears)
}
