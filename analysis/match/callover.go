package match

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ringwell/analysis"
)

// Answer is how an object of a call-over stands.
type Answer string

const (
	Missing Answer = "missing" // not struck yet
	Present Answer = "present"
	Doubted Answer = "suspect" // there, and not as it was
)

// Line is one object of a call-over.
type Line struct {
	Object, Name  string
	Answer        Answer
	Voice, Strike string         // "" while it is missing
	Moved, Sigma  analysis.Cents // against its history, the temperature taken out where the history tells
	Health        Health
}

// Unsure is a strike that may be of several objects, or of one that has changed
// much.
type Unsure struct {
	Strike     string
	Candidates []Candidate
}

// CallOver is a group of objects that are struck once each, in any order.
type CallOver struct {
	Lines     []Line // by name
	Strangers []string
	Unsure    []Unsure
}

// NewCallOver begins with every object missing; names by their IDs.
func NewCallOver(names map[string]string) *CallOver {
	c := &CallOver{}
	for id, name := range names {
		c.Lines = append(c.Lines, Line{Object: id, Name: name, Answer: Missing})
	}
	slices.SortFunc(c.Lines, func(a, b Line) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Object, b.Object)) })
	return c
}

// Which says which of a verdict's candidates is meant: the one there is, or,
// of two, the only one that is of the group and still missing.
func (c *CallOver) Which(v Verdict) (Candidate, bool) {
	if len(v.Candidates) == 1 {
		return v.Candidates[0], true
	}
	var fit []Candidate
	for _, x := range v.Candidates {
		if l := c.line(x.Object); l != nil && l.Answer == Missing {
			fit = append(fit, x)
		}
	}
	if len(fit) == 1 {
		return fit[0], true
	}
	return Candidate{}, false
}

// Hear takes a strike that is known: what it is and how it stands beside its
// history. It reports whether its object is of the group.
func (c *CallOver) Hear(strike string, is Candidate, h Health) bool {
	l := c.line(is.Object)
	if l == nil {
		c.Strangers = append(c.Strangers, strike)
		return false
	}
	c.forget(strike)
	l.Voice, l.Strike, l.Health = is.ID, strike, h
	l.Moved, l.Sigma = is.Shift, is.Sigma
	if h.Known {
		l.Moved = h.Shift
	}
	l.Answer = Present
	if h.Suspect() {
		l.Answer = Doubted
	}
	return true
}

// Wonder takes a strike that is not known for sure. Where nothing fits it may
// be an object that has changed: of the missing, those most alike. With none
// that could be meant it is a stranger's.
func (c *CallOver) Wonder(strike string, v Verdict, partials []analysis.Partial, voices []Voice) {
	u := Unsure{Strike: strike}
	for _, x := range v.Candidates {
		if c.line(x.Object) != nil {
			u.Candidates = append(u.Candidates, x)
		}
	}
	if len(u.Candidates) == 0 {
		u.Candidates = c.changed(partials, voices)
	}
	if len(u.Candidates) == 0 {
		c.Strangers = append(c.Strangers, strike)
		return
	}
	c.Unsure = append(c.Unsure, u)
}

// farthest is how far apart a missing object may be from a strike to be offered
// as what it has become.
const farthest = 0.6

// How far an object may have fallen or risen as a whole and still be offered,
// in cents: what is cracked falls, what was filled falls or rises.
const (
	deepest  = -200
	highest  = 100
	fineness = 10
)

func (c *CallOver) changed(partials []analysis.Partial, voices []Voice) []Candidate {
	var al aligner
	var found []Candidate
	heard := Of(partials)
	for _, v := range voices {
		if l := c.line(v.Object); l == nil || l.Answer != Missing || len(v.Modes) == 0 {
			continue
		}
		best := Candidate{ID: v.ID, Object: v.Object, Share: 1 - farthest}
		offer := false
		for shift := analysis.Cents(deepest); shift <= highest; shift += fineness {
			back := slices.Clone(heard)
			for i := range back {
				back[i].Frequency = back[i].Frequency.Shift(-shift)
			}
			if d, _ := al.apart(back, v.Modes, false); 1-d > best.Share {
				best.Share, best.Shift, best.Sigma, offer = 1-d, shift, fineness, true
			}
		}
		if offer {
			found = append(found, best)
		}
	}
	slices.SortStableFunc(found, func(a, b Candidate) int { return cmp.Compare(b.Share, a.Share) })
	return found[:min(3, len(found))]
}

func (c *CallOver) forget(strike string) {
	c.Unsure = slices.DeleteFunc(c.Unsure, func(u Unsure) bool { return u.Strike == strike })
	c.Strangers = slices.DeleteFunc(c.Strangers, func(id string) bool { return id == strike })
}

func (c *CallOver) line(object string) *Line {
	for i := range c.Lines {
		if c.Lines[i].Object == object {
			return &c.Lines[i]
		}
	}
	return nil
}

// Count is how many lines have an answer.
func (c *CallOver) Count(a Answer) (n int) {
	for i := range c.Lines {
		if c.Lines[i].Answer == a {
			n++
		}
	}
	return n
}

// Words says how the object stands, in one short line.
func (l *Line) Words() string {
	switch {
	case l.Answer == Missing:
		return "missing"
	case l.Answer == Doubted:
		return "suspect: " + l.Health.Changes[0].Words()
	case math.Abs(float64(l.Moved)) < max(1, 2*float64(l.Sigma)):
		return "present, where it was"
	}
	return fmt.Sprintf("present, %.0f cents %s", math.Abs(float64(l.Moved)), choose(l.Moved > 0, "higher", "lower"))
}
