package webview

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/netip"
	"strings"
	"testing"

	"github.com/gorilla/websocket"

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
