package webview

import (
	"maps"
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

// table is every path there is; what is not here is a file of the page or
// nothing.
func (s *Server) table() map[string]map[string]handler {
	all := map[string]map[string]handler{
		"/healthz":                  {"GET": here(s.getHealth)},
		"/metrics":                  {"GET": here(s.getMetrics)},
		"/pair":                     {"GET": s.getPairPage},
		"/pair.js":                  {"GET": s.getPairFile},
		"/pair.css":                 {"GET": s.getPairFile},
		"/authority.crt":            {"GET": s.getAuthority},
		socketPath:                  {"GET": s.getSocket},
		earPath:                     {"GET": s.getEar},
		"/api/token":                {"GET": s.getToken},
		"/api/share":                {"GET": s.getShare},
		"/api/pair":                 {"POST": s.postPair},
		"/api/pairing":              {"POST": here(s.postPairing)},
		"/api/pairing/code.svg":     {"GET": here(s.getPairingCode)},
		"/api/devices":              {"GET": s.getDevices},
		"/api/devices/{id}":         {"DELETE": s.deleteDevice},
		"/api/devices/{id}/name":    {"POST": s.nameDevice},
		"/api/scripts":              {"GET": here(s.getScripts), "POST": here(s.postScript)},
		"/api/scripts/{id}":         {"DELETE": here(s.deleteScript)},
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
	}
	maps.Copy(all, s.shelfTable())
	maps.Copy(all, s.benchTable())
	return all
}

// routes fills the mux, and lists the calls a script may be granted: all of the
// api's but those that are about the doors themselves.
func (s *Server) routes() http.Handler {
	s.mux = http.NewServeMux()
	for path, methods := range s.table() {
		s.mux.Handle(path, byMethod(methods))
		if doors := slices.ContainsFunc([]string{"token", "share", "pair", "devices", "scripts"}, func(p string) bool {
			return strings.HasPrefix(path, "/api/"+p)
		}); doors || !strings.HasPrefix(path, "/api/") {
			continue
		}
		for method := range methods {
			s.calls = append(s.calls, method+" "+path)
		}
	}
	slices.Sort(s.calls)
	s.mux.Handle("/", s.page)
	return s.mux
}

// grantable reports whether a script's token can be for this call.
func (s *Server) grantable(call string) bool { return slices.Contains(s.calls, call) }

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
	to, err := s.phoneChoice(to, whose(r))
	if err != nil {
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
	c := whose(r)
	if err := s.hub.room(c.device.ID); err != nil {
		return refuse(http.StatusServiceUnavailable, "", "No more pages can listen just now. Close one and try again.")
	}
	conn, err := s.upgrade(w, r)
	if conn == nil {
		return err
	}
	if err := s.join(conn, c); err != nil {
		// The last place was taken meanwhile, or the server is stopping.
		words := websocket.FormatCloseMessage(websocket.CloseTryAgainLater, "try again later")
		conn.WriteControl(websocket.CloseMessage, words, time.Now().Add(s.hub.timing.write))
		conn.Close()
	}
	return nil
}

// upgrade turns the request into a websocket. Without one it has answered, or
// says why not.
func (s *Server) upgrade(w http.ResponseWriter, r *http.Request) (*websocket.Conn, error) {
	if !websocket.IsWebSocketUpgrade(r) {
		return nil, refuse(http.StatusUpgradeRequired, "", "This address speaks websocket only. The page is at /.")
	}
	up := websocket.Upgrader{
		// guard has seen Host and Origin already; asked again, so that the
		// upgrade is safe wherever it is mounted.
		CheckOrigin: func(r *http.Request) bool { return s.ownHost(r) && ownOrigin(r) },
		Error: func(w http.ResponseWriter, _ *http.Request, status int, reason error) {
			answerRefusal(w, refuse(status, "", "The websocket could not be opened: %v.", reason))
		},
	}
	conn, err := up.Upgrade(w, r, nil)
	if err != nil {
		return nil, nil // up.Error has answered
	}
	return conn, nil
}

// join makes conn a client, whom no message escapes that is told after its
// hello.
func (s *Server) join(conn *websocket.Conn, c caller) error {
	var revoked <-chan struct{}
	if c.device.ID != "" {
		revoked = s.cfg.Book.Revoked(c.device.ID)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	first := []post{{key: typeHello, data: encode(s.hello())}}
	if s.room != nil {
		first = append(first, *s.room)
	}
	if p := s.bench.post.Load(); p != nil {
		first = append(first, *p)
	}
	return s.hub.join(conn, c.device.ID, revoked, first...)
}

// hello is all a page needs to start. Callers hold mu.
func (s *Server) hello() hello {
	strikes, earlier := s.latest()
	return hello{
		header: head(typeHello), Version: s.cfg.Version,
		Instruments: s.instrumentNames(), Sources: append([]string{}, s.cfg.Sources...), Kinds: kindNames(),
		Session: s.session, Instrument: instrumentForm(s.in), State: s.state, Strikes: strikes, Earlier: earlier,
		Phones: s.phoneForms(),
		Wanted: s.wantedForm(), Shelf: s.shelfForm(),
	}
}
