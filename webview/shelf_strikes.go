package webview

import (
	"net/http"
	"strings"

	"ringwell/analysis/catalogue"
)

func (s *Server) getVoiceStrikes(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	id := r.PathValue("id")
	if _, err := shelf.Voice(r.Context(), id); err != nil {
		return err
	}
	strikes, err := shelf.Strikes(r.Context(), id)
	if err != nil {
		return err
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

func (s *Server) getKept(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	id, wav := strings.CutSuffix(r.PathValue("id"), ".wav")
	k, err := shelf.Strike(r.Context(), id)
	if err != nil {
		return err
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

type keptChange struct {
	Note  *string `json:"note"`
	Voice *string `json:"voice"`
}

func (s *Server) patchKept(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c keptChange) error {
	id := r.PathValue("id")
	if err := shelf.AmendStrike(r.Context(), id, c.Note, c.Voice); err != nil {
		return err
	}
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	k, err := shelf.Strike(r.Context(), id)
	if err != nil {
		return err
	}
	if row, err := shelf.Row(r.Context(), k.Voice); err == nil {
		s.mark(id, &row, nil)
	}
	answer(w, s.seeing().kept(&k))
	return nil
}
