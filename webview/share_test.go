package webview

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis/listen"
	"ringwell/webview/share"
)

// sharedRig is a server with both doors open. The shared one is on loopback
// too, as far as addresses go; everything else about it is as on a network.
type sharedRig struct {
	*rig
	network *share.Network
	clock   *clock
	at      string // host and port of the shared door
	log     *bytes.Buffer
}

func startShared(t *testing.T, cfg Config, tune ...func(*Server)) *sharedRig {
	t.Helper()
	c := newClock()
	if cfg.Now == nil {
		cfg.Now = c.Now
	}
	n, err := share.Open(share.Options{
		Dir: t.TempDir(), Names: []string{"hall", "hall.local"},
		Find: func() ([]share.Address, error) {
			return []share.Address{{IP: netip.MustParseAddr("127.0.0.1"), Network: netip.MustParsePrefix("127.0.0.1/32")}}, nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { n.Close() })
	cfg.Network = n
	if cfg.Sources == nil {
		cfg.Sources = []string{"mic", "demo", FromPhone}
	}
	log := &bytes.Buffer{}
	r := &sharedRig{network: n, clock: c, at: n.Addr().String(), log: log}
	r.rig = start(t, cfg, append(tune, func(s *Server) {
		s.cfg.Log = slog.New(slog.NewTextHandler(log, nil))
	})...)
	served := make(chan error, 1)
	go func() { served <- r.ServeShared() }()
	t.Cleanup(func() {
		r.stop()
		if err := <-served; err != nil {
			t.Errorf("ServeShared after Shutdown: got %v, wanted nil", err)
		}
	})
	return r
}

// browser is one on another device: it trusts the authority and keeps a cookie.
type browser struct {
	t      *testing.T
	r      *sharedRig
	cookie *http.Cookie
	client *http.Client
}

func (r *sharedRig) trust() *tls.Config { return trustOf(r.t, r.network.Authority().DER()) }

func trustOf(t testing.TB, der []byte) *tls.Config {
	t.Helper()
	ca, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(ca)
	return &tls.Config{RootCAs: roots}
}

func (r *sharedRig) browser(t *testing.T) *browser {
	b := &browser{t: t, r: r}
	b.trusts(r.trust())
	return b
}

func (b *browser) trusts(c *tls.Config) {
	transport := &http.Transport{TLSClientConfig: c}
	b.t.Cleanup(transport.CloseIdleConnections)
	b.client = &http.Client{Transport: transport}
}

func (b *browser) headers() http.Header {
	h := http.Header{"Origin": {"https://" + b.r.at}}
	if b.cookie != nil {
		h.Set("Cookie", b.cookie.Name+"="+b.cookie.Value)
	}
	return h
}

// ask sends a request; the page's token goes with it unless it is "".
func (b *browser) ask(method, path, token, body string) (int, string, http.Header) {
	b.t.Helper()
	req, err := http.NewRequest(method, "https://"+b.r.at+path, strings.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	req.Header = b.headers()
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	if token != "" {
		req.Header.Set(tokenHeader, token)
	}
	resp, err := b.client.Do(req)
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return resp.StatusCode, string(text), resp.Header
}

func (b *browser) token() string {
	b.t.Helper()
	_, text, _ := b.ask("GET", "/api/token", "", "")
	var a tokenAnswer
	if err := json.Unmarshal([]byte(text), &a); err != nil || a.Token == "" {
		b.t.Fatalf("GET /api/token: got %s", text)
	}
	return a.Token
}

// pair pairs with a secret and keeps the cookie.
func (b *browser) pair(secret, name string) (status int, text string, d share.Device) {
	b.t.Helper()
	body, _ := json.Marshal(map[string]string{"secret": secret, "name": name})
	status, text, h := b.ask("POST", "/api/pair", "", string(body))
	if status == http.StatusOK {
		if err := json.Unmarshal([]byte(text), &d); err != nil {
			b.t.Fatal(err)
		}
		c, err := http.ParseSetCookie(h.Get("Set-Cookie"))
		if err != nil {
			b.t.Fatal(err)
		}
		b.cookie = c
	}
	return status, text, d
}

// paired is a browser that is.
func (r *sharedRig) paired(t *testing.T, name string) (*browser, share.Device) {
	t.Helper()
	b := r.browser(t)
	status, text, d := b.pair(r.offer(t), name)
	if status != http.StatusOK {
		t.Fatalf("pair: got %d %s", status, text)
	}
	return b, d
}

// offer makes an offer as the page does and returns its secret.
func (r *sharedRig) offer(t *testing.T) string {
	t.Helper()
	var o pairingAnswer
	r.mustAsk("POST", "/api/pairing", nil, &o)
	page, secret, ok := strings.Cut(o.URL, "#")
	if !ok || page != "https://"+r.at+"/pair" {
		t.Fatalf("offer: got %s, wanted the pairing page with the secret in its fragment", o.URL)
	}
	return secret
}

func (b *browser) socket(path string) (*websocket.Conn, *http.Response, error) {
	return b.socketOver(b.r.trust(), path)
}

func (b *browser) socketOver(trust *tls.Config, path string) (*websocket.Conn, *http.Response, error) {
	d := websocket.Dialer{TLSClientConfig: trust}
	return d.Dial("wss://"+b.r.at+path, b.headers())
}

func TestUnpairedIsRefusedEverywhere(t *testing.T) {
	r := startShared(t, Config{})
	r.Hear(jar())
	b := r.browser(t)
	allowed := map[string]bool{"GET /pair": true, "GET /pair.js": true, "GET /pair.css": true, "GET /authority.crt": true}
	paths := []string{"/", "/index.html", "/app.js", "/app.css", "/nothing"}
	for path := range r.table() {
		paths = append(paths, strings.ReplaceAll(path, "{id}", jar().ID))
	}
	for _, path := range paths {
		for _, method := range []string{"GET", "POST", "PATCH", "PUT", "DELETE"} {
			status, text, h := b.ask(method, path, "x", "")
			switch {
			case allowed[method+" "+path]:
				if status != http.StatusOK {
					t.Errorf("%s %s: got %d %s, wanted it open to all", method, path, status, text)
				}
			case method+" "+path == "POST /api/pair":
				if status != http.StatusUnsupportedMediaType { // it is asked, without a body
					t.Errorf("%s %s: got %d, wanted 415", method, path, status)
				}
			case status != http.StatusUnauthorized && status != http.StatusTooManyRequests || len(h["Set-Cookie"]) > 0:
				t.Errorf("%s %s: got %d, wanted 401", method, path, status)
			}
			r.clock.forward(time.Second)
		}
	}
	for _, path := range []string{socketPath, earPath} {
		if _, resp, err := b.socket(path); err == nil || resp == nil || resp.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s: got %v %v, wanted 401", path, resp, err)
		}
	}
	b.cookie = &http.Cookie{Name: cookieName, Value: strings.Repeat("A", 43)}
	if status, _, _ := b.ask("GET", "/api/session", "", ""); status != http.StatusUnauthorized {
		t.Errorf("with a cookie made up: got %d, wanted 401", status)
	}
	if n := r.tally.all()["unpaired"]; n < 100 {
		t.Errorf("counted as unpaired: %d, wanted all of them", n)
	}
}

// Whoever opens the page before pairing reads how to pair.
func TestPairPageIsShown(t *testing.T) {
	r := startShared(t, Config{})
	b := r.browser(t)
	for path, want := range map[string]int{"/pair": http.StatusOK, "/": http.StatusUnauthorized} {
		req, _ := http.NewRequest("GET", "https://"+r.at+path, nil)
		req.Header.Set("Accept", "text/html,*/*")
		resp, err := b.client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		text, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		if resp.StatusCode != want || !strings.Contains(string(text), r.network.Fingerprint()) || !strings.Contains(string(text), "Remove it") {
			t.Errorf("%s: got %d, wanted %d and the pairing page with the fingerprint", path, resp.StatusCode, want)
		}
		if strings.Contains(string(text), "<style") || strings.Contains(string(text), "style=") || strings.Contains(string(text), "onclick") {
			t.Errorf("%s: the page holds what the content security policy forbids", path)
		}
	}
	status, der, h := b.ask("GET", "/authority.crt", "", "")
	ca, err := x509.ParseCertificate([]byte(der))
	if status != http.StatusOK || err != nil || !ca.IsCA || h.Get("Content-Type") != "application/x-x509-ca-cert" {
		t.Errorf("the authority: got %d %s, %v", status, h.Get("Content-Type"), err)
	}
}

func TestLifeOfAPairing(t *testing.T) {
	r := startShared(t, Config{})
	secret := r.offer(t)
	b := r.browser(t)
	status, text, d := b.pair(secret, "blue phone")
	if status != http.StatusOK || d.Name != "blue phone" {
		t.Fatalf("pair: got %d %s", status, text)
	}
	if c := b.cookie; !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge <= 0 {
		t.Errorf("the cookie: got %+v, wanted HttpOnly, Secure, SameSite=Strict, for this host", c)
	}
	for _, path := range []string{"/", "/api/session", "/api/strikes", "/api/devices", "/app.js"} {
		if status, text, _ := b.ask("GET", path, "", ""); status != http.StatusOK {
			t.Errorf("paired, %s: got %d %s, wanted 200", path, status, text)
		}
	}
	var you shareAnswer
	_, text, _ = b.ask("GET", "/api/share", "", "")
	if err := json.Unmarshal([]byte(text), &you); err != nil || you.Here || you.Device == nil || you.Device.ID != d.ID {
		t.Errorf("who am I: got %s", text)
	}

	// Changes want the token, and only the device's own.
	token := b.token()
	if status, text, _ := b.ask("PATCH", "/api/session", token, `{"kind":"bell"}`); status != http.StatusOK {
		t.Errorf("a change with the token: got %d %s", status, text)
	}
	other, otherDevice := r.paired(t, "tablet")
	for name, wrong := range map[string]string{"no": "", "another device's": other.token(), "this machine's": r.token(caller{here: true}), "a cut": token[1:]} {
		if status, _, _ := b.ask("PATCH", "/api/session", wrong, `{"kind":"bar"}`); status != http.StatusForbidden {
			t.Errorf("a change with %s token: got %d, wanted 403", name, status)
		}
	}
	// What is for this machine only.
	for _, call := range []string{"GET /healthz", "GET /metrics", "POST /api/pairing", "GET /api/pairing/code.svg", "GET /api/scripts", "POST /api/scripts", "DELETE /api/scripts/0102", "DELETE /api/devices/" + otherDevice.ID} {
		method, path, _ := strings.Cut(call, " ")
		if status, _, _ := b.ask(method, path, token, ""); status != http.StatusForbidden {
			t.Errorf("a paired device, %s: got %d, wanted 403", call, status)
		}
	}
	if status, text, _ := b.ask("POST", "/api/devices/"+d.ID+"/name", token, `{"name":"green phone"}`); status != http.StatusOK || !strings.Contains(text, "green phone") {
		t.Errorf("naming itself: got %d %s", status, text)
	}

	// A used, an old and a guessed secret.
	if status, _, _ := r.browser(t).pair(secret, "thief"); status != http.StatusForbidden {
		t.Errorf("a used secret: got %d, wanted 403", status)
	}
	old := r.offer(t)
	r.clock.forward(share.OfferLasts)
	if status, _, _ := r.browser(t).pair(old, "late"); status != http.StatusForbidden {
		t.Errorf("a secret five minutes old: got %d, wanted 403", status)
	}
	if got := len(r.cfg.Book.Devices()); got != 2 {
		t.Errorf("%d devices are paired, wanted 2", got)
	}
	if strings.Contains(r.log.String(), secret) || strings.Contains(r.log.String(), old) || strings.Contains(r.log.String(), b.cookie.Value) {
		t.Errorf("a secret is in the log:\n%s", r.log)
	}
}

func TestGuessingIsSlowed(t *testing.T) {
	r := startShared(t, Config{})
	secret := r.offer(t)
	b := r.browser(t)
	for n := range guessBurst {
		if status, _, _ := b.pair(strings.Repeat("A", 22), "x"); status != http.StatusForbidden {
			t.Fatalf("guess %d: got %d, wanted 403", n+1, status)
		}
	}
	status, _, _ := b.pair(secret, "x")
	if status != http.StatusTooManyRequests {
		t.Fatalf("after %d wrong guesses, the right secret: got %d, wanted 429, or a guesser would learn", guessBurst, status)
	}
	r.clock.forward(guessEvery)
	if status, text, _ := b.pair(secret, "x"); status != http.StatusOK {
		t.Errorf("%v later: got %d %s, wanted 200", guessEvery, status, text)
	}
	if counts := r.tally.all(); counts[byPairing] != guessBurst || counts["rate"] != 1 {
		t.Errorf("counted: %v, wanted %d wrong codes and one refused for its rate", counts, guessBurst)
	}
}

func TestRevokedIsCutOff(t *testing.T) {
	r := startShared(t, Config{})
	b, d := r.paired(t, "blue phone")
	stays, _ := r.paired(t, "tablet")
	live, _, err := b.socket(socketPath)
	if err != nil {
		t.Fatal(err)
	}
	defer live.Close()
	other, _, err := stays.socket(socketPath)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	ear := lend(t, b, 48000)
	eventually(t, "two pages listen", func() bool { return r.hub.count() == 2 })
	if status, text, _ := r.ask("DELETE", "/api/devices/"+d.ID, nil); status != http.StatusNoContent {
		t.Fatalf("revoke: got %d %s", status, text)
	}
	for name, c := range map[string]*websocket.Conn{"page": live, "ear": ear} {
		c.SetReadDeadline(time.Now().Add(patience))
		for err = nil; err == nil; {
			_, _, err = c.ReadMessage()
		}
		if !websocket.IsCloseError(err, closeRevoked) {
			t.Errorf("the open %s of a revoked device: got %v, wanted close %d", name, err, closeRevoked)
		}
	}
	if status, _, _ := b.ask("GET", "/api/session", "", ""); status != http.StatusUnauthorized {
		t.Errorf("the revoked device asks: got %d, wanted 401", status)
	}
	if status, _, _ := stays.ask("GET", "/api/session", "", ""); status != http.StatusOK {
		t.Errorf("the other device asks: got %d, wanted 200", status)
	}
	eventually(t, "one page listens", func() bool { return r.hub.count() == 1 })
}

// A request that is being answered when its device is revoked ends too.
func TestRevokedEndsWhatIsUnderWay(t *testing.T) {
	book, _, _ := share.OpenBook("", time.Now)
	d, _, _ := book.Pair("x")
	s := &Server{cfg: Config{Book: book}}
	cut := make(chan struct{})
	stop := s.onRevoked(d.ID, func() { close(cut) })
	defer stop()
	if err := book.Revoke(d.ID); err != nil {
		t.Fatal(err)
	}
	select {
	case <-cut:
	case <-time.After(patience):
		t.Error("not cut off")
	}
}

func TestSharedDoorRefuses(t *testing.T) {
	r := startShared(t, Config{})
	b, _ := r.paired(t, "phone")
	_, port, _ := net.SplitHostPort(r.at)
	for name, c := range map[string]struct {
		host, origin string
		want         int
	}{
		"the address":           {r.at, "https://" + r.at, 200},
		"the name":              {"hall.local:" + port, "https://hall.local:" + port, 200},
		"rebinding":             {"evil.example:" + port, "https://evil.example:" + port, 421},
		"localhost":             {"localhost:" + port, "https://localhost:" + port, 421},
		"another port":          {"127.0.0.1:1", "https://127.0.0.1:1", 421},
		"another origin":        {r.at, "https://evil.example", 403},
		"our name over http":    {r.at, "http://" + r.at, 403},
		"our other name":        {r.at, "https://hall.local:" + port, 403},
		"the door of this side": {r.addr, "http://" + r.addr, 421},
	} {
		req, _ := http.NewRequest("GET", "https://"+r.at+"/api/session", nil)
		req.Host = c.host
		req.Header = b.headers()
		req.Header.Set("Origin", c.origin)
		resp, err := b.client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != c.want {
			t.Errorf("%s (Host %s, Origin %s): got %d, wanted %d", name, c.host, c.origin, resp.StatusCode, c.want)
		}
	}
	// Plain HTTP at the shared door, and TLS at this machine's.
	if resp, err := http.Get("http://" + r.at + "/api/session"); err == nil {
		resp.Body.Close()
		if resp.StatusCode < 400 {
			t.Errorf("plain HTTP at the shared door: got %d", resp.StatusCode)
		}
	}
}

func TestDevicesAskAtTheirPace(t *testing.T) {
	r := startShared(t, Config{})
	b, _ := r.paired(t, "phone")
	refused := 0
	for range awayBurst + 10 {
		if status, _, _ := b.ask("GET", "/api/devices", "", ""); status == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 10 {
		t.Errorf("of %d requests at once %d were refused, wanted 10", awayBurst+10, refused)
	}
	if status, _, _ := r.ask("GET", "/api/devices", nil); status != http.StatusOK {
		t.Errorf("meanwhile this machine: got %d, wanted 200", status)
	}
}

func TestScriptsMakeTheirCallOnly(t *testing.T) {
	r := startShared(t, Config{})
	var list scriptsAnswer
	r.mustAsk("GET", "/api/scripts", nil, &list)
	for _, c := range list.Calls {
		if !strings.Contains(c, " /api/") || strings.Contains(c, "/api/pair") || strings.Contains(c, "devices") || strings.Contains(c, "scripts") || strings.Contains(c, "token") {
			t.Errorf("a script may be granted %s", c)
		}
	}
	var g grantedAnswer
	r.mustAsk("POST", "/api/scripts", map[string]string{"name": "foot switch", "call": "PATCH /api/session"}, &g)
	for call, want := range map[string]int{
		"PATCH /api/session": http.StatusOK, "GET /api/session": http.StatusForbidden, "POST /api/tone": http.StatusForbidden,
		"GET /api/strikes": http.StatusForbidden, "GET /socket": http.StatusForbidden, "GET /ear": http.StatusForbidden,
		"GET /metrics": http.StatusForbidden, "GET /api/token": http.StatusForbidden, "DELETE /api/scripts/" + g.ID: http.StatusForbidden,
		"POST /api/pairing": http.StatusForbidden,
	} {
		method, path, _ := strings.Cut(call, " ")
		for _, door := range []string{"http://" + r.addr, "https://" + r.at} {
			req, _ := http.NewRequest(method, door+path, strings.NewReader(`{"kind":"bell"}`))
			req.Header.Set("Authorization", "Bearer "+g.Secret)
			req.Header.Set("Content-Type", "application/json")
			resp, err := r.browser(t).client.Do(req)
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			if resp.StatusCode != want {
				t.Errorf("%s at %s with the token for PATCH /api/session: got %d, wanted %d", call, door, resp.StatusCode, want)
			}
		}
	}
	for body, want := range map[string]int{
		`{"name":"x","call":"POST /api/pairing"}`: 422, `{"name":"x","call":"GET /metrics"}`: 422, `{"name":"","call":"POST /api/tone"}`: 422,
		`{"name":"\u001b[2J","call":"POST /api/tone"}`: 422, `{"call":"rm -rf /"}`: 422,
	} {
		if status, _, _ := r.ask("POST", "/api/scripts", json.RawMessage(body)); status != want {
			t.Errorf("POST /api/scripts %s: got %d, wanted %d", body, status, want)
		}
	}
	if status, _, _ := r.ask("DELETE", "/api/scripts/"+g.ID, nil); status != http.StatusNoContent {
		t.Errorf("remove the script: got %d, wanted 204", status)
	}
	req, _ := http.NewRequest("PATCH", "http://"+r.addr+"/api/session", strings.NewReader(`{"kind":"bar"}`))
	req.Header.Set("Authorization", "Bearer "+g.Secret)
	req.Header.Set("Content-Type", "application/json")
	if status, _, _ := r.do(req); status != http.StatusUnauthorized {
		t.Errorf("with the removed script's token: got %d, wanted 401", status)
	}
}

func TestPairingCodeIsDrawnHereOnly(t *testing.T) {
	r := startShared(t, Config{})
	if status, _, _ := r.ask("GET", "/api/pairing/code.svg", nil); status != http.StatusNotFound {
		t.Errorf("without an offer: got %d, wanted 404", status)
	}
	r.offer(t)
	status, svg, h := r.ask("GET", "/api/pairing/code.svg", nil)
	if status != http.StatusOK || h.Get("Content-Type") != "image/svg+xml" || !strings.HasPrefix(string(svg), "<svg") || h.Get("Cache-Control") != "no-store" {
		t.Errorf("the code: got %d %v %.40s", status, h, svg)
	}
	r.clock.forward(share.OfferLasts)
	if status, _, _ := r.ask("GET", "/api/pairing/code.svg", nil); status != http.StatusNotFound {
		t.Errorf("once it is old: got %d, wanted 404", status)
	}
}

func TestMetricsAndHealth(t *testing.T) {
	r := start(t, Config{Version: `1"2\`})
	r.State(listen.State{Code: listen.Hearing})
	r.Hear(knock())
	raw(t, r.addr, "GET /", "Host: evil.example", "")
	status, text, h := r.ask("GET", "/metrics", nil)
	if status != http.StatusOK || !strings.HasPrefix(h.Get("Content-Type"), "text/plain; version=0.0.4") {
		t.Fatalf("got %d %v", status, h)
	}
	for _, want := range []string{
		`ringwell_build_info{version="1\"2\\"} 1`, `ringwell_ear_state{state="hearing"} 1`, `ringwell_ear_state{state="deaf"} 0`,
		`ringwell_strikes_total{stage="final"} 1`, `ringwell_refused_total{reason="host"} 1`, `ringwell_refused_total{reason="token"} 0`,
	} {
		if !strings.Contains(string(text), want+"\n") {
			t.Errorf("/metrics lacks %s:\n%s", want, text)
		}
	}
	// Every metric is announced before its first line, once.
	seen := map[string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		name, _, _ := strings.Cut(strings.TrimPrefix(line, "# TYPE "), " ")
		name, _, _ = strings.Cut(name, "{")
		switch {
		case strings.HasPrefix(line, "# TYPE ") && seen[name]:
			t.Errorf("%s is announced twice", name)
		case strings.HasPrefix(line, "# TYPE "):
			seen[name] = true
		case !strings.HasPrefix(line, "#") && !seen[name]:
			t.Errorf("%s is not announced", line)
		}
	}
	if status, _, _ := r.ask("GET", "/healthz", nil); status != http.StatusOK {
		t.Errorf("/healthz while hearing: got %d, wanted 200", status)
	}
	r.State(listen.State{Code: listen.Deaf})
	if status, _, _ := r.ask("GET", "/healthz", nil); status != http.StatusServiceUnavailable {
		t.Errorf("/healthz while deaf: got %d, wanted 503", status)
	}
}

// A thousand connections that say nothing, and some that say it slowly, keep
// neither the page nor the ear from working.
func TestIdleConnectionsKeepNobodyOut(t *testing.T) {
	r := start(t, Config{}, func(s *Server) { s.crowd.most = 500 })
	p := r.dial()
	p.expect(typeHello)
	var idle []net.Conn
	defer func() {
		for _, c := range idle {
			c.Close()
		}
	}()
	for n := range 1000 {
		c, err := net.Dial("tcp", r.addr)
		if err != nil {
			t.Fatal(err)
		}
		idle = append(idle, c)
		if n%10 == 0 {
			io.WriteString(c, "GET / HTTP/1.1\r\nHost: ")
		}
	}
	var session Session
	r.mustAsk("GET", "/api/session", nil, &session)
	r.Hear(strikeN(1))
	if f := p.expect(typeStrike); f.Strike.ID != strikeN(1).ID {
		t.Errorf("a strike meanwhile: got %s", f.Strike.ID)
	}
	eventually(t, "the crowd is kept down", func() bool { return r.crowd.count() <= 500 && r.tally.all()[byCrowd] >= 500 })
}

func TestOneAddressOfTheNetworkGetsItsShare(t *testing.T) {
	c := newCrowd(newTally())
	c.most, c.mostFromOne = 10, 3
	conn := func(from string) net.Conn { return &away{from: from} }
	var greedy []net.Conn
	for range 5 {
		g := conn("192.168.1.66")
		greedy = append(greedy, g)
		c.context(t.Context(), g)
	}
	if n := c.count(); n != 3 || !greedy[0].(*away).closed || !greedy[1].(*away).closed || greedy[4].(*away).closed {
		t.Errorf("5 connections from one address: %d are left, wanted the latest 3", n)
	}
	other := conn("192.168.1.7")
	c.context(t.Context(), other)
	if other.(*away).closed || c.count() != 4 {
		t.Error("another address was made to pay for it")
	}
}

type away struct {
	net.Conn
	from   string
	closed bool
}

func (a *away) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.ParseIP(a.from), Port: 1} }
func (a *away) Close() error         { a.closed = true; return nil }

// Whoever sends slowly is cut off.
func TestSlowSendersAreCutOff(t *testing.T) {
	r := start(t, Config{}, func(s *Server) {
		s.http.ReadHeaderTimeout, s.http.ReadTimeout = 50*time.Millisecond, 50*time.Millisecond
	})
	for name, c := range map[string]struct{ sent, reason string }{
		"nothing":          {"", byNothing},
		"half the headers": {"GET / HTTP/1.1\r\nHost: " + r.addr + "\r\n", byNothing},
		"half a body": {"PATCH /api/session HTTP/1.1\r\nHost: " + r.addr + "\r\nContent-Type: application/json\r\n" +
			tokenHeader + ": " + r.token(caller{here: true}) + "\r\nContent-Length: 100\r\n\r\n{", "slow"},
	} {
		before := r.tally.all()[c.reason]
		conn, err := net.Dial("tcp", r.addr)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(conn, c.sent)
		conn.SetReadDeadline(time.Now().Add(patience))
		if _, err := io.Copy(io.Discard, conn); errors.Is(err, net.ErrClosed) || isTimeout(err) {
			t.Errorf("%s: not cut off after %v", name, patience)
		}
		conn.Close()
		eventually(t, name+" is counted", func() bool { return r.tally.all()[c.reason] == before+1 })
	}
}

func isTimeout(err error) bool {
	var n net.Error
	return errors.As(err, &n) && n.Timeout()
}
