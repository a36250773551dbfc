package webview

import (
	"net/http"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// toneLease is how long the target may sound before it must be asked for
// again. A page that is closed while it sounds would otherwise leave the ear
// muted.
const toneLease = 10 * time.Second

// longestName is the longest name of a strike or an input, in runes.
const longestName = 80

// Session returns the session as it stands.
func (s *Server) Session() Session {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.session
}

// Change changes the session, tells every page and returns the new one. Where
// any part of the change is not possible nothing is changed, and the error is
// a *Refusal.
func (s *Server) Change(c Change) (Session, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	next, err := s.session.with(c)
	if err != nil {
		return s.session, err
	}
	in := s.in
	if !next.sameNotes(s.session) {
		if in, err = s.cfg.Instrument(next.Instrument, analysis.Hz(next.Reference)); err != nil {
			return s.session, refuse(http.StatusUnprocessableEntity, "instrument", "There is no instrument %q; there are: %s.", next.Instrument, strings.Join(s.instrumentNames(), ", "))
		}
		next.Instrument = in.Name
	}
	if next, err = s.frozen(next, c); err != nil {
		return s.session, err
	}
	next.Tone.Frequency = toneOf(in, next.aim())
	if next.Tone.Frequency == nil && next.Tone.On {
		next.Tone, next.Muted = Tone{}, false
	}
	s.become(next, in)
	return s.session, nil
}

// frozen settles which strike the pages stay with. Callers hold mu.
func (s *Server) frozen(next Session, c Change) (Session, error) {
	if !next.Frozen || (c.Frozen == nil && c.FrozenID == nil) {
		return next, nil
	}
	if next.FrozenID == nil {
		on := s.trail.after("")
		if len(on) == 0 {
			return next, refuse(http.StatusConflict, "frozen", "There is no strike to stay with yet. Strike something first.")
		}
		next.FrozenID = &on[len(on)-1].strike.ID
	}
	if e := s.trail.find(*next.FrozenID); e == nil || e.thrown {
		return next, refuse(http.StatusUnprocessableEntity, "frozen_id", "That strike is no longer on the trail.")
	}
	return next, nil
}

// become makes next the session and tells whoever it concerns. Callers hold mu.
func (s *Server) become(next Session, in instrument.Instrument) {
	was := s.session
	if reflect.DeepEqual(next, was) {
		return
	}
	next.Revision++
	s.session, s.in = next, in
	if next.Kind != was.Kind && s.cfg.SetKind != nil {
		s.cfg.SetKind(next.Kind)
	}
	if next.Muted != was.Muted && s.cfg.SetMuted != nil {
		s.cfg.SetMuted(next.Muted)
	}
	s.tellSession()
	if !next.sameNotes(was) {
		s.tell(typeInstrument, instrumentMessage{head(typeInstrument), instrumentForm(in)})
		s.retuned()
	}
	if !next.sameLandings(was) {
		strikes, earlier := s.latest()
		s.tell(typeTrail, trailMessage{head(typeTrail), strikes, earlier})
		if len(s.hunt.list.Places) > 0 {
			s.tellWanted()
		}
	}
	s.markDirty()
}

// ChooseSource makes another source the ear's and returns the new session. The
// error is a *Refusal.
func (s *Server) ChooseSource(to Source) (Session, error) {
	if !slices.Contains(s.cfg.Sources, to.Choice) {
		return s.Session(), refuse(http.StatusUnprocessableEntity, "choice", "There is no source %q; there are: %s.", to.Choice, strings.Join(s.cfg.Sources, ", "))
	}
	if err := checkName("input", to.Input); err != nil {
		return s.Session(), err
	}
	if s.cfg.ChooseSource == nil {
		return s.Session(), refuse(http.StatusConflict, "choice", "The source was settled when ringwell was started. Start it again to choose another.")
	}
	s.choosing.Lock()
	defer s.choosing.Unlock()
	if err := s.cfg.ChooseSource(to); err != nil {
		return s.Session(), refuse(http.StatusConflict, "choice", "%v", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	next := s.session
	next.Source = to
	s.become(next, s.in)
	return s.session, nil
}

// tone lets the target sound, or ends it. While it sounds the ear is muted,
// for at most toneLease.
func (s *Server) tone(on bool, now time.Time) (Session, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	next := s.session
	next.Tone.Frequency = toneOf(s.in, next.aim())
	if next.Tone.On, next.Muted = on, on; on {
		if next.Tone.Frequency == nil {
			next.Tone.Frequency = s.toneOfStrike()
		}
		if next.Tone.Frequency == nil {
			return s.session, refuse(http.StatusConflict, "on", "There is nothing to sound yet. Choose a note to aim at, or strike something first.")
		}
		s.toneEnd = now.Add(toneLease)
	}
	s.become(next, s.in)
	return s.session, nil
}

// toneOf is the frequency of the note aimed at, bent; nil where none is.
func toneOf(in instrument.Instrument, aim instrument.Aim) *float64 {
	if aim.Key == nil {
		return nil
	}
	f := instrument.Frequency(*aim.Key, in.Reference)
	if note, ok := in.Note(*aim.Key); ok && len(note.Targets) > 0 {
		f = note.Targets[0]
	}
	return known(f.Shift(aim.Bend), placesHz, true)
}

// toneOfStrike is the place where the strike in view was to lie: the frozen
// one's, or that of the latest with a pitch. Callers hold mu.
func (s *Server) toneOfStrike() *float64 {
	on := s.trail.after("")
	for _, e := range slices.Backward(on) {
		form := s.form(e)
		if form.Landing != nil && (s.session.FrozenID == nil || *s.session.FrozenID == form.ID) {
			return &form.Landing.Target
		}
	}
	return nil
}

// tick lets go of what has grown too old by now.
func (s *Server) tick(now time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.expire(now)
	if s.session.Tone.On && !now.Before(s.toneEnd) {
		next := s.session
		next.Tone, next.Muted = Tone{Frequency: toneOf(s.in, next.aim())}, false
		s.become(next, s.in)
	}
}

// tell publishes a message under a key. Callers hold mu.
func (s *Server) tell(key string, message any) {
	s.hub.publish(post{key: key, data: encode(message)})
}

func (s *Server) tellSession() { s.tell(typeSession, sessionMessage{head(typeSession), s.session}) }

// checkName refuses text that is too long or holds signs that draw nothing but
// could steer a terminal.
func checkName(field, name string) error {
	if len([]rune(name)) > longestName {
		return refuse(http.StatusUnprocessableEntity, field, "That is longer than %d letters.", longestName)
	}
	if strings.ContainsFunc(name, unicode.IsControl) {
		return refuse(http.StatusUnprocessableEntity, field, "That holds control characters, which no name needs.")
	}
	return nil
}
