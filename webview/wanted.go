package webview

import (
	"net/http"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/wanted"
)

// mostUndone is how many changes of the wanted list can be taken back.
const mostUndone = 32

// hunt is the wanted list and what can be taken back of it. Lists are never
// changed, only replaced. Server.mu guards it.
type hunt struct {
	list     wanted.List
	faults   []*wanted.Fault // of the lines that cannot be read
	revision int
	undo     []wanted.List   // what was before, the latest last
	stored   map[string]bool // strikes whose sound is in a file
	changed  bool            // since it was last written
	notice   *string
}

// pins are the strikes that fill a place, or would again if changes were taken
// back.
func (h *hunt) pins() map[string]bool {
	pins := map[string]bool{}
	for _, l := range append(slices.Clone(h.undo), h.list) {
		for _, id := range l.Filling() {
			pins[id] = true
		}
	}
	return pins
}

// usual is the tolerance of a place that does not say.
func (s Session) usual() analysis.Cents { return analysis.Cents(s.Tolerance) }

// huntFor makes next the wanted list, keeps what was before for taking back,
// and tells the pages. Callers hold mu.
func (s *Server) huntFor(next wanted.List) {
	s.hunt.undo = append(s.hunt.undo, s.hunt.list)
	if n := len(s.hunt.undo); n > mostUndone {
		s.hunt.undo = slices.Clone(s.hunt.undo[n-mostUndone:])
	}
	s.huntOn(next)
}

// huntOn makes next the wanted list and tells the pages. Callers hold mu.
func (s *Server) huntOn(next wanted.List) {
	s.hunt.list = next
	_, s.hunt.faults = wanted.Parse(next.String())
	s.hunt.revision++
	s.hunt.changed = true
	s.trail.pins = s.hunt.pins()
	s.tellWanted()
	strikes, earlier := s.latest()
	s.tell(typeTrail, trailMessage{head(typeTrail), strikes, earlier})
	s.markDirty()
}

func (s *Server) markDirty() {
	select {
	case s.dirty <- struct{}{}:
	default: // the saver has not begun yet and will see this too
	}
}

func (s *Server) tellWanted() {
	s.tell(typeWanted, wantedMessage{head(typeWanted), s.wantedForm()})
}

// refill brings what a strike fills up to date with its latest telling, or
// takes it away where the strike was none. Callers hold mu.
func (s *Server) refill(e *entry) {
	if !s.trail.pins[e.strike.ID] {
		return
	}
	if e.strike.Stage == analysis.Withdrawn || e.strike.Heard == nil {
		if next, filled := s.hunt.list.Without(e.strike.ID); filled {
			s.huntOn(next)
		}
		return
	}
	next, changed := s.hunt.list.Clone(), false
	for i := range next.Places {
		for j, f := range next.Places[i].Fills {
			if now := fillOf(e, f); f.Strike == e.strike.ID && now != f {
				next.Places[i].Fills[j], changed = now, true
			}
		}
	}
	if changed {
		s.huntOn(next)
	}
}

// fillOf is what e is as a fill; when it was found stands in was.
func fillOf(e *entry, was wanted.Fill) wanted.Fill {
	f := wanted.Fill{
		Strike: e.strike.ID, Heard: e.strike.Heard.Frequency, Sigma: e.strike.Heard.Sigma,
		ClockPPM: e.strike.ClockPPM, Kind: e.kind, Found: was.Found,
	}
	if e.name != nil {
		f.Name = *e.name
	}
	return f
}

// Wanted returns the wanted list as it stands.
func (s *Server) Wanted() Wanted {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.wantedForm()
}

// WriteWanted makes text the wanted list. Lines that cannot be read stay in it
// and are told of in the answer; all others count.
func (s *Server) WriteWanted(text string) Wanted {
	s.mu.Lock()
	defer s.mu.Unlock()
	if text != s.hunt.list.String() {
		next, _ := s.hunt.list.Edited(text)
		s.huntFor(next)
	}
	return s.wantedForm()
}

// WantedChange is a change of the wanted list, as PATCH /api/wanted takes it:
// exactly one of its fields.
type WantedChange struct {
	Order  []string `json:"order"`  // IDs of all places
	Tick   *string  `json:"tick"`   // ID of a place that is done
	Untick *string  `json:"untick"` // ID of a place that is not
	Found  *Found   `json:"found"`
	Lost   *string  `json:"lost"` // ID of a strike that shall fill nothing
	Undo   bool     `json:"undo"` // the last change
}

// Found says that the object of a strike is taken for a place.
type Found struct {
	Strike string  `json:"strike"`
	Place  *string `json:"place"` // null: the one its verdict is about
}

func (c WantedChange) fields() int {
	n := 0
	for _, set := range []bool{c.Order != nil, c.Tick != nil, c.Untick != nil, c.Found != nil, c.Lost != nil, c.Undo} {
		if set {
			n++
		}
	}
	return n
}

// ChangeWanted makes one change of the wanted list and tells every page. The
// error is a *Refusal.
func (s *Server) ChangeWanted(c WantedChange) (Wanted, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if c.fields() != 1 {
		return s.wantedForm(), refuse(http.StatusUnprocessableEntity, "", "Send exactly one of order, tick, untick, found, lost and undo.")
	}
	if c.Undo {
		return s.undoWanted()
	}
	next, field, err := s.changed(c)
	if err != nil {
		if r, ok := err.(*Refusal); ok {
			return s.wantedForm(), r
		}
		return s.wantedForm(), refuse(http.StatusUnprocessableEntity, field, "%s.", sentenceCase(err.Error()))
	}
	s.huntFor(next)
	return s.wantedForm(), nil
}

// changed is the list after a change other than taking one back.
func (s *Server) changed(c WantedChange) (next wanted.List, field string, err error) {
	l := s.hunt.list
	switch {
	case c.Order != nil:
		next, err = l.Ordered(c.Order)
		return next, "order", err
	case c.Tick != nil:
		next, err = l.WithTick(*c.Tick, true)
		return next, "tick", err
	case c.Untick != nil:
		next, err = l.WithTick(*c.Untick, false)
		return next, "untick", err
	case c.Lost != nil:
		next, filled := l.Without(*c.Lost)
		if !filled {
			return l, "lost", refuse(http.StatusNotFound, "lost", "That strike fills no place.")
		}
		return next, "lost", nil
	}
	return s.taken(*c.Found)
}

func (s *Server) taken(c Found) (next wanted.List, field string, err error) {
	l := s.hunt.list
	fill, err := s.filling(c.Strike)
	if err != nil {
		return l, "found", err
	}
	place := ""
	if c.Place != nil {
		place = *c.Place
	} else if e := s.trail.find(c.Strike); e != nil {
		v := l.Hold(wanted.HandOf(e.strike, e.kind), s.in, s.session.usual())
		if v.Place >= 0 {
			place = l.Places[v.Place].ID
		}
	}
	if place == "" {
		return l, "found", refuse(http.StatusConflict, "found", "No place is near that strike. Choose the place it is for.")
	}
	next, err = l.Found(place, fill, s.in)
	return next, "found", err
}

// filling is a strike as a fill: one on the trail, or one that fills a place
// already.
func (s *Server) filling(id string) (wanted.Fill, error) {
	if e := s.trail.find(id); e != nil && !e.thrown {
		if e.strike.Heard == nil {
			return wanted.Fill{}, refuse(http.StatusConflict, "found", "That strike has no pitch, so it cannot fill a place.")
		}
		return fillOf(e, wanted.Fill{Found: s.cfg.Now().UTC()}), nil
	}
	for _, p := range s.hunt.list.Places {
		for _, f := range p.Fills {
			if f.Strike == id {
				return f, nil
			}
		}
	}
	return wanted.Fill{}, noStrike()
}

func (s *Server) undoWanted() (Wanted, error) {
	n := len(s.hunt.undo)
	if n == 0 {
		return s.wantedForm(), refuse(http.StatusConflict, "undo", "There is nothing to take back.")
	}
	next := s.hunt.undo[n-1].Clone()
	s.hunt.undo = s.hunt.undo[:n-1]
	next.Next = max(next.Next, s.hunt.list.Next) // no ID twice
	for i := range next.Places {
		for j, f := range next.Places[i].Fills {
			if e := s.trail.find(f.Strike); e != nil && e.strike.Heard != nil {
				next.Places[i].Fills[j] = fillOf(e, f)
			}
		}
	}
	s.huntOn(next)
	return s.wantedForm(), nil
}
