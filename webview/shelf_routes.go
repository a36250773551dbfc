package webview

import (
	"encoding/json"
	"net/http"

	"ringwell/analysis/catalogue"
)

// shelfTable is every path of the shelf.
func (s *Server) shelfTable() map[string]map[string]handler {
	away := func(p catalogue.Part) map[string]handler {
		return map[string]handler{"POST": s.restorePart(p)}
	}
	return map[string]map[string]handler{
		"/api/strikes/{id}/keep":          {"POST": changing(s, s.keepStrike)},
		"/api/shelf":                      {"GET": s.getShelf, "PATCH": s.patchShelf},
		"/api/shelf/objects":              {"GET": s.reading(s.getObjects), "POST": changing(s, s.postObject)},
		"/api/shelf/objects/{id}":         {"GET": s.reading(s.getObject), "PATCH": changing(s, s.patchObject), "DELETE": s.deletePart(catalogue.ObjectPart)},
		"/api/shelf/objects/{id}/restore": away(catalogue.ObjectPart),
		"/api/shelf/objects/{id}/state":   {"POST": changing(s, s.postState)},
		"/api/shelf/objects/{id}/photo":   {"PUT": s.writing(s.putPhoto), "DELETE": s.writing(s.deletePhoto)},
		"/api/shelf/objects/{id}/voices":  {"POST": changing(s, s.postVoice)},
		"/api/shelf/photos/{file}":        {"GET": s.reading(s.getPhoto)},
		"/api/shelf/voices":               {"GET": s.reading(s.getVoices)},
		"/api/shelf/voices/{id}":          {"GET": s.reading(s.getVoice), "PATCH": changing(s, s.patchVoice), "DELETE": s.deletePart(catalogue.VoicePart)},
		"/api/shelf/voices/{id}/restore":  away(catalogue.VoicePart),
		"/api/shelf/voices/{id}/strikes":  {"GET": s.reading(s.getVoiceStrikes)},
		"/api/shelf/voices/{id}/alike":    {"GET": s.reading(s.getAlike)},
		"/api/shelf/voices/{id}/health":   {"GET": s.reading(s.getVoiceHealth)},
		"/api/shelf/strikes/{id}":         {"GET": s.reading(s.getKept), "PATCH": changing(s, s.patchKept), "DELETE": s.deletePart(catalogue.StrikePart)},
		"/api/shelf/strikes/{id}/restore": away(catalogue.StrikePart),
		"/api/shelf/pairs":                {"GET": s.reading(s.getPairs)},
		"/api/shelf/compare":              {"GET": s.reading(s.getCompare)},
		"/api/shelf/away":                 {"GET": s.reading(s.getAway)},
		"/api/shelf/empty":                {"POST": changing(s, s.postEmpty)},
		"/api/shelf/call-over":            {"GET": s.getCallOver, "POST": s.reading(s.postCallOver), "PATCH": s.reading(s.patchCallOver), "DELETE": s.deleteCallOver},
		"/api/shelf/walk":                 {"GET": s.getWalk, "POST": s.postWalk, "PATCH": s.patchWalk, "DELETE": s.deleteWalk},
		"/api/shelf/walk/finish":          {"POST": changing(s, s.finishWalk)},
		"/api/shelf/instruments/{name}":   {"DELETE": s.writing(s.deleteInstrument)},
		"/api/shelf/export/{table}":       {"GET": s.reading(s.getExport)},
	}
}

// reading makes a handler of one that reads the shelf: it is not called where
// there is none, and what the shelf says in errors is said to the caller.
func (s *Server) reading(do func(http.ResponseWriter, *http.Request, *catalogue.Reader) error) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		shelf, err := s.reader()
		if err != nil {
			return err
		}
		return refusalOf(do(w, r, shelf))
	}
}

// writing is reading for one that writes.
func (s *Server) writing(do func(http.ResponseWriter, *http.Request, *catalogue.Shelf) error) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		shelf, err := s.writer()
		if err != nil {
			return err
		}
		return refusalOf(do(w, r, shelf))
	}
}

// changing is writing for one that is told in the body what to write.
func changing[T any](s *Server, do func(http.ResponseWriter, *http.Request, *catalogue.Shelf, T) error) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		var body T
		if err := readBody(w, r, &body); err != nil {
			return err
		}
		return s.writing(func(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf) error {
			return do(w, r, shelf, body)
		})(w, r)
	}
}

func (s *Server) getShelf(w http.ResponseWriter, _ *http.Request) error {
	s.mu.Lock()
	form := s.shelfForm()
	s.mu.Unlock()
	answer(w, form)
	return nil
}

// maybe is a field that may be left out, null or set.
type maybe[T any] struct {
	given bool
	value *T
}

// UnmarshalJSON reads a value or null.
func (m *maybe[T]) UnmarshalJSON(b []byte) error {
	m.given, m.value = true, nil
	return json.Unmarshal(b, &m.value)
}

func (s *Server) patchShelf(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Temperature maybe[float64] `json:"temperature_c"`
		Room        *string        `json:"room"`
		Stand       maybe[string]  `json:"stand"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	if t := c.Temperature.value; t != nil && !(*t >= -60 && *t <= 80) {
		return refuse(http.StatusUnprocessableEntity, "temperature_c", "Give -60 to 80 °C, or null.")
	}
	if c.Room != nil {
		if err := checkName("room", *c.Room); err != nil {
			return err
		}
	}
	var stand *StandForm
	if id := c.Stand.value; id != nil {
		shelf, err := s.writer()
		if err != nil {
			return err
		}
		row, err := shelf.Row(r.Context(), *id)
		if err != nil {
			return refusalOf(err)
		}
		if row.Voice.PutAway != nil || row.Object.PutAway != nil {
			return refuse(http.StatusConflict, "stand", "That was put away. Take it back first.")
		}
		stand = &StandForm{Voice: row.Voice.ID, Object: row.Object.ID, Label: voiceLabel(&row)}
	}
	s.mu.Lock()
	f := &s.shelf.form
	if c.Temperature.given {
		f.Temperature = c.Temperature.value
		s.lookAgain() // what a temperature explains is no change
	}
	if c.Room != nil {
		f.Room = *c.Room
	}
	if c.Stand.given {
		f.Stand = stand
	}
	s.tellShelf()
	form := s.shelfForm()
	s.mu.Unlock()
	answer(w, form)
	return nil
}
