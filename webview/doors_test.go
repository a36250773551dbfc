package webview

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"

	"ringwell/webview/share"
)

// What other pages in the same browser, and clumsy or hostile programs, may
// try; each is refused with this status and in words.
func TestRefusedRequests(t *testing.T) {
	r := start(t, Config{})
	r.Hear(jar())
	own := "http://" + r.addr
	_, port, _ := net.SplitHostPort(r.addr)
	upgrade := "Connection: Upgrade\nUpgrade: websocket\nSec-WebSocket-Version: 13\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\n"
	p := r.dial()
	p.expect(typeHello)
	for name, c := range map[string]struct {
		line, headers, body string
		want                int
	}{
		"a name pointed here (rebinding)":    {"GET /", "Host: evil.example:" + port, "", 421},
		"rebinding, the api":                 {"GET /api/session", "Host: evil.example:" + port, "", 421},
		"rebinding, the socket":              {"GET /socket", "Host: evil.example:" + port + "\nOrigin: http://evil.example:" + port + "\n" + upgrade, "", 421},
		"a name that starts like ours":       {"GET /", "Host: localhost.evil.example:" + port, "", 421},
		"a trailing dot":                     {"GET /", "Host: localhost.:" + port, "", 421},
		"an address of the local network":    {"GET /", "Host: 192.168.1.7:" + port, "", 421},
		"another port":                       {"GET /", "Host: 127.0.0.1:1", "", 421},
		"no port":                            {"GET /", "Host: localhost", "", 421},
		"no host":                            {"GET /", "Host:", "", 421},
		"another origin reads":               {"GET /api/session", "Host: @\nOrigin: http://evil.example", "", 403},
		"another port of this machine reads": {"GET /api/session", "Host: @\nOrigin: http://127.0.0.1:1", "", 403},
		"a sandboxed frame":                  {"GET /api/session", "Host: @\nOrigin: null", "", 403},
		"our name over https":                {"GET /api/session", "Host: @\nOrigin: https://" + r.addr, "", 403},
		"two origins":                        {"GET /api/session", "Host: @\nOrigin: " + own + "\nOrigin: http://evil.example", "", 403},
		"another origin, even for the page":  {"GET /", "Host: @\nOrigin: http://evil.example", "", 403},
		"another origin's socket":            {"GET /socket", "Host: @\nOrigin: http://evil.example\n" + upgrade, "", 403},
		"another site's socket, no origin":   {"GET /socket", "Host: @\nSec-Fetch-Site: cross-site\n" + upgrade, "", 403},
		"another site reads without origin":  {"GET /api/strikes", "Host: @\nSec-Fetch-Site: cross-site\nSec-Fetch-Mode: no-cors", "", 403},
		"same machine, another port":         {"GET /api/strikes", "Host: @\nSec-Fetch-Site: same-site", "", 403},
		"another site's link to the api":     {"GET /api/session", "Host: @\nSec-Fetch-Site: cross-site\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: document", "", 403},
		"in a frame of another site":         {"GET /", "Host: @\nSec-Fetch-Site: cross-site\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: iframe", "", 403},
		"another site's form":                {"POST /api/tone", "Host: @\nOrigin: http://evil.example\nContent-Type: text/plain", `{"on":true}`, 403},
		"another site posts without origin":  {"POST /api/tone", "Host: @\nSec-Fetch-Site: cross-site\nContent-Type: application/json", `{"on":true}`, 403},
		"another site navigates by post":     {"POST /", "Host: @\nSec-Fetch-Site: cross-site\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: document", "", 403},
		"another site throws away":           {"DELETE /api/strikes/" + jar().ID, "Host: @\nOrigin: http://evil.example", "", 403},
		"a form of our own origin":           {"POST /api/tone", "Host: @\nOrigin: " + own + "\nContent-Type: application/x-www-form-urlencoded", "on=true", 415},
		"no content type":                    {"PATCH /api/session", "Host: @", `{"aim":false}`, 415},
		"a body too long":                    {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"instrument":"` + strings.Repeat("x", bodyLimit) + `"}`, 413},
		"a header too long":                  {"GET /", "Host: @\nX-Long: " + strings.Repeat("x", 2*headerLimit), "", 431},
		"an empty body":                      {"PATCH /api/session", "Host: @\nContent-Type: application/json", "", 400},
		"not JSON":                           {"PATCH /api/session", "Host: @\nContent-Type: application/json", "aim=false", 400},
		"a list":                             {"PATCH /api/session", "Host: @\nContent-Type: application/json", "[]", 400},
		"two objects":                        {"PATCH /api/session", "Host: @\nContent-Type: application/json", "{}{}", 400},
		"cut short":                          {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"aim":`, 400},
		"an unknown setting":                 {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"colour":"red"}`, 400},
		"a wrong type":                       {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"reference_hz":"442"}`, 400},
		"NaN":                                {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"bend_cents":NaN}`, 400},
		"too large for a number":             {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"bend_cents":1e999}`, 400},
		"a target between notes":             {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"target":60.5}`, 400},
		"a method that is not there":         {"PUT /api/session", "Host: @", "", 405},
		"a method on a file of the page":     {"DELETE /", "Host: @", "", 405},
		"a path that is not there":           {"GET /nothing", "Host: @", "", 404},
		"a path above the page":              {"GET /%2e%2e/%2e%2e/go.mod", "Host: @", "", 404},
		"an api path that is not there":      {"GET /api/nothing", "Host: @", "", 404},
		"a folder of the page":               {"GET /page/dist", "Host: @", "", 404},
		"a strike that is not there":         {"GET /api/strikes/nothing", "Host: @", "", 404},
		"a sound that is not there":          {"GET /api/strikes/nothing.wav", "Host: @", "", 404},
		"a sound not yet kept":               {"GET /api/strikes/" + jar().ID + ".wav", "Host: @", "", 404},
		"an instrument that is not there":    {"GET /api/instruments/kazoo", "Host: @", "", 404},
		"a reference out of range":           {"GET /api/instruments/piano?reference_hz=300", "Host: @", "", 422},
		"a reference that is no number":      {"GET /api/instruments/piano?reference_hz=high", "Host: @", "", 422},
		"the socket without a websocket":     {"GET /socket", "Host: @", "", 426},
		"a websocket of another version":     {"GET /socket", "Host: @\n" + strings.Replace(upgrade, "13", "7", 1), "", 400},
		"the ear, another origin":            {"GET /ear", "Host: @\nOrigin: http://evil.example\n" + upgrade, "", 403},
		"the ear, rebinding":                 {"GET /ear", "Host: evil.example:" + port + "\nOrigin: http://evil.example:" + port + "\n" + upgrade, "", 421},
		"the ear without a websocket":        {"GET /ear", "Host: @", "", 426},
		"a change without the page's token":  {"PATCH /api/session", "Host: @\nOrigin: " + own + "\nContent-Type: application/json\n" + tokenHeader + ":", `{"aim":false}`, 403},
		"a change with a guessed token":      {"PATCH /api/session", "Host: @\nContent-Type: application/json\n" + tokenHeader + ": " + strings.Repeat("A", 43), `{"aim":false}`, 403},
		"a change with another's token":      {"PATCH /api/session", "Host: @\nContent-Type: application/json\n" + tokenHeader + ": " + r.token(caller{device: share.Device{ID: "0102"}}), `{"aim":false}`, 403},
		"throwing away without the token":    {"DELETE /api/strikes/" + jar().ID, "Host: @\nOrigin: " + own + "\n" + tokenHeader + ":", "", 403},
		"a script's token nobody gave":       {"POST /api/tone", "Host: @\nContent-Type: application/json\nAuthorization: Bearer " + strings.Repeat("A", 43), `{"on":true}`, 401},
		"pairing on ringwell's own computer": {"POST /api/pair", "Host: @\nContent-Type: application/json", `{"secret":"x"}`, 409},
		"sharing what is not shared":         {"POST /api/pairing", "Host: @", "", 409},
		"an authority there is not":          {"GET /authority.crt", "Host: @", "", 409},
		"a device that is not there":         {"DELETE /api/devices/0102", "Host: @", "", 404},
		"a script that is not there":         {"DELETE /api/scripts/0102", "Host: @", "", 404},
		"a name of escapes":                  {"POST /api/strikes/" + jar().ID + "/name", "Host: @\nContent-Type: application/json", `{"name":"\u001b[2J"}`, 422},
	} {
		t.Run(name, func(t *testing.T) {
			headers := strings.ReplaceAll(c.headers, "@", r.addr)
			if !strings.Contains(headers, tokenHeader) {
				headers += "\n" + tokenHeader + ": " + r.token(caller{here: true})
			}
			before := r.refusals()
			status, header, body := raw(t, r.addr, c.line, headers, c.body)
			if status != c.want {
				t.Fatalf("%s\n%s\ngot status %d %s, wanted %d", c.line, c.headers, status, body, c.want)
			}
			eventually(t, "it is counted once", func() bool { return r.refusals() == before+1 })
			if c.want == http.StatusRequestHeaderFieldsTooLarge {
				return // answered by net/http before we see it
			}
			if !strings.Contains(body, `"words":"`) {
				t.Errorf("%s: got body %q, wanted words", c.line, body)
			}
			if got := header.Get("X-Content-Type-Options"); got != "nosniff" {
				t.Errorf("%s: got X-Content-Type-Options %q, wanted nosniff", c.line, got)
			}
		})
	}
	if got := r.Session(); !got.Aim || got.Tone.On || got.Revision != 0 {
		t.Errorf("after all that: the session changed: %+v", got)
	}
	r.Hear(strikeN(1))
	if f := p.expect(typeStrike); f.Strike.ID != strikeN(1).ID {
		t.Errorf("a strike after all that: got %s, wanted %s", f.Strike.ID, strikeN(1).ID)
	}
}

func TestLetIn(t *testing.T) {
	r := start(t, Config{})
	_, port, _ := net.SplitHostPort(r.addr)
	for name, c := range map[string]struct{ line, headers, body string }{
		"a script, no browser headers":     {"GET /api/session", "Host: @", ""},
		"localhost":                        {"GET /api/session", "Host: localhost:" + port + "\nOrigin: http://localhost:" + port, ""},
		"localhost in capitals":            {"GET /api/session", "Host: LOCALHOST:" + port, ""},
		"the IPv6 loopback name":           {"GET /api/session", "Host: [::1]:" + port, ""},
		"the page itself":                  {"GET /api/session", "Host: @\nOrigin: http://@\nSec-Fetch-Site: same-origin", ""},
		"an address typed by hand":         {"GET /", "Host: @\nSec-Fetch-Site: none\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: document", ""},
		"a link from elsewhere":            {"GET /", "Host: @\nSec-Fetch-Site: cross-site\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: document", ""},
		"a change from the page":           {"PATCH /api/session", "Host: @\nOrigin: http://@\nSec-Fetch-Site: same-origin\nContent-Type: application/json; charset=utf-8", `{"kind":"bell"}`},
		"a change from a script":           {"PATCH /api/session", "Host: @\nContent-Type: application/json", `{"kind":"bar"}`},
		"the session's instrument by name": {"GET /api/instruments/vibraphone", "Host: @", ""},
	} {
		t.Run(name, func(t *testing.T) {
			headers := strings.ReplaceAll(c.headers, "@", r.addr) + "\n" + tokenHeader + ": " + r.token(caller{here: true})
			status, header, body := raw(t, r.addr, c.line, headers, c.body)
			if status != http.StatusOK {
				t.Fatalf("%s\n%s\ngot status %d %s, wanted 200", c.line, c.headers, status, body)
			}
			csp := header.Get("Content-Security-Policy")
			for _, want := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'"} {
				if !strings.Contains(csp, want) {
					t.Errorf("got Content-Security-Policy %q, wanted it to hold %q", csp, want)
				}
			}
			if strings.Contains(csp, "unsafe") {
				t.Errorf("got Content-Security-Policy %q, wanted nothing unsafe", csp)
			}
			if header.Get("Referrer-Policy") != "no-referrer" || header.Get("Access-Control-Allow-Origin") != "" {
				t.Errorf("got headers %v, wanted no referrer and no sharing across origins", header)
			}
		})
	}
}

func TestServeRefusesOpenListener(t *testing.T) {
	s, err := New(Config{Sources: []string{"demo"}})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "0.0.0.0:0")
	if err != nil {
		t.Skip("no listener on all addresses here: ", err)
	}
	defer l.Close()
	if err := s.Serve(l); err == nil || !strings.Contains(err.Error(), "only this machine") {
		t.Errorf("Serve on %s: got %v, wanted a refusal", l.Addr(), err)
	}
}

// refusals is how many were counted, whatever for.
func (r *rig) refusals() (n int64) {
	for _, count := range r.tally.all() {
		n += count
	}
	return n
}

// raw sends a request byte by byte as written, which http.Client would not.
func raw(t *testing.T, addr, line, headers, body string) (int, http.Header, string) {
	t.Helper()
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	req := fmt.Sprintf("%s HTTP/1.1\r\n%s\r\nContent-Length: %d\r\n\r\n%s", line, strings.ReplaceAll(strings.TrimSpace(headers), "\n", "\r\n"), len(body), body)
	go conn.Write([]byte(req)) // the server may answer before it has read all
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	defer resp.Body.Close()
	var b strings.Builder
	if _, err := bufio.NewReader(resp.Body).WriteTo(&b); err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	return resp.StatusCode, resp.Header, b.String()
}
