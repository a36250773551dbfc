package webview

import (
	"net/http"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// objectChange is what can be said of an object; a field that is nil stays.
type objectChange struct {
	Name      *string        `json:"name"`
	Kind      *analysis.Kind `json:"kind"`
	Material  *string        `json:"material"`
	Length    maybe[float64] `json:"length_mm"`
	Width     maybe[float64] `json:"width_mm"`
	Height    maybe[float64] `json:"height_mm"`
	Diameter  maybe[float64] `json:"diameter_mm"`
	Thickness maybe[float64] `json:"thickness_mm"`
	Mass      maybe[float64] `json:"mass_g"`
	KeptAt    *string        `json:"kept_at"`
	FoundAt   *string        `json:"found_at"`
	FoundOn   *string        `json:"found_on"`
	Notes     *string        `json:"notes"`
}

func set[T any](to *T, from *T) {
	if from != nil {
		*to = *from
	}
}

func (c *objectChange) apply(o *catalogue.Object) {
	set(&o.Name, c.Name)
	set(&o.Kind, c.Kind)
	set(&o.Material, c.Material)
	set(&o.KeptAt, c.KeptAt)
	set(&o.FoundAt, c.FoundAt)
	set(&o.FoundOn, c.FoundOn)
	set(&o.Notes, c.Notes)
	z := &o.Size
	for _, m := range []struct {
		to   **float64
		from maybe[float64]
	}{{&z.LengthMM, c.Length}, {&z.WidthMM, c.Width}, {&z.HeightMM, c.Height}, {&z.DiameterMM, c.Diameter}, {&z.ThicknessMM, c.Thickness}, {&z.MassG, c.Mass}} {
		if m.from.given {
			*m.to = m.from.value
		}
	}
}

func (s *Server) getObjects(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	q, err := s.query(r)
	if err != nil {
		return err
	}
	objects, err := s.objectForms(r.Context(), shelf, &q, r.URL.Query().Get("away") == "1")
	if err != nil {
		return err
	}
	answer(w, struct {
		Objects []ObjectForm `json:"objects"`
	}{objects})
	return nil
}

func (s *Server) postObject(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c objectChange) error {
	var o catalogue.Object
	c.apply(&o)
	o, err := shelf.AddObject(r.Context(), o)
	if err != nil {
		return err
	}
	return s.answerObject(w, r, shelf, o.ID, http.StatusCreated)
}

func (s *Server) getObject(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	form, err := s.wholeObject(r.Context(), shelf, r.PathValue("id"))
	if err != nil {
		return err
	}
	answer(w, form)
	return nil
}

// answerObject tells the pages that an object has changed and answers with it.
func (s *Server) answerObject(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, id string, status int) error {
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	form, err := s.wholeObject(r.Context(), &shelf.Reader, id)
	if err != nil {
		return err
	}
	answerWith(w, status, form)
	return nil
}

func answerWith(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	w.Write(encode(v))
}

func (s *Server) patchObject(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c objectChange) error {
	o, err := shelf.Object(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	c.apply(&o)
	if err := shelf.ChangeObject(r.Context(), o); err != nil {
		return err
	}
	return s.answerObject(w, r, shelf, o.ID, http.StatusOK)
}

type stateChange struct {
	State catalogue.State `json:"state"`
	Note  string          `json:"note"`
	Since *string         `json:"since"`
}

func (s *Server) postState(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c stateChange) error {
	now := catalogue.Condition{State: c.State, Note: c.Note}
	if c.Since != nil {
		since, err := time.Parse(time.RFC3339Nano, *c.Since)
		if err != nil {
			return refuse(http.StatusUnprocessableEntity, "since", "Give the time as 2031-03-04T09:30:00Z, or null for now.")
		}
		now.Since = since
	}
	id := r.PathValue("id")
	if err := shelf.SetState(r.Context(), id, now); err != nil {
		return err
	}
	return s.answerObject(w, r, shelf, id, http.StatusOK)
}
