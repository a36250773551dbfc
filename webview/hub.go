package webview

import (
	"context"
	"errors"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// How many pages may listen at once: in all, and on one paired device.
const (
	maxClients   = 64
	maxOfADevice = 8
)

// readLimit is the longest message a client may send, in bytes. It is to send
// none.
const readLimit = 512

// timing is how patient the hub is.
type timing struct {
	ping  time.Duration // between pings
	read  time.Duration // without a pong until the client counts as gone
	write time.Duration // for one message
	leave time.Duration // for the client's goodbye
}

func usualTiming() timing {
	return timing{ping: 20 * time.Second, read: 50 * time.Second, write: 2 * time.Second, leave: time.Second}
}

// hub speaks to the clients. One goroutine writes to each, one reads.
type hub struct {
	timing  timing
	mu      sync.Mutex
	clients map[*client]struct{}
	closed  bool
	running sync.WaitGroup
}

type client struct {
	conn    *websocket.Conn
	box     *outbox
	device  string          // ID of the paired device; "" for this machine
	revoked <-chan struct{} // closed: the device is no longer paired; nil for this machine
	leave   chan struct{}   // closed: say goodbye
	gone    chan struct{}   // closed: the reader has ended
}

func newHub(t timing) *hub { return &hub{timing: t, clients: map[*client]struct{}{}} }

// errFull and errClosed say why a client was not taken.
var (
	errFull   = errors.New("webview: too many pages are open")
	errClosed = errors.New("webview: the server is stopping")
)

// room reports whether another client of a device can be taken, as errFull or
// errClosed.
func (h *hub) room(device string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.fits(device)
}

// fits is room. Callers hold mu.
func (h *hub) fits(device string) error {
	if h.closed {
		return errClosed
	}
	same := 0
	for c := range h.clients {
		if c.device == device {
			same++
		}
	}
	if len(h.clients) >= maxClients || device != "" && same >= maxOfADevice {
		return errFull
	}
	return nil
}

// join takes a client whose first messages are first. It is cut off once
// revoked is closed.
func (h *hub) join(conn *websocket.Conn, device string, revoked <-chan struct{}, first ...post) error {
	c := &client{conn: conn, box: newOutbox(), device: device, revoked: revoked, leave: make(chan struct{}), gone: make(chan struct{})}
	for _, p := range first {
		c.box.put(p)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.fits(device); err != nil {
		return err
	}
	h.clients[c] = struct{}{}
	h.running.Add(2)
	go h.read(c)
	go h.write(c)
	return nil
}

// count is how many clients there are.
func (h *hub) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.clients)
}

// publish puts a message into every client's outbox; it waits for none of them.
func (h *hub) publish(p post) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.clients {
		c.box.put(p)
	}
}

// close says goodbye to every client (1001, going away) and waits for them to
// leave or for ctx.
func (h *hub) close(ctx context.Context) error {
	h.mu.Lock()
	if !h.closed {
		h.closed = true
		for c := range h.clients {
			close(c.leave)
		}
	}
	h.mu.Unlock()
	done := make(chan struct{})
	go func() {
		h.running.Wait()
		close(done)
	}()
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// read notices pongs, the client's goodbye and its silence.
func (h *hub) read(c *client) {
	defer h.running.Done()
	defer close(c.gone)
	c.conn.SetReadLimit(readLimit)
	alive := func(string) error { return c.conn.SetReadDeadline(time.Now().Add(h.timing.read)) }
	c.conn.SetPongHandler(alive)
	alive("")
	_, _, err := c.conn.NextReader()
	if err == nil {
		words := websocket.FormatCloseMessage(websocket.CloseUnsupportedData, "this socket only speaks")
		c.conn.WriteControl(websocket.CloseMessage, words, time.Now().Add(h.timing.write))
	}
}

// write sends what waits in the outbox, pings, and ends when the client is
// gone, too slow, or to leave.
func (h *hub) write(c *client) {
	defer h.running.Done()
	defer c.conn.Close()
	defer func() {
		h.mu.Lock()
		delete(h.clients, c)
		h.mu.Unlock()
	}()
	ping := time.NewTicker(h.timing.ping)
	defer ping.Stop()
	for {
		select {
		case <-c.gone:
			return
		case <-c.leave:
			h.goodbye(c, websocket.CloseGoingAway, "ringwell is stopping")
			return
		case <-c.revoked:
			h.goodbye(c, closeRevoked, "this device is no longer paired")
			return
		case <-ping.C:
			if c.conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(h.timing.write)) != nil {
				return
			}
		case <-c.box.ready:
			for data := c.box.take(); data != nil; data = c.box.take() {
				c.conn.SetWriteDeadline(time.Now().Add(h.timing.write))
				if c.conn.WriteMessage(websocket.TextMessage, data) != nil {
					return
				}
			}
		}
	}
}

// goodbye closes in order: the client answers with a close of its own, or is
// cut off.
func (h *hub) goodbye(c *client, code int, reason string) {
	words := websocket.FormatCloseMessage(code, reason)
	if c.conn.WriteControl(websocket.CloseMessage, words, time.Now().Add(h.timing.write)) != nil {
		return
	}
	wait := time.NewTimer(h.timing.leave)
	defer wait.Stop()
	select {
	case <-c.gone:
	case <-wait.C:
	}
}
