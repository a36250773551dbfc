package webview

import (
	"net/http"
	"slices"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
)

// WalkForm is an instrument being measured.
type WalkForm struct {
	Name     string         `json:"name"`
	Like     string         `json:"like"`
	Prepared bool           `json:"prepared"`
	At       *int           `json:"at"`   // the MIDI note at hand; null: all are done
	Note     *string        `json:"note"` // that is
	Notice   *string        `json:"notice"`
	Measured int            `json:"measured"`
	Notes    []WalkNoteForm `json:"notes"`
}

// WalkNoteForm is one note of it.
type WalkNoteForm struct {
	MIDI    int       `json:"midi"`
	Note    string    `json:"note"`
	Targets []float64 `json:"targets_hz"` // as measured
	Cents   []float64 `json:"cents"`      // of each, above the nearest usual place
	Strikes int       `json:"strikes"`
	Skipped bool      `json:"skipped"`
}

func walkForm(name string, w *instrument.Walk) WalkForm {
	out := WalkForm{Name: name, Like: w.Base.Name, Prepared: w.Prepared, Measured: w.Measured(), Notes: []WalkNoteForm{}}
	if w.Notice != "" {
		notice := w.Notice
		out.Notice = &notice
	}
	if w.At < len(w.Notes) {
		key, note := w.Notes[w.At].Key, w.Notes[w.At].Label
		out.At, out.Note = &key, &note
	}
	for i, n := range w.Notes {
		note := WalkNoteForm{MIDI: n.Key, Note: n.Label, Targets: []float64{}, Cents: []float64{}, Strikes: n.Strikes, Skipped: n.Skipped}
		for _, f := range n.Targets {
			note.Targets = append(note.Targets, round(f, placesHz))
			if usual := w.Base.Notes[i].Targets; len(usual) > 0 {
				note.Cents = append(note.Cents, round(f.Above(usual[0]), placesCents))
			}
		}
		out.Notes = append(out.Notes, note)
	}
	return out
}

// MeasuredInstrument is what a walk has measured, as the shelf keeps it.
func MeasuredInstrument(name string, w *instrument.Walk) catalogue.Instrument {
	in := catalogue.Instrument{Name: name, Alike: w.Base.Name}
	for _, n := range w.Notes {
		if n.Strikes == 0 {
			continue
		}
		note := catalogue.InstrumentNote{Key: n.Key, Label: n.Label, Strikes: n.Strikes, Targets: n.Targets}
		for _, p := range n.Partials {
			note.Partials = append(note.Partials, catalogue.NotePartial{Frequency: p.Frequency, Sigma: p.Sigma, Level: p.Level, T60: p.T60})
		}
		in.Notes = append(in.Notes, note)
	}
	return in
}

func (s *Server) answerWalk(w http.ResponseWriter) error {
	s.mu.Lock()
	if s.shelf.walk == nil {
		s.mu.Unlock()
		return refuse(http.StatusNotFound, "", "No instrument is being measured.")
	}
	form := walkForm(s.shelf.walkName, s.shelf.walk)
	s.mu.Unlock()
	answer(w, form)
	return nil
}

func (s *Server) getWalk(w http.ResponseWriter, _ *http.Request) error { return s.answerWalk(w) }

func (s *Server) postWalk(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Name     string `json:"name"`
		Like     string `json:"like"`
		Prepared bool   `json:"prepared"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	if _, err := s.writer(); err != nil {
		return err
	}
	c.Name = strings.TrimSpace(c.Name)
	if err := checkName("name", c.Name); err != nil {
		return err
	}
	if c.Name == "" {
		return refuse(http.StatusUnprocessableEntity, "name", "Give the instrument a name.")
	}
	if slices.Contains(s.instrumentList(), c.Name) {
		return refuse(http.StatusUnprocessableEntity, "name", "There is an instrument of that name already. Give yours another, or remove that one first.")
	}
	s.mu.Lock()
	ref := analysis.Hz(s.session.Reference)
	s.mu.Unlock()
	base, err := s.cfg.Instrument(c.Like, ref)
	if err != nil {
		return refuse(http.StatusUnprocessableEntity, "like", "There is no instrument %q; there are: %s.", c.Like, strings.Join(s.cfg.Instruments, ", "))
	}
	s.mu.Lock()
	s.shelf.walk, s.shelf.walkName = instrument.NewWalk(base, c.Prepared), c.Name
	s.tellShelf()
	s.mu.Unlock()
	return s.answerWalk(w)
}

func (s *Server) patchWalk(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Skip  bool `json:"skip"`
		Back  bool `json:"back"`
		Again bool `json:"again"`
		To    *int `json:"to"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	s.mu.Lock()
	walk := s.shelf.walk
	var err error
	if walk != nil {
		switch {
		case c.Skip:
			walk.Skip()
		case c.Back:
			walk.Back()
		case c.Again:
			walk.Again()
		case c.To != nil:
			err = walk.To(*c.To)
		default:
			err = refuse(http.StatusUnprocessableEntity, "", "Send one of skip, back, again and to.")
		}
		s.tellShelf()
	}
	s.mu.Unlock()
	if _, ok := err.(*Refusal); err != nil && !ok {
		return refuse(http.StatusUnprocessableEntity, "to", "%s.", sentenceCase(err.Error()))
	} else if err != nil {
		return err
	}
	return s.answerWalk(w)
}

// finishWalk stores what was measured.
func (s *Server) finishWalk(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, _ struct{}) error {
	s.mu.Lock()
	walk, name := s.shelf.walk, s.shelf.walkName
	var in catalogue.Instrument
	if walk != nil {
		in = MeasuredInstrument(name, walk)
	}
	s.mu.Unlock()
	switch {
	case walk == nil:
		return s.answerWalk(w)
	case len(in.Notes) == 0:
		return refuse(http.StatusConflict, "", "No note has been struck yet.")
	}
	if err := shelf.SetInstrument(r.Context(), in); err != nil {
		return err
	}
	s.mu.Lock()
	if s.shelf.walk == walk {
		s.shelf.walk = nil
	}
	s.mu.Unlock()
	s.shelfChanged(r.Context())
	answer(w, struct {
		Instrument string `json:"instrument"`
	}{name})
	return nil
}

func (s *Server) deleteWalk(w http.ResponseWriter, _ *http.Request) error {
	s.mu.Lock()
	s.shelf.walk = nil
	s.tellShelf()
	s.mu.Unlock()
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func (s *Server) deleteInstrument(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf) error {
	name := r.PathValue("name")
	if s.Session().Instrument == name {
		return refuse(http.StatusConflict, "", "That instrument is in use. Choose another first.")
	}
	if err := shelf.RemoveInstrument(r.Context(), name); err != nil {
		return err
	}
	s.shelfChanged(r.Context())
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// instrumentNames are all there are. Callers hold mu.
func (s *Server) instrumentNames() []string {
	return append(append([]string{}, s.shelf.form.Instruments...), s.cfg.Instruments...)
}

func (s *Server) instrumentList() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.instrumentNames()
}
