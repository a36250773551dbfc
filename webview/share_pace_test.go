package webview

import (
	"errors"
	"io"
	"net"
	"net/http"
	"testing"
	"time"
)

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

// Where there are too many, what was answered and waits for more goes before
// what is being answered.
func TestWhoIsAnsweredStays(t *testing.T) {
	c := newCrowd(newTally())
	c.most = 2
	come := func() *away {
		a := &away{from: "192.168.1.7"}
		v, _ := c.context(t.Context(), a).Value(visitorKey{}).(*visitor)
		v.asked.Store(true)
		c.change(a, http.StateActive)
		return a
	}
	busy, waits := come(), come()
	c.change(waits, http.StateIdle)
	last := come()
	if busy.closed || !waits.closed || last.closed || c.count() != 2 {
		t.Errorf("three of two: closed %v (being answered), %v (waits), %v (the last), wanted the one that waits", busy.closed, waits.closed, last.closed)
	}
}

type away struct {
	net.Conn
	from   string
	closed bool
}

func (a *away) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.ParseIP(a.from), Port: 1} }

func (a *away) Close() error { a.closed = true; return nil }

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
