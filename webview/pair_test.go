package webview

import (
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/webview/share"
)

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
	status, _, head := b.ask("POST", "/api/pair", "", fmt.Sprintf(`{"secret":%q,"name":"x"}`, secret))
	if status != http.StatusTooManyRequests || head.Get("Retry-After") != "12" {
		t.Fatalf("after %d wrong guesses, the right secret: got %d, to be tried again after %q s, wanted 429 and 12 s, or a guesser would learn", guessBurst, status, head.Get("Retry-After"))
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
