package webview

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"
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

func (s *Server) getObjects(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	q, err := s.query(r)
	if err != nil {
		return err
	}
	objects, err := s.objectForms(r.Context(), shelf, &q, r.URL.Query().Get("away") == "1")
	if err != nil {
		return refusalOf(err)
	}
	answer(w, struct {
		Objects []ObjectForm `json:"objects"`
	}{objects})
	return nil
}

func (s *Server) postObject(w http.ResponseWriter, r *http.Request) error {
	var c objectChange
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	var o catalogue.Object
	c.apply(&o)
	if o, err = shelf.AddObject(r.Context(), o); err != nil {
		return refusalOf(err)
	}
	return s.answerObject(w, r, o.ID, http.StatusCreated)
}

func (s *Server) getObject(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	form, err := s.wholeObject(r.Context(), shelf, r.PathValue("id"))
	if err != nil {
		return refusalOf(err)
	}
	answer(w, form)
	return nil
}

// answerObject tells the pages that an object has changed and answers with it.
func (s *Server) answerObject(w http.ResponseWriter, r *http.Request, id string, status int) error {
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	form, err := s.wholeObject(r.Context(), s.shelf.Read, id)
	if err != nil {
		return refusalOf(err)
	}
	answerWith(w, status, form)
	return nil
}

func answerWith(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	w.Write(encode(v))
}

func (s *Server) patchObject(w http.ResponseWriter, r *http.Request) error {
	var c objectChange
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	o, err := shelf.Object(r.Context(), r.PathValue("id"))
	if err != nil {
		return refusalOf(err)
	}
	c.apply(&o)
	if err := shelf.ChangeObject(r.Context(), o); err != nil {
		return refusalOf(err)
	}
	return s.answerObject(w, r, o.ID, http.StatusOK)
}

func (s *Server) postState(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		State catalogue.State `json:"state"`
		Note  string          `json:"note"`
		Since *string         `json:"since"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	now := catalogue.Condition{State: c.State, Note: c.Note}
	if c.Since != nil {
		if now.Since, err = time.Parse(time.RFC3339Nano, *c.Since); err != nil {
			return refuse(http.StatusUnprocessableEntity, "since", "Give the time as 2031-03-04T09:30:00Z, or null for now.")
		}
	}
	id := r.PathValue("id")
	if err := shelf.SetState(r.Context(), id, now); err != nil {
		return refusalOf(err)
	}
	return s.answerObject(w, r, id, http.StatusOK)
}

// photoLimit is the longest photo that is read, in bytes; the catalogue looks
// at its pixels.
const photoLimit = 32 << 20

func (s *Server) putPhoto(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "image/") {
		return refuse(http.StatusUnsupportedMediaType, "", "Send the bytes of a JPEG, PNG or WebP file with Content-Type: image/jpeg, image/png or image/webp.")
	}
	// A telephone on a slow network needs longer for a photo than for words.
	http.NewResponseController(w).SetReadDeadline(time.Now().Add(time.Minute))
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, photoLimit))
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		return refuse(http.StatusRequestEntityTooLarge, "photo", "The photo is longer than %d MiB.", photoLimit>>20)
	case err != nil:
		return refuse(http.StatusBadRequest, "photo", "The photo did not come whole. Send it again.")
	case len(data) == 0:
		return refuse(http.StatusUnprocessableEntity, "photo", "The photo is empty.")
	}
	id := r.PathValue("id")
	if err := shelf.SetPhoto(r.Context(), id, data); err != nil {
		return refusalOf(err)
	}
	return s.answerObject(w, r, id, http.StatusOK)
}

func (s *Server) deletePhoto(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	id := r.PathValue("id")
	if err := shelf.SetPhoto(r.Context(), id, nil); err != nil {
		return refusalOf(err)
	}
	return s.answerObject(w, r, id, http.StatusOK)
}

func (s *Server) getPhoto(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	hash, ok := strings.CutSuffix(r.PathValue("file"), ".jpg")
	if !ok {
		return refuse(http.StatusNotFound, "", "Photos end in .jpg.")
	}
	data, err := shelf.Photo(r.Context(), hash)
	if err != nil {
		return refusalOf(err)
	}
	w.Header().Set("Content-Type", "image/jpeg")
	// Its name is what is in it: it never changes.
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
	return nil
}

// voiceChange is what can be said of a voice.
type voiceChange struct {
	Place   *string        `json:"place"`
	Beater  *string        `json:"beater"`
	Support *string        `json:"support"`
	Fill    *string        `json:"fill"`
	Pinned  maybe[float64] `json:"pinned_hz"`
}

func (c *voiceChange) apply(v *catalogue.Voice) {
	set(&v.Place, c.Place)
	set(&v.Beater, c.Beater)
	set(&v.Support, c.Support)
	set(&v.Fill, c.Fill)
	if c.Pinned.given {
		v.PinnedHz = 0
		if c.Pinned.value != nil {
			v.PinnedHz = analysis.Hz(*c.Pinned.value)
		}
	}
}

func (s *Server) postVoice(w http.ResponseWriter, r *http.Request) error {
	var c voiceChange
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	v := catalogue.Voice{Object: r.PathValue("id")}
	c.apply(&v)
	if v, err = shelf.AddVoice(r.Context(), v); err != nil {
		return refusalOf(err)
	}
	return s.answerVoice(w, r, v.ID, http.StatusCreated)
}

func (s *Server) answerVoice(w http.ResponseWriter, r *http.Request, id string, status int) error {
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	row, err := s.shelf.Read.Row(r.Context(), id)
	if err != nil {
		return refusalOf(err)
	}
	answerWith(w, status, s.seeing().voice(&row))
	return nil
}

func (s *Server) getVoice(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	row, err := shelf.Row(r.Context(), r.PathValue("id"))
	if err != nil {
		return refusalOf(err)
	}
	answer(w, s.seeing().voice(&row))
	return nil
}

func (s *Server) patchVoice(w http.ResponseWriter, r *http.Request) error {
	var c voiceChange
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	v, err := shelf.Voice(r.Context(), r.PathValue("id"))
	if err != nil {
		return refusalOf(err)
	}
	c.apply(&v)
	if err := shelf.ChangeVoice(r.Context(), v); err != nil {
		return refusalOf(err)
	}
	return s.answerVoice(w, r, v.ID, http.StatusOK)
}

func (s *Server) getVoiceStrikes(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	id := r.PathValue("id")
	if _, err := shelf.Voice(r.Context(), id); err != nil {
		return refusalOf(err)
	}
	strikes, err := shelf.Strikes(r.Context(), id)
	if err != nil {
		return refusalOf(err)
	}
	forms, see := []KeptForm{}, s.seeing()
	for i := range strikes {
		forms = append(forms, see.kept(&strikes[i]))
	}
	answer(w, struct {
		Strikes []KeptForm `json:"strikes"`
	}{forms})
	return nil
}

func (s *Server) getKept(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	id, wav := strings.CutSuffix(r.PathValue("id"), ".wav")
	k, err := shelf.Strike(r.Context(), id)
	if err != nil {
		return refusalOf(err)
	}
	if !wav {
		answer(w, s.seeing().kept(&k))
		return nil
	}
	data, err := shelf.Recording(k.Recording)
	if err != nil {
		s.cfg.Log.Error("shelf", "err", err)
		return refuse(http.StatusNotFound, "", "The recording of that strike is missing or damaged: ringwell shelf check says more. What was measured is still there.")
	}
	sendWAV(w, r, wavName(k.Strike), data)
	return nil
}

func (s *Server) patchKept(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Note  *string `json:"note"`
		Voice *string `json:"voice"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	id := r.PathValue("id")
	if err := shelf.AmendStrike(r.Context(), id, c.Note, c.Voice); err != nil {
		return refusalOf(err)
	}
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	k, err := shelf.Strike(r.Context(), id)
	if err != nil {
		return refusalOf(err)
	}
	if row, err := shelf.Row(r.Context(), k.Voice); err == nil {
		s.mark(id, &row, nil)
	}
	answer(w, s.seeing().kept(&k))
	return nil
}
