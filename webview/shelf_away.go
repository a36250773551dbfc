package webview

import (
	"net/http"
	"time"

	"ringwell/analysis/catalogue"
)

func (s *Server) deletePart(p catalogue.Part) handler {
	return s.writing(func(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf) error {
		return s.moveAway(w, r, shelf, p, true)
	})
}

func (s *Server) restorePart(p catalogue.Part) handler {
	return changing(s, func(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, _ struct{}) error {
		return s.moveAway(w, r, shelf, p, false)
	})
}

// moveAway puts a thing away or takes it back.
func (s *Server) moveAway(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, p catalogue.Part, away bool) error {
	var err error
	id := r.PathValue("id")
	if away {
		err = shelf.PutAway(r.Context(), p, id)
	} else {
		err = shelf.TakeBack(r.Context(), p, id)
	}
	if err != nil {
		return refusalOf(err)
	}
	s.shelf.known.forget()
	s.mu.Lock()
	if st := s.shelf.form.Stand; away && st != nil && (st.Voice == id || st.Object == id) {
		s.shelf.form.Stand = nil
	}
	if e := s.trail.find(id); p == catalogue.StrikePart && e != nil && away && e.kept != nil {
		e.kept, e.health, e.tried = nil, nil, true
		s.tellStrike(e)
	}
	s.mu.Unlock()
	s.shelfChanged(r.Context())
	answer(w, struct {
		PutAway bool `json:"put_away"`
	}{away})
	return nil
}

func (s *Server) getAway(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	ctx := r.Context()
	objects, err := s.objectForms(ctx, shelf, &catalogue.Query{}, true)
	if err != nil {
		return err
	}
	out := struct {
		Objects []ObjectForm `json:"objects"`
		Voices  []VoiceForm  `json:"voices"`
		Strikes []KeptForm   `json:"strikes"`
	}{objects, []VoiceForm{}, []KeptForm{}}
	voices, err := shelf.AwayVoices(ctx)
	if err != nil {
		return err
	}
	see := s.seeing()
	for i := range voices {
		out.Voices = append(out.Voices, see.voice(&voices[i]))
	}
	strikes, err := shelf.AwayStrikes(ctx)
	if err != nil {
		return err
	}
	for i := range strikes {
		out.Strikes = append(out.Strikes, see.kept(&strikes[i]))
	}
	answer(w, out)
	return nil
}

type emptying struct {
	Object     string `json:"object"`
	Name       string `json:"name"`
	Everything string `json:"everything"`
}

// postEmpty removes for good: one object, whose name must be said with its ID,
// or everything, by that word.
func (s *Server) postEmpty(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, c emptying) error {
	switch {
	case c.Object == "" && c.Everything == "empty":
	case c.Object == "":
		return refuse(http.StatusUnprocessableEntity, "object", "Name the object to remove for good; or everything, by the word empty.")
	default:
		o, err := shelf.Object(r.Context(), c.Object)
		if err != nil {
			return err
		}
		if o.PutAway == nil {
			return refuse(http.StatusConflict, "object", "That is on the shelf. Put it away first.")
		}
		if o.Name != c.Name {
			return refuse(http.StatusUnprocessableEntity, "name", "To remove it for good, give its name as it is written.")
		}
	}
	gone, err := shelf.Empty(r.Context(), s.cfg.Now().Add(time.Second), c.Object)
	if err != nil {
		return err
	}
	s.shelf.known.forget()
	s.shelfChanged(r.Context())
	answer(w, struct {
		Objects    int `json:"objects"`
		Voices     int `json:"voices"`
		Strikes    int `json:"strikes"`
		Recordings int `json:"recordings"`
	}{gone.Objects, gone.Voices, gone.Strikes, gone.Recordings})
	return nil
}
