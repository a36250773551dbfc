package webview

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gorilla/websocket"
	"golang.org/x/time/rate"

	"ringwell/analysis"
)

const earPath = "/ear"

// The closes of /ear that are our own: RFC 6455, section 7.4.2, leaves 4000 to
// 4999 to applications.
const (
	closeReplaced = 4001 // the same device lends its microphone in another window
	closeRevoked  = 4003 // the device is no longer paired
)

const (
	longestHello = 4 << 10 // bytes
	// A phone's sound comes at 0.2 to 0.8 MB/s; after a held breath of the Wi-Fi
	// several seconds of it at once. More is no sound.
	earBytes      = 4 << 20  // bytes a second
	earBytesBurst = 16 << 20 // bytes
)

// earTiming is how patient /ear is.
type earTiming struct {
	hello time.Duration // from the upgrade to the hello
	quiet time.Duration // without any frame or pong
	tell  time.Duration // between two tellings of what came
	bytes rate.Limit    // a second, that may come
}

func usualEarTiming() earTiming {
	return earTiming{hello: 5 * time.Second, quiet: 10 * time.Second, tell: time.Second, bytes: earBytes}
}

// earHello is the first message on /ear, in text.
type earHello struct {
	V        int            `json:"v"`
	Type     string         `json:"type"`  // "hello"
	Token    string         `json:"token"` // of GET /api/token
	Rate     float64        `json:"rate_hz"`
	Settings map[string]any `json:"settings"` // what MediaStreamTrack.getSettings() says
}

// earTold is what the phone is told at once after its hello and then about
// once a second.
type earTold struct {
	header
	ID      string `json:"id"`
	InUse   bool   `json:"in_use"`
	Frames  int64  `json:"frames"`       // that came, of this connection
	Missing int64  `json:"missing"`      // that did not, by their sequence
	Late    int64  `json:"late"`         // that came after they were given up
	Lost    int64  `json:"lost_samples"` // by the sample clock, of this connection
	Dropped int64  `json:"dropped"`      // frames the queue had no room for, while in use
	Words   string `json:"words"`        // what is to be known; "" for nothing
}

const typeEar = "ear"

func (p *phone) told() earTold {
	form := p.form()
	t := earTold{
		header: head(typeEar), ID: p.id, InUse: form.InUse, Words: form.Words,
		Frames: p.tallies.frames.Load(), Missing: p.tallies.missing.Load(), Late: p.tallies.late.Load(), Lost: p.tallies.lost.Load(),
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.source != nil {
		t.Dropped = p.source.dropped.Load()
	}
	return t
}

// getEar turns the request into a phone.
func (s *Server) getEar(w http.ResponseWriter, r *http.Request) error {
	c := whose(r)
	if c.script.ID != "" {
		return refuse(http.StatusForbidden, "", "A script cannot be the ear; use standard input.").because(byToken)
	}
	conn, err := s.upgrade(w, r)
	if conn == nil {
		return err
	}
	p, err := s.greet(conn, c)
	if err == nil {
		err = s.phones.join(p)
		if errors.Is(err, errFull) {
			err = problem{websocket.CloseTryAgainLater, "too many devices lend their microphones"}
		}
	}
	if err != nil {
		s.hangUp(conn, err)
		return nil
	}
	if !s.task(func() { s.hearPhone(p, c) }) {
		s.phones.leave(p)
		p.end(problem{websocket.CloseGoingAway, "ringwell is stopping"})
	}
	return nil
}

// hangUp ends a connection that has not become a phone, or no longer is one.
func (s *Server) hangUp(conn *websocket.Conn, err error) {
	var why problem
	if errors.As(err, &why) {
		(&phone{conn: conn}).end(why)
		if why.code != websocket.CloseTryAgainLater {
			s.tally.count(byFrame)
		}
	}
	conn.Close()
}

// greet reads the hello.
func (s *Server) greet(conn *websocket.Conn, c caller) (*phone, error) {
	conn.SetReadLimit(longestHello)
	conn.SetReadDeadline(time.Now().Add(s.earTiming.hello))
	kind, data, err := conn.ReadMessage()
	if err != nil {
		return nil, err
	}
	var h earHello
	switch {
	case kind != websocket.TextMessage || json.Unmarshal(data, &h) != nil || h.Type != "hello":
		return nil, problem{websocket.CloseUnsupportedData, "the first message must be a hello"}
	case h.V != SchemaVersion:
		return nil, problem{websocket.CloseUnsupportedData, "another version of the protocol: load the page anew"}
	case !s.tokenIs(c, h.Token):
		s.tally.count(byToken)
		return nil, problem{websocket.ClosePolicyViolation, "the token is not this page's: load the page anew"}
	case !validRate(h.Rate):
		return nil, problem{websocket.CloseInvalidFramePayloadData, "a sample rate from 8000 to 192000 Hz can be heard"}
	}
	p := &phone{
		id: "here", name: "this computer's browser", rate: analysis.Rate(h.Rate), processed: leftOn(h.Settings),
		conn: conn, ended: make(chan struct{}), sequence: -1,
	}
	if c.device.ID != "" {
		p.id, p.name = c.device.ID, c.device.Name
	}
	conn.SetReadLimit(frameLongest)
	return p, nil
}

// leftOn lists what a browser has not switched off, or does not say that it
// has: the names are those of Media Capture and Streams, section 4.3.8 (from
// memory, unchecked).
func leftOn(settings map[string]any) []string {
	var on []string
	for _, s := range []struct{ name, words string }{
		{"echoCancellation", "echo cancellation"}, {"noiseSuppression", "noise suppression"}, {"autoGainControl", "automatic gain"},
	} {
		if off, ok := settings[s.name].(bool); !ok || off {
			on = append(on, s.words)
		}
	}
	return on
}

// hearPhone reads what a phone sends until its link ends.
func (s *Server) hearPhone(p *phone, c caller) {
	defer s.tellPhones()
	defer p.conn.Close()
	defer func() {
		s.phones.leave(p)
		s.counters.frames.Add(p.tallies.frames.Load())
		s.counters.missing.Add(p.tallies.missing.Load())
		s.counters.missed.Add(p.tallies.lost.Load())
	}()
	s.tellPhones()
	var revoked <-chan struct{}
	if c.device.ID != "" {
		revoked = s.cfg.Book.Revoked(c.device.ID)
	}
	go s.tellPhone(p, revoked)
	alive := func() { p.conn.SetReadDeadline(time.Now().Add(s.earTiming.quiet)) }
	p.conn.SetPongHandler(func(string) error { alive(); return nil })
	alive()
	flood := rate.NewLimiter(s.earTiming.bytes, earBytesBurst)
	buffer := make([]byte, frameLongest+1)
	for {
		kind, r, err := p.conn.NextReader()
		if err != nil {
			if errors.Is(err, websocket.ErrReadLimit) {
				s.tally.count(byFrame)
			}
			return
		}
		message, err := readMessage(r, buffer)
		if err == nil && kind != websocket.BinaryMessage {
			err = problem{websocket.CloseUnsupportedData, "after the hello only frames of sound are understood"}
		}
		if err == nil && !flood.AllowN(time.Now(), len(message)+frameHeader) {
			s.tally.count(byPressure)
			p.end(problem{websocket.ClosePolicyViolation, "more came than sound can be"})
			return
		}
		if err == nil {
			err = p.take(message)
		}
		if err != nil {
			if errors.Is(err, websocket.ErrReadLimit) {
				s.tally.count(byFrame)
			}
			s.hangUp(p.conn, err)
			return
		}
		alive()
	}
}

// tellPhone tells a phone what came of it, until its link ends or it is
// revoked.
func (s *Server) tellPhone(p *phone, revoked <-chan struct{}) {
	tick := time.NewTicker(s.earTiming.tell)
	defer tick.Stop()
	for {
		p.conn.SetWriteDeadline(time.Now().Add(s.hub.timing.write))
		if p.conn.WriteMessage(websocket.TextMessage, encode(p.told())) != nil ||
			p.conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(s.hub.timing.write)) != nil {
			p.conn.Close()
			return
		}
		select {
		case <-tick.C:
		case <-revoked:
			p.end(problem{closeRevoked, "this device is no longer paired"})
			return
		case <-s.stop:
			p.end(problem{websocket.CloseGoingAway, "ringwell is stopping"})
			return
		case <-p.ended:
			return
		}
	}
}

// tellPhones tells every page which phones there are.
func (s *Server) tellPhones() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tell(typePhones, phonesMessage{head(typePhones), s.phoneForms()})
}

func (s *Server) phoneForms() []Phone {
	forms := []Phone{}
	for _, p := range s.phones.list() {
		forms = append(forms, p.form())
	}
	slices.SortFunc(forms, func(a, b Phone) int { return strings.Compare(a.ID, b.ID) })
	return forms
}

// OpenPhone makes a phone the ear: the one with this ID, or with "" the one
// that joined last. While there is none it waits, which it says once, in words
// for people. The error is ctx's.
func (s *Server) OpenPhone(ctx context.Context, id string, waits func(words string)) (*PhoneSource, error) {
	for told := false; ; {
		p, joined := s.phones.find(id)
		if p != nil {
			if source := s.attach(p); source != nil {
				return source, nil
			}
		}
		if !told {
			told = true
			waits("No phone lends its microphone just now. Open the page there and choose to listen with it; or choose another source.")
		}
		select {
		case <-joined:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// attach lets a phone's frames go to a new source; nil where it has just left.
func (s *Server) attach(p *phone) *PhoneSource {
	p.mu.Lock()
	select {
	case <-p.ended:
		p.mu.Unlock()
		return nil
	default:
	}
	if p.source != nil { // another ear had it, which is to let go of it
		close(p.source.lost)
	}
	var source *PhoneSource
	source = newPhoneSource(p.name, p.rate, func() {
		p.mu.Lock()
		if p.source == source {
			p.source = nil
		}
		p.mu.Unlock()
		s.tellPhones()
	})
	p.source = source
	p.mu.Unlock()
	s.tellPhones()
	return source
}

// phoneChoice fills in which phone is meant: the caller's own before the one
// that joined last.
func (s *Server) phoneChoice(to Source, c caller) (Source, error) {
	if to.Choice != FromPhone {
		return to, nil
	}
	own := c.device.ID
	if c.here {
		own = "here"
	}
	if to.Input == "" {
		if p, _ := s.phones.find(own); own != "" && p != nil {
			to.Input = own
		}
	}
	p, _ := s.phones.find(to.Input)
	if p == nil {
		return to, refuse(http.StatusConflict, "input", "That phone does not lend its microphone just now. Open the page there and choose to listen with it.")
	}
	to.Input = p.id
	return to, nil
}
