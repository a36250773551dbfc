package webview

import (
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// onShow is how many strikes a page is sent when it comes, and again when they
// land elsewhere. The rest it can ask for.
const onShow = 60

// Hear puts a telling on the trail and tells the pages.
func (s *Server) Hear(strike analysis.Strike) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.counters.hear(strike)
	if strike.Stage == analysis.Withdrawn {
		s.lookAt(strike)
		e := s.trail.find(strike.ID)
		s.trail.remove(strike.ID)
		s.letGo(strike.ID)
		if e != nil {
			e.strike = strike
			s.refill(e)
		}
		if e != nil && !e.thrown {
			s.tellStrike(e)
		}
		return
	}
	now := s.cfg.Now()
	if e := s.trail.put(strike, now); e != nil {
		e.said = said{strike.Heard, strike.Second}
		e.hold(s.pins)
		if e.kind == "" {
			e.kind = s.session.Kind
		}
		if !e.thrown {
			s.tellStrike(e)
		}
		s.refill(e)
		s.look(strike.ID)
		s.lookAt(e.strike)
	}
	s.expire(now)
}

// Keep stores a strike's sound.
func (s *Server) Keep(strike analysis.Strike, sound []float32) {
	s.mu.Lock()
	defer s.mu.Unlock()
	kept, silenced := s.trail.keep(strike.ID, sound)
	if kept {
		s.look(strike.ID) // what stands on the stand can be kept now
		silenced = append(silenced, s.trail.find(strike.ID))
	}
	for _, e := range silenced {
		if !e.thrown {
			s.tellStrike(e)
		}
	}
	if s.trail.pins[strike.ID] {
		s.soundFound()
	}
}

// Level passes on what came in.
func (s *Server) Level(l listen.Level) {
	s.counters.lost.Store(l.Lost)
	s.hub.publish(post{key: typeLevel, data: encode(levelMessage{head(typeLevel), levelForm(l)})})
}

// Room passes on the background.
func (s *Server) Room(r listen.Room) {
	p := post{key: typeRoom, data: encode(roomMessage{head(typeRoom), roomForm(r)})}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.room = &p
	s.hub.publish(p)
}

// State passes on what the ear is doing.
func (s *Server) State(state listen.State) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.state = stateForm(state)
	s.tell(typeState, stateMessage{head(typeState), s.state})
}

// Form returns a strike as the pages are told it now, for other places that
// show it too; name and kept sound are left out.
func (s *Server) Form(strike analysis.Strike) Strike {
	s.mu.Lock()
	seen, kind, pins := s.lens(), s.session.Kind, s.pins
	s.mu.Unlock()
	e := entry{strike: strike, kind: kind, said: said{strike.Heard, strike.Second}}
	e.hold(pins)
	return seen.form(e)
}

// form is an entry as the pages see it. Callers hold mu.
func (s *Server) form(e *entry) Strike {
	return s.lens().form(*e)
}

func (s *Server) tellStrike(e *entry) {
	s.hub.publish(post{
		key: strikeKey(e.strike.ID), before: s.trail.before(e.strike.ID),
		data: encode(strikeMessage{head(typeStrike), s.form(e)}),
	})
}

func (s *Server) tellGone(id string) {
	s.hub.publish(post{
		key: strikeKey(id), before: s.trail.before(id),
		data: encode(goneMessage{head(typeGone), id}),
	})
}

// latest is the strikes a page starts with and how many lie before them.
// Callers hold mu.
func (s *Server) latest() (strikes []Strike, earlier int) {
	on := s.trail.after("")
	earlier = max(0, len(on)-onShow)
	strikes = []Strike{}
	for _, e := range on[earlier:] {
		strikes = append(strikes, s.form(e))
	}
	return strikes, earlier
}

// expire forgets what is too old, but never the strike the pages stay with.
// Callers hold mu.
func (s *Server) expire(now time.Time) {
	pinned := ""
	if s.session.FrozenID != nil {
		pinned = *s.session.FrozenID
	}
	for _, id := range s.trail.expire(now, pinned) {
		s.tellGone(id)
	}
}

// letGo ends the stay with a strike that is no longer there. Callers hold mu.
func (s *Server) letGo(id string) {
	if s.session.FrozenID != nil && *s.session.FrozenID == id {
		next := s.session
		next.Frozen, next.FrozenID = false, nil
		s.become(next, s.in)
	}
}
