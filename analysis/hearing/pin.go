package hearing

import (
	"errors"
	"math"

	"ringwell/analysis"
)

// Pin is the partial a player hears as the pitch of an object, whatever others
// would hear, and the partials it stood among, by which the object is known
// again. It holds for any later strike of the object, wherever that was struck
// and however its levels fell.
type Pin struct {
	Frequency analysis.Hz // of the partial, when it was pinned
	Beside    []Beside    // the other partials of that strike
}

// Beside is a partial beside the pinned one.
type Beside struct {
	Ratio float64 // of its frequency to the pinned one's
	Level float64 // dB, as the ear gathers it, relative to the strongest of all
}

const (
	// wander is how far, in cents, a mode may have moved against the others and
	// still be the same one: a third of a semitone. Our choice; a crack or much
	// water moves modes further, and then it is another object to a pin.
	wander = 35
	// alikeness from which an object is taken for the one that was pinned. Tuned
	// on the families of the tests: 2.8 % of own strikes are refused and 2.1 % of
	// strange objects with a mode in reach pass; at 0.3 and 0.5 2.0 and 2.9, 6.8
	// and 0.9.
	alikeness = 0.35
)

// ErrNoPartial: there is no such partial, or none that can be heard.
var ErrNoPartial = errors.New("hearing: there is no such partial")

// PinTo pins an object's pitch to the partial with index i of one of its
// strikes. It returns ErrNoPartial where there is none.
func PinTo(partials []analysis.Partial, i int) (Pin, error) {
	if i < 0 || i >= len(partials) || !usable(partials[i]) {
		return Pin{}, ErrNoPartial
	}
	p := Pin{Frequency: partials[i].Frequency}
	top := loudest(partials)
	for k, q := range partials {
		if k != i && usable(q) {
			p.Beside = append(p.Beside, Beside{float64(q.Frequency / p.Frequency), 10 * math.Log10(max(gathered(q), 1e-20)/top)})
		}
	}
	return p, nil
}

// Heard returns the pitch of a new strike of the object, of likelihood 1, or
// nil where the strike is of another object or the pinned partial is not among
// its partials. The partial may have moved by reach in cents, all others with
// it, as water, cutting and warmth move them. A near pair is heard at its
// middle, as ever.
func (p Pin) Heard(partials []analysis.Partial, reach analysis.Cents) *analysis.Pitch {
	i := p.find(partials, reach)
	if i < 0 {
		return nil
	}
	q := partials[i]
	out := analysis.Pitch{Frequency: q.Frequency, Sigma: q.Sigma, Basis: analysis.OnPartial, Partial: i, Likelihood: 1}
	for _, t := range tones(partials) {
		if math.Abs(t.f-float64(q.Frequency)) < unresolved*float64(ERB(q.Frequency)) {
			out.Frequency, out.Sigma = analysis.Hz(t.f), analysis.Cents(t.sigma)
		}
	}
	return &out
}

// find returns the index of the partial that is the pinned one now, -1 for
// none: the one among whose neighbours the pattern is found best, less a tenth
// at the end of the reach: of two alike the nearer one is taken.
func (p Pin) find(partials []analysis.Partial, reach analysis.Cents) int {
	best, at := alikeness, -1
	for i, q := range partials {
		if !usable(q) {
			continue
		}
		off := math.Abs(float64(q.Frequency.Above(p.Frequency)))
		if !(off <= float64(reach)) || reach <= 0 {
			continue
		}
		if a := p.alike(partials, i) - 0.1*off/float64(reach); a > best {
			best, at = a, i
		}
	}
	return at
}

// alike is how far the pattern agrees with partials if i is the pinned one, 0
// to 1: the mean of how much of the pattern is found in them and how much of
// them in it. Weights are the square root of amplitude, as levels change with
// the place struck. A partial without neighbours, then and now, is alike; where
// only one side has any, the pinned one must be the strongest by far.
func (p Pin) alike(partials []analysis.Partial, i int) float64 {
	f := float64(partials[i].Frequency)
	top := loudest(partials)
	found, all := 0.0, 0.0
	for _, b := range p.Beside {
		w := math.Pow(10, b.Level/40)
		near := 0.0
		for k, q := range partials {
			if k != i {
				near = max(near, agreement(float64(q.Frequency), f*b.Ratio))
			}
		}
		found, all = found+w*near, all+w
	}
	known, there := 0.0, 0.0
	for k, q := range partials {
		if k == i || !usable(q) {
			continue
		}
		w := math.Sqrt(math.Sqrt(gathered(q) / top))
		near := 0.0
		for _, b := range p.Beside {
			near = max(near, agreement(float64(q.Frequency), f*b.Ratio))
		}
		known, there = known+w*near, there+w
	}
	switch {
	case all == 0 && there == 0:
		return 1
	case all == 0:
		return 1 / (1 + there)
	case there == 0:
		return 1 / (1 + all)
	}
	return (found/all + known/there) / 2
}

// agreement falls from 1, where two frequencies are one, to 0 at wander.
func agreement(f, g float64) float64 {
	if !(f > 0) {
		return 0
	}
	return max(0, 1-math.Abs(1200*math.Log2(f/g))/wander)
}

// loudest is the most energy that any of the partials gathers.
func loudest(partials []analysis.Partial) float64 {
	top := 1e-20
	for _, q := range partials {
		if usable(q) {
			top = max(top, gathered(q))
		}
	}
	return top
}
