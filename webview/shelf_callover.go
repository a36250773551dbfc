package webview

import (
	"net/http"
	"strings"

	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// CallOverForm is a call-over as it stands.
type CallOverForm struct {
	Begun     string         `json:"begun"`
	Of        int            `json:"of"`
	Present   int            `json:"present"`
	Suspect   int            `json:"suspect"`
	Missing   int            `json:"missing"`
	Lines     []CallOverLine `json:"lines"`
	Strangers int            `json:"strangers"` // strikes of nothing in the group
	Unsure    []UnsureForm   `json:"unsure"`
}

// CallOverLine is one object of it.
type CallOverLine struct {
	Object      string       `json:"object"`
	Name        string       `json:"name"`
	Answer      match.Answer `json:"answer"` // missing, present or suspect
	Voice       *string      `json:"voice"`
	Strike      *string      `json:"strike"`
	Moved       *float64     `json:"moved_cents"`
	Sigma       *float64     `json:"sigma_cents"`
	Temperature *float64     `json:"temperature_c"`
	Words       string       `json:"words"`
}

// UnsureForm is a strike somebody must say the object of.
type UnsureForm struct {
	Strike     string          `json:"strike"`
	Candidates []CandidateForm `json:"candidates"`
}

// callOverForm is the call-over that is on. Callers hold mu.
func (s *Server) callOverForm() CallOverForm {
	c := s.shelf.callOver
	out := CallOverForm{Begun: s.shelf.began, Of: len(c.Lines), Present: c.Count(match.Present), Suspect: c.Count(match.Doubted),
		Missing: c.Count(match.Missing), Lines: []CallOverLine{}, Strangers: len(c.Strangers), Unsure: []UnsureForm{}}
	names := map[string]label{}
	for i := range c.Lines {
		l := &c.Lines[i]
		line := CallOverLine{Object: l.Object, Name: l.Name, Answer: l.Answer, Words: l.Words()}
		if l.Answer != match.Missing {
			line.Voice, line.Strike = &l.Voice, &l.Strike
			line.Moved, line.Sigma = known(l.Moved, placesCents, true), known(l.Sigma, placesCents, l.Sigma > 0)
			line.Temperature = s.shelf.degrees
		}
		names[l.Object] = label{l.Object, l.Name, l.Name}
		out.Lines = append(out.Lines, line)
	}
	for _, u := range c.Unsure {
		form := UnsureForm{u.Strike, candidateForms(u.Candidates, nil)}
		for i := range form.Candidates {
			form.Candidates[i].Label = names[form.Candidates[i].Object].words
		}
		out.Unsure = append(out.Unsure, form)
	}
	return out
}

func (s *Server) answerCallOver(w http.ResponseWriter) error {
	s.mu.Lock()
	if s.shelf.callOver == nil {
		s.mu.Unlock()
		return refuse(http.StatusNotFound, "", "No call-over is on.")
	}
	form := s.callOverForm()
	s.mu.Unlock()
	answer(w, form)
	return nil
}

func (s *Server) getCallOver(w http.ResponseWriter, _ *http.Request) error {
	return s.answerCallOver(w)
}

// postCallOver begins one: of the objects named, those kept at a place, or all
// that should be at hand.
func (s *Server) postCallOver(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	var c struct {
		Objects []string `json:"objects"`
		KeptAt  string   `json:"kept_at"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	objects, err := shelf.Objects(r.Context(), false)
	if err != nil {
		return err
	}
	states, err := shelf.NowStates(r.Context())
	if err != nil {
		return err
	}
	wanted := map[string]bool{}
	for _, id := range c.Objects {
		wanted[id] = true
	}
	names := map[string]string{}
	for _, o := range objects {
		switch {
		case len(wanted) > 0:
			if wanted[o.ID] {
				names[o.ID] = o.Name
			}
		case !strings.Contains(strings.ToLower(o.KeptAt), strings.ToLower(c.KeptAt)):
		case states[o.ID] == catalogue.Whole || states[o.ID] == catalogue.Suspect:
			names[o.ID] = o.Name
		}
	}
	if len(names) == 0 || len(wanted) > len(names) {
		return refuse(http.StatusUnprocessableEntity, "objects", "Choose objects that are on the shelf.")
	}
	s.mu.Lock()
	s.shelf.callOver, s.shelf.began = match.NewCallOver(names), timeForm(s.cfg.Now())
	s.shelf.degrees = s.shelf.form.Temperature
	s.tellShelf()
	s.mu.Unlock()
	return s.answerCallOver(w)
}

// patchCallOver says which object an unsure strike was.
func (s *Server) patchCallOver(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	var c struct {
		Strike string `json:"strike"`
		Object string `json:"object"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	e, _, err := s.snapshot(c.Strike)
	if err != nil {
		return err
	}
	is, err := s.likeliest(r, shelf, c.Strike, c.Object)
	if err != nil {
		return err
	}
	h, _, err := s.healthOf(r.Context(), shelf, e.strike, is.ID)
	if err != nil {
		return err
	}
	s.mu.Lock()
	taken := s.shelf.callOver != nil && s.shelf.callOver.Hear(c.Strike, is, *h)
	if taken {
		s.tellShelf()
	}
	s.mu.Unlock()
	if !taken {
		return refuse(http.StatusUnprocessableEntity, "object", "That object is not in the call-over.")
	}
	return s.answerCallOver(w)
}

// likeliest is the voice of an object a strike was offered as, or its first.
func (s *Server) likeliest(r *http.Request, shelf *catalogue.Reader, strike, object string) (match.Candidate, error) {
	s.mu.Lock()
	if c := s.shelf.callOver; c != nil {
		for _, u := range c.Unsure {
			for _, x := range u.Candidates {
				if u.Strike == strike && x.Object == object {
					s.mu.Unlock()
					return x, nil
				}
			}
		}
	}
	s.mu.Unlock()
	voices, err := shelf.Voices(r.Context(), object)
	if err != nil {
		return match.Candidate{}, err
	}
	if len(voices) == 0 {
		return match.Candidate{}, refuse(http.StatusUnprocessableEntity, "object", "That object has no voice on the shelf.")
	}
	return match.Candidate{ID: voices[0].ID, Object: object}, nil
}

func (s *Server) deleteCallOver(w http.ResponseWriter, _ *http.Request) error {
	s.mu.Lock()
	s.shelf.callOver = nil
	s.tellShelf()
	s.mu.Unlock()
	w.WriteHeader(http.StatusNoContent)
	return nil
}
