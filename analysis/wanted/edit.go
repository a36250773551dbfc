package wanted

import (
	"errors"
	"fmt"
	"slices"

	"ringwell/analysis/instrument"
)

// ErrNoPlace says that no place has the ID.
var ErrNoPlace = errors.New("that place is not on the list")

// Edited returns the list that text says, with what was found for places that
// are still on it: those whose line is the same, in order; then those that are
// left of the same note or frequency, in order. The rest are new. What a place
// holds beyond its new count stays with it.
func (l List) Edited(text string) (List, []*Fault) {
	next, faults := Parse(text)
	next.Next = max(l.Next, 1)
	taken := make([]bool, len(l.Places))
	for i := range next.Places {
		next.Places[i].ID = ""
	}
	for _, same := range []func(a, b Spec) bool{
		func(a, b Spec) bool { return a == b },
		Spec.samePlace,
	} {
		for i := range next.Places {
			p := &next.Places[i]
			for j := range l.Places {
				if old := &l.Places[j]; p.ID == "" && !taken[j] && same(p.Spec, old.Spec) {
					p.ID, p.Ticked, p.Fills = old.ID, old.Ticked, slices.Clone(old.Fills)
					taken[j] = true
				}
			}
		}
	}
	for i := range next.Places {
		if next.Places[i].ID == "" {
			next.Places[i].ID = next.newID()
		}
	}
	return next, faults
}

// samePlace reports whether two lines name the same note or frequency.
func (s Spec) samePlace(o Spec) bool {
	return (s.Label == "") == (o.Label == "") && s.Key == o.Key && s.Frequency == o.Frequency && s.Quarters == o.Quarters
}

// Ordered returns the list with its places in another order: ids must name
// every place once. Comments go with the place below them.
func (l List) Ordered(ids []string) (List, error) {
	if len(ids) != len(l.Places) {
		return l, fmt.Errorf("the order names %d places and the list has %d; name every place once", len(ids), len(l.Places))
	}
	next := l.Clone()
	for i, id := range ids {
		at := l.Find(id)
		if at < 0 {
			return l, ErrNoPlace
		}
		if slices.Contains(ids[:i], id) {
			return l, fmt.Errorf("the order names the place %s twice; name every place once", id)
		}
		next.Places[i] = l.Clone().Places[at]
	}
	return next, nil
}

// WithTick returns the list with a place ticked off, or that taken back.
func (l List) WithTick(id string, ticked bool) (List, error) {
	at := l.Find(id)
	if at < 0 {
		return l, ErrNoPlace
	}
	next := l.Clone()
	next.Places[at].Ticked = ticked
	return next, nil
}

// Found returns the list with a place filled by f. Where the place is full f
// takes the place of the fill that lies farthest away; a strike that fills a
// place already moves. The player decides: whether f fits is not asked.
func (l List) Found(id string, f Fill, in instrument.Instrument) (List, error) {
	if l.Find(id) < 0 {
		return l, ErrNoPlace
	}
	next, _ := l.Without(f.Strike)
	p := &next.Places[next.Find(id)]
	for len(p.Fills) >= p.Count {
		worst := p.worst(in)
		p.Fills = slices.Delete(p.Fills, worst, worst+1)
	}
	p.Fills = append(p.Fills, f)
	return next, nil
}

// Without returns the list without what the strike fills, and whether it filled
// anything.
func (l List) Without(strike string) (List, bool) {
	next, filled := l.Clone(), false
	for i := range next.Places {
		p := &next.Places[i]
		if f := p.filledBy(strike); f >= 0 {
			p.Fills, filled = slices.Delete(p.Fills, f, f+1), true
		}
	}
	return next, filled
}

// Filling returns the strikes that fill places.
func (l *List) Filling() []string {
	var ids []string
	for _, p := range l.Places {
		for _, f := range p.Fills {
			ids = append(ids, f.Strike)
		}
	}
	return ids
}
