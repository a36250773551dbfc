package webview

import (
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"time"

	"ringwell/analysis/catalogue"
)

// shelfTable is every path of the shelf.
func (s *Server) shelfTable() map[string]map[string]handler {
	away := func(p catalogue.Part) map[string]handler {
		return map[string]handler{"POST": s.restorePart(p)}
	}
	return map[string]map[string]handler{
		"/api/strikes/{id}/keep":          {"POST": s.keepStrike},
		"/api/shelf":                      {"GET": s.getShelf, "PATCH": s.patchShelf},
		"/api/shelf/objects":              {"GET": s.getObjects, "POST": s.postObject},
		"/api/shelf/objects/{id}":         {"GET": s.getObject, "PATCH": s.patchObject, "DELETE": s.deletePart(catalogue.ObjectPart)},
		"/api/shelf/objects/{id}/restore": away(catalogue.ObjectPart),
		"/api/shelf/objects/{id}/state":   {"POST": s.postState},
		"/api/shelf/objects/{id}/photo":   {"PUT": s.putPhoto, "DELETE": s.deletePhoto},
		"/api/shelf/objects/{id}/voices":  {"POST": s.postVoice},
		"/api/shelf/photos/{file}":        {"GET": s.getPhoto},
		"/api/shelf/voices":               {"GET": s.getVoices},
		"/api/shelf/voices/{id}":          {"GET": s.getVoice, "PATCH": s.patchVoice, "DELETE": s.deletePart(catalogue.VoicePart)},
		"/api/shelf/voices/{id}/restore":  away(catalogue.VoicePart),
		"/api/shelf/voices/{id}/strikes":  {"GET": s.getVoiceStrikes},
		"/api/shelf/voices/{id}/alike":    {"GET": s.getAlike},
		"/api/shelf/voices/{id}/health":   {"GET": s.getVoiceHealth},
		"/api/shelf/strikes/{id}":         {"GET": s.getKept, "PATCH": s.patchKept, "DELETE": s.deletePart(catalogue.StrikePart)},
		"/api/shelf/strikes/{id}/restore": away(catalogue.StrikePart),
		"/api/shelf/pairs":                {"GET": s.getPairs},
		"/api/shelf/compare":              {"GET": s.getCompare},
		"/api/shelf/away":                 {"GET": s.getAway},
		"/api/shelf/empty":                {"POST": s.postEmpty},
		"/api/shelf/call-over":            {"GET": s.getCallOver, "POST": s.postCallOver, "PATCH": s.patchCallOver, "DELETE": s.deleteCallOver},
		"/api/shelf/walk":                 {"GET": s.getWalk, "POST": s.postWalk, "PATCH": s.patchWalk, "DELETE": s.deleteWalk},
		"/api/shelf/walk/finish":          {"POST": s.finishWalk},
		"/api/shelf/instruments/{name}":   {"DELETE": s.deleteInstrument},
		"/api/shelf/export/{table}":       {"GET": s.getExport},
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

func (s *Server) deletePart(p catalogue.Part) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return s.moveAway(w, r, p, true)
	}
}

func (s *Server) restorePart(p catalogue.Part) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := readBody(w, r, &struct{}{}); err != nil {
			return err
		}
		return s.moveAway(w, r, p, false)
	}
}

// moveAway puts a thing away or takes it back.
func (s *Server) moveAway(w http.ResponseWriter, r *http.Request, p catalogue.Part, away bool) error {
	shelf, err := s.writer()
	if err != nil {
		return err
	}
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

func (s *Server) getAway(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	ctx := r.Context()
	var out struct {
		Objects []ObjectForm `json:"objects"`
		Voices  []VoiceForm  `json:"voices"`
		Strikes []KeptForm   `json:"strikes"`
	}
	out.Voices, out.Strikes = []VoiceForm{}, []KeptForm{}
	if out.Objects, err = s.objectForms(ctx, shelf, &catalogue.Query{}, true); err != nil {
		return refusalOf(err)
	}
	voices, err := shelf.AwayVoices(ctx)
	if err != nil {
		return refusalOf(err)
	}
	see := s.seeing()
	for i := range voices {
		out.Voices = append(out.Voices, see.voice(&voices[i]))
	}
	strikes, err := shelf.AwayStrikes(ctx)
	if err != nil {
		return refusalOf(err)
	}
	for i := range strikes {
		out.Strikes = append(out.Strikes, see.kept(&strikes[i]))
	}
	answer(w, out)
	return nil
}

// postEmpty removes for good: one object, whose name must be said with its ID,
// or everything, by that word.
func (s *Server) postEmpty(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Object     string `json:"object"`
		Name       string `json:"name"`
		Everything string `json:"everything"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	shelf, err := s.writer()
	if err != nil {
		return err
	}
	switch {
	case c.Object == "" && c.Everything == "empty":
	case c.Object == "":
		return refuse(http.StatusUnprocessableEntity, "object", "Name the object to remove for good; or everything, by the word empty.")
	default:
		o, err := shelf.Object(r.Context(), c.Object)
		if err != nil {
			return refusalOf(err)
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
		return refusalOf(err)
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

// getExport sends a table as CSV, or everything as JSON Lines.
func (s *Server) getExport(w http.ResponseWriter, r *http.Request) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	name := r.PathValue("table")
	table, isCSV := strings.CutSuffix(name, ".csv")
	w.Header().Set("Content-Disposition", `attachment; filename="ringwell-`+strings.Map(fileLetter, name)+`"`)
	out := &begun{to: w}
	// Decades of recordings take longer than other answers may.
	http.NewResponseController(w).SetWriteDeadline(time.Time{})
	switch {
	case name == "shelf.jsonl":
		w.Header().Set("Content-Type", "application/jsonl")
		err = shelf.Export(r.Context(), out)
	case isCSV:
		w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
		err = shelf.WriteCSV(r.Context(), catalogue.Table(table), out)
	default:
		err = refuse(http.StatusNotFound, "", "There are shelf.jsonl, objects.csv, voices.csv and strikes.csv.")
	}
	if err == nil {
		return nil
	}
	if out.any {
		// Half an export that looks whole would be worse than a broken one.
		s.cfg.Log.Error("export", "err", err)
		panic(http.ErrAbortHandler)
	}
	w.Header().Del("Content-Disposition")
	return refusalOf(err)
}

func fileLetter(r rune) rune {
	if r == '.' {
		return r
	}
	return plainLetter(r)
}

// begun notes whether anything was written.
type begun struct {
	to  io.Writer
	any bool
}

func (b *begun) Write(p []byte) (int, error) {
	b.any = true
	return b.to.Write(p)
}
