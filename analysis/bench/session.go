package bench

import (
	"errors"
	"fmt"
	"slices"

	"ringwell/analysis"
)

// Session follows one job: pours and sounds as they come, each of which can be
// taken back. It is a value without clock or device; the zero Session has
// nothing to do and takes nothing.
type Session struct {
	Job     Job
	Entries []Entry
	Pending float64 // ml poured since the last entry, not yet sounded

	past []moment
}

type moment struct {
	entries []Entry
	pending float64
}

// Begin starts a session, with so much in the vessel already.
func Begin(j Job, already float64) (*Session, error) {
	if err := j.Check(); err != nil {
		return nil, err
	}
	if !(already >= 0 && already <= j.Capacity) {
		return nil, fmt.Errorf("bench: %g ml in it already: give 0 to %g ml", already, j.Capacity)
	}
	return &Session{Job: j, Pending: already}, nil
}

// Resume takes up a session where it was, without what could be undone.
func Resume(j Job, entries []Entry, pending float64) (*Session, error) {
	if err := errors.Join(j.Check(), j.CheckEntries(entries)); err != nil {
		return nil, err
	}
	return &Session{Job: j, Entries: slices.Clone(entries), Pending: pending}, nil
}

// Fill is what is in the vessel now, as told, in ml.
func (s *Session) Fill() float64 {
	fill := s.Pending
	for _, e := range s.Entries {
		fill += e.Added
	}
	return fill
}

// Pour tells of so many ml poured in, negative for taken out. Several pours
// before a sound add up: so too much is followed by what was taken out again,
// or only by the next sound, whichever is easier.
func (s *Session) Pour(ml float64) error {
	if fill := s.Fill() + ml; !(fill >= -s.Job.Pouring.Bound(ml) && fill <= s.Job.Capacity*1.1+1) {
		return fmt.Errorf("bench: that would make %.4g ml in all; it holds 0 to %.4g ml", fill, s.Job.Capacity)
	}
	s.keep()
	s.Pending += ml
	return nil
}

// Hear tells of a sound at the present fill. e.Added is set by the session.
func (s *Session) Hear(e Entry) error {
	e.Added = s.Pending
	entries := append(slices.Clone(s.Entries), e)
	if err := s.Job.CheckEntries(entries); err != nil {
		return err
	}
	s.keep()
	s.Entries, s.Pending = entries, 0
	return nil
}

func (s *Session) keep() { s.past = append(s.past, moment{s.Entries, s.Pending}) }

// Undo takes back the last pour or sound and reports whether there was one.
func (s *Session) Undo() bool {
	if len(s.past) == 0 {
		return false
	}
	last := s.past[len(s.past)-1]
	s.past = s.past[:len(s.past)-1]
	s.Entries, s.Pending = last.entries, last.pending
	return true
}

// Undoable is how many steps can be taken back.
func (s *Session) Undoable() int { return len(s.past) }

// Advise says what to do now: to sound what was poured, or what the entries
// say.
func (s *Session) Advise() Advice {
	a := Advise(s.Job, s.Entries)
	if s.Pending != 0 && len(s.Entries) > 0 {
		a.Step, a.Amount, a.Teach = Sound, 0, false
		a.Fill = s.Fill()
		a.Says = map[Way]string{Struck: "Strike it now.", Blown: "Blow it now."}[s.Job.Way]
		a.Words = fmt.Sprintf("%s ml in it.", analysis.Fixed(a.Fill, amountPlace(s.Job)))
	}
	return a
}
