package webview

import (
	"net/http"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

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

func (s *Server) postVoice(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c voiceChange) error {
	v := catalogue.Voice{Object: r.PathValue("id")}
	c.apply(&v)
	v, err := shelf.AddVoice(r.Context(), v)
	if err != nil {
		return err
	}
	return s.answerVoice(w, r, shelf, v.ID, http.StatusCreated)
}

func (s *Server) answerVoice(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, id string, status int) error {
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	row, err := shelf.Row(r.Context(), id)
	if err != nil {
		return err
	}
	answerWith(w, status, s.seeing().voice(&row))
	return nil
}

func (s *Server) getVoice(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	row, err := shelf.Row(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	answer(w, s.seeing().voice(&row))
	return nil
}

func (s *Server) patchVoice(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c voiceChange) error {
	v, err := shelf.Voice(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	c.apply(&v)
	if err := shelf.ChangeVoice(r.Context(), v); err != nil {
		return err
	}
	return s.answerVoice(w, r, shelf, v.ID, http.StatusOK)
}
