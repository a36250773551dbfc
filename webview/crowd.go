package webview

import (
	"context"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
)

// How many connections there may be: in all, and from one address of the local
// network. A browser opens six at most to one address, and sockets apart.
const (
	mostConnections = 2048
	mostFromOne     = 64
)

// crowd keeps the number of connections down. Where there are too many it
// closes the oldest that asks for nothing, so that whoever opens a thousand
// and leaves them idle keeps nobody out.
type crowd struct {
	most, mostFromOne int
	tally             *tally

	mu       sync.Mutex
	arrived  uint64
	visitors map[net.Conn]*visitor
}

// visitor is one connection.
type visitor struct {
	from  string // its address in the local network; "" for this machine
	order uint64
	idle  bool        // nothing is being asked
	asked atomic.Bool // a whole request has come
}

func newCrowd(t *tally) *crowd {
	return &crowd{most: mostConnections, mostFromOne: mostFromOne, tally: t, visitors: map[net.Conn]*visitor{}}
}

type visitorKey struct{}

// context lets the guard find the visitor of a request; it is http.Server's
// ConnContext and comes before the first change.
func (c *crowd) context(ctx context.Context, conn net.Conn) context.Context {
	v := &visitor{from: remote(conn.RemoteAddr()), idle: true}
	c.mu.Lock()
	c.arrived++
	v.order = c.arrived
	c.visitors[conn] = v
	close := c.surplus(conn, v)
	c.mu.Unlock()
	if close != nil {
		close.Close()
		c.tally.count(byCrowd)
	}
	return context.WithValue(ctx, visitorKey{}, v)
}

// change follows what becomes of a connection; it is http.Server's ConnState.
func (c *crowd) change(conn net.Conn, state http.ConnState) {
	c.mu.Lock()
	defer c.mu.Unlock()
	v := c.visitors[conn]
	if v == nil {
		return
	}
	switch state {
	case http.StateActive:
		v.idle = false
	case http.StateIdle:
		v.idle = true
	case http.StateHijacked: // the hub counts those
		delete(c.visitors, conn)
	case http.StateClosed:
		delete(c.visitors, conn)
		if !v.asked.Load() {
			c.tally.count(byNothing)
		}
	}
}

// surplus is the connection that must go for this one, or nil. Callers hold mu.
func (c *crowd) surplus(conn net.Conn, v *visitor) net.Conn {
	fromOne := 0
	for _, o := range c.visitors {
		if o.from == v.from {
			fromOne++
		}
	}
	tooManyFromOne := v.from != "" && fromOne > c.mostFromOne
	if len(c.visitors) <= c.most && !tooManyFromOne {
		return nil
	}
	var goes net.Conn
	for other, o := range c.visitors {
		if other != conn && (o.idle || !o.asked.Load()) && (!tooManyFromOne || o.from == v.from) && (goes == nil || o.order < c.visitors[goes].order) {
			goes = other
		}
	}
	if goes == nil {
		goes = conn
	}
	delete(c.visitors, goes) // counted once, as crowd
	return goes
}

// count is how many there are, sockets apart.
func (c *crowd) count() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return len(c.visitors)
}

// remote is what tells callers apart before they have said who they are: their
// address, or "" for this machine.
func remote(a net.Addr) string {
	tcp, ok := a.(*net.TCPAddr)
	if !ok || tcp.IP.IsLoopback() {
		return ""
	}
	return tcp.IP.String()
}
