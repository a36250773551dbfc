package webview

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

const socketPath = "/socket"

// handler answers a request or returns why not, mostly a *Refusal.
type handler func(w http.ResponseWriter, r *http.Request) error

// routes is every path there is; what is not here is a file of the page or
// nothing.
func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	for path, methods := range s.shelfTable() {
		mux.Handle(path, byMethod(methods))
	}
	for path, methods := range map[string]map[string]handler{
		"/healthz":                  {"GET": s.getHealth},
		socketPath:                  {"GET": s.getSocket},
		"/api/session":              {"GET": s.getSession, "PATCH": s.patchSession},
		"/api/instruments":          {"GET": s.getInstruments},
		"/api/instruments/{name}":   {"GET": s.getInstrument},
		"/api/source":               {"POST": s.postSource},
		"/api/tone":                 {"POST": s.postTone},
		"/api/wanted":               {"GET": s.getWanted, "PUT": s.putWanted, "PATCH": s.patchWanted},
		"/api/strikes":              {"GET": s.getStrikes},
		"/api/strikes/{id}":         {"GET": s.getStrike, "DELETE": s.deleteStrike},
		"/api/strikes/{id}/restore": {"POST": s.restoreStrike},
		"/api/strikes/{id}/name":    {"POST": s.nameStrike},
		"/api/strikes/{id}/pin":     {"POST": s.postPin, "DELETE": s.deletePin},
	} {
		mux.Handle(path, byMethod(methods))
	}
	mux.Handle("/", s.page)
	return mux
}

func byMethod(methods map[string]handler) http.Handler {
	var allowed []string
	for m := range methods {
		allowed = append(allowed, m)
	}
	slices.Sort(allowed)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-store")
		method := r.Method
		if method == http.MethodHead {
			method = http.MethodGet
		}
		do, ok := methods[method]
		if !ok {
			answerMethod(w, r, strings.Join(allowed, ", "))
			return
		}
		if err := do(w, r); err != nil {
			answerRefusal(w, err)
		}
	})
}

func answerMethod(w http.ResponseWriter, r *http.Request, allowed string) {
	w.Header().Set("Allow", allowed)
	answerRefusal(w, refuse(http.StatusMethodNotAllowed, "", "%s takes %s only.", r.URL.Path, allowed))
}

func (s *Server) getHealth(w http.ResponseWriter, _ *http.Request) error {
	s.mu.Lock()
	state := s.state
	s.mu.Unlock()
	ok := state.Code != listen.Deaf
	if !ok {
		w.Header().Set("Content-Type", "application/json; charset=utf-8")
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	answer(w, struct {
		OK    bool   `json:"ok"`
		State string `json:"state"`
		Words string `json:"words"`
	}{ok, state.Code, state.Words})
	return nil
}

func (s *Server) getSession(w http.ResponseWriter, _ *http.Request) error {
	answer(w, s.Session())
	return nil
}

func (s *Server) patchSession(w http.ResponseWriter, r *http.Request) error {
	var c Change
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	session, err := s.Change(c)
	if err != nil {
		return err
	}
	answer(w, session)
	return nil
}

func (s *Server) postSource(w http.ResponseWriter, r *http.Request) error {
	var to Source
	if err := readBody(w, r, &to); err != nil {
		return err
	}
	session, err := s.ChooseSource(to)
	if err != nil {
		return err
	}
	answer(w, session)
	return nil
}

func (s *Server) postTone(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		On *bool `json:"on"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if want.On == nil {
		return refuse(http.StatusUnprocessableEntity, "on", "Say whether the target is to sound: {\"on\":true} or {\"on\":false}.")
	}
	session, err := s.tone(*want.On, s.cfg.Now())
	if err != nil {
		return err
	}
	answer(w, session)
	return nil
}

func (s *Server) getInstruments(w http.ResponseWriter, _ *http.Request) error {
	answer(w, struct {
		Instruments []string `json:"instruments"`
	}{s.instrumentList()})
	return nil
}

func (s *Server) getInstrument(w http.ResponseWriter, r *http.Request) error {
	reference := analysis.Hz(s.Session().Reference)
	if given := r.URL.Query().Get("reference_hz"); given != "" {
		f, err := parseReference(given)
		if err != nil {
			return err
		}
		reference = f
	}
	name := r.PathValue("name")
	in, err := s.cfg.Instrument(name, reference)
	if err != nil {
		return refuse(http.StatusNotFound, "", "There is no instrument %q; there are: %s.", name, strings.Join(s.instrumentList(), ", "))
	}
	answer(w, instrumentForm(in))
	return nil
}

// getSocket turns the request into a client of the hub.
func (s *Server) getSocket(w http.ResponseWriter, r *http.Request) error {
	if !websocket.IsWebSocketUpgrade(r) {
		return refuse(http.StatusUpgradeRequired, "", "This address speaks websocket only. The page is at /.")
	}
	if err := s.hub.room(); err != nil {
		return refuse(http.StatusServiceUnavailable, "", "No more pages can listen just now. Close one and try again.")
	}
	up := websocket.Upgrader{
		// guard has seen Host and Origin already; asked again, so that the
		// upgrade is safe wherever it is mounted.
		CheckOrigin: func(r *http.Request) bool { return ownHost(r) && ownOrigin(r) },
		Error: func(w http.ResponseWriter, _ *http.Request, status int, reason error) {
			answerRefusal(w, refuse(status, "", "The websocket could not be opened: %v.", reason))
		},
	}
	conn, err := up.Upgrade(w, r, nil)
	if err != nil {
		return nil // up.Error has answered
	}
	if err := s.join(conn); err != nil {
		// The last place was taken meanwhile, or the server is stopping.
		words := websocket.FormatCloseMessage(websocket.CloseTryAgainLater, "try again later")
		conn.WriteControl(websocket.CloseMessage, words, time.Now().Add(s.hub.timing.write))
		conn.Close()
	}
	return nil
}

// join makes conn a client, whom no message escapes that is told after its
// hello.
func (s *Server) join(conn *websocket.Conn) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	first := []post{{key: typeHello, data: encode(s.hello())}}
	if s.room != nil {
		first = append(first, *s.room)
	}
	return s.hub.join(conn, first...)
}

// hello is all a page needs to start. Callers hold mu.
func (s *Server) hello() hello {
	strikes, earlier := s.latest()
	return hello{
		header: head(typeHello), Version: s.cfg.Version,
		Instruments: s.instrumentNames(), Sources: append([]string{}, s.cfg.Sources...), Kinds: kindNames(),
		Session: s.session, Instrument: instrumentForm(s.in), State: s.state, Strikes: strikes, Earlier: earlier,
		Wanted: s.wantedForm(), Shelf: s.shelfForm(),
	}
}
