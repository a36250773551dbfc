package webview

import (
	"encoding/json"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"ringwell/analysis/listen"
)

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
