package webview

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis"
)

// patience is how long a test waits for what must come.
const patience = 20 * time.Second

// clock is a clock a test can set.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *clock { return &clock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)} }

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) forward(d time.Duration) time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
	return c.now
}

// rig is a server at work on a loopback port.
type rig struct {
	*Server
	t    testing.TB
	addr string
}

// buffer is how much the system may hold for a connection, each way, where a
// test wants a client that does not read to be noticed soon. Much less makes
// loopback crawl: it then waits for delayed acknowledgements.
const buffer = 64 << 10 // bytes

type tightListener struct{ net.Listener }

func (l tightListener) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err == nil {
		err = c.(*net.TCPConn).SetWriteBuffer(buffer)
	}
	return c, err
}

func start(t testing.TB, cfg Config, tune ...func(*Server)) *rig {
	t.Helper()
	cfg.Log = slog.New(slog.DiscardHandler)
	if cfg.Sources == nil {
		cfg.Sources = []string{"mic", "demo"}
	}
	s, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range tune {
		f(s)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(tightListener{l}) }()
	r := &rig{s, t, l.Addr().String()}
	t.Cleanup(func() {
		r.stop()
		if err := <-served; err != nil {
			t.Errorf("Serve after Shutdown: got %v, wanted nil", err)
		}
	})
	return r
}

func (r *rig) stop() {
	r.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := r.Shutdown(ctx); err != nil {
		r.t.Errorf("Shutdown: %v", err)
	}
}

// ask sends a request as a script would; a body that is not nil goes as JSON.
func (r *rig) ask(method, path string, body any) (status int, answer []byte, h http.Header) {
	r.t.Helper()
	var in io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			r.t.Fatal(err)
		}
		in = bytes.NewReader(b)
	}
	req, err := http.NewRequest(method, "http://"+r.addr+path, in)
	if err != nil {
		r.t.Fatal(err)
	}
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	r.sign(req)
	return r.do(req)
}

// sign shows the token of this machine's page.
func (r *rig) sign(req *http.Request) { req.Header.Set(tokenHeader, r.token(caller{here: true})) }

func (r *rig) do(req *http.Request) (int, []byte, http.Header) {
	r.t.Helper()
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		r.t.Fatal(err)
	}
	defer resp.Body.Close()
	got, err := io.ReadAll(resp.Body)
	if err != nil {
		r.t.Fatal(err)
	}
	return resp.StatusCode, got, resp.Header
}

// mustAsk is ask where the answer must be 200 and is read into v.
func (r *rig) mustAsk(method, path string, body, v any) {
	r.t.Helper()
	status, got, _ := r.ask(method, path, body)
	if status != http.StatusOK {
		r.t.Fatalf("%s %s %v: got %d %s, wanted 200", method, path, body, status, got)
	}
	if err := json.Unmarshal(got, v); err != nil {
		r.t.Fatalf("%s %s: %v in %s", method, path, err, got)
	}
}

// page is a client of the socket.
type page struct {
	*websocket.Conn
	t testing.TB
}

// dial opens a socket as the page does.
func (r *rig) dial() *page {
	r.t.Helper()
	d := websocket.Dialer{NetDial: func(network, addr string) (net.Conn, error) {
		c, err := net.Dial(network, addr)
		if err == nil {
			err = c.(*net.TCPConn).SetReadBuffer(buffer)
		}
		return c, err
	}}
	conn, resp, err := d.Dial("ws://"+r.addr+socketPath, http.Header{"Origin": {"http://" + r.addr}})
	if err != nil {
		r.t.Fatalf("dial: %v (%v)", err, resp)
	}
	r.t.Cleanup(func() { conn.Close() })
	return &page{conn, r.t}
}

// frame is any message, read loosely.
type frame struct {
	V           int         `json:"v"`
	Type        string      `json:"type"`
	Version     string      `json:"version"`
	Instruments []string    `json:"instruments"`
	Sources     []string    `json:"sources"`
	Kinds       []string    `json:"kinds"`
	Session     *Session    `json:"session"`
	Instrument  *Instrument `json:"instrument"`
	Strike      *Strike     `json:"strike"`
	Strikes     []Strike    `json:"strikes"`
	Earlier     int         `json:"earlier"`
	ID          string      `json:"id"`
	Level       *Level      `json:"level"`
	State       *State      `json:"state"`
	After       *string     `json:"after"`
	Count       int         `json:"count"`
	Phones      []Phone     `json:"phones"`
}

// next reads the next message.
func (p *page) next() frame {
	p.t.Helper()
	f, err := p.read()
	if err != nil {
		p.t.Fatalf("next message: %v", err)
	}
	return f
}

func (p *page) read() (frame, error) {
	p.SetReadDeadline(time.Now().Add(patience))
	_, data, err := p.ReadMessage()
	if err != nil {
		return frame{}, err
	}
	var f frame
	if err := json.Unmarshal(data, &f); err != nil {
		return frame{}, fmt.Errorf("%w in %s", err, data)
	}
	return f, nil
}

// expect reads the next message, which must be of that type.
func (p *page) expect(typ string) frame {
	p.t.Helper()
	f := p.next()
	if f.V != SchemaVersion || f.Type != typ {
		p.t.Fatalf("next message: got v %d type %q, wanted v %d type %q", f.V, f.Type, SchemaVersion, typ)
	}
	return f
}

// eventually waits until what must become true is.
func eventually(t testing.TB, what string, is func() bool) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	deadline := time.After(patience)
	for !is() {
		select {
		case <-tick.C:
		case <-deadline:
			t.Fatalf("after %v: not yet so: %s", patience, what)
		}
	}
}

// strikeN is the n-th of many strikes, each a semitone or so from the last.
func strikeN(n int) analysis.Strike {
	s := jar()
	s.ID = fmt.Sprintf("01JDHZ8Q2R%016d", n)
	s.Revision, s.Stage = 1, analysis.Early
	for i := range 17 {
		p := s.Partials[2]
		p.Frequency = analysis.Hz(900 + 150*i + n%7)
		s.Partials = append(s.Partials, p)
	}
	return s
}

func ids(strikes []Strike) string {
	var b strings.Builder
	for _, s := range strikes {
		fmt.Fprintf(&b, "%s/%d ", strings.TrimLeft(strings.TrimPrefix(s.ID, "01JDHZ8Q2R"), "0"), s.Revision)
	}
	return strings.TrimSpace(b.String())
}
