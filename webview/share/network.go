package share

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// lookEvery is how often the addresses of this machine are looked at.
const lookEvery = 5 * time.Second

// Options say how the local network is served.
type Options struct {
	Dir   string                             // where the certificates are kept
	Port  uint16                             // 0: any free one
	Find  func() ([]Address, error)          // nil: Find
	Names []string                           // of this machine; nil: Names()
	Now   func() time.Time                   // nil: time.Now
	Tell  func(words string)                 // told what has changed, for people; nil: nobody
	Bind  func(string) (net.Listener, error) // nil: a TCP listener on that address
}

// Network listens on the shared addresses, however they change, under
// certificates that fit them. It is a net.Listener of connections that are yet
// to be wrapped in TLS.
type Network struct {
	o Options

	arrivals chan net.Conn
	closing  chan struct{}
	looking  sync.Mutex // one look at a time

	mu        sync.Mutex
	keys      keys
	addresses []Address
	port      uint16
	doors     map[netip.Addr]net.Listener
	looked    bool // at least once
	closed    bool
}

// Open makes or reads the certificates and listens on the addresses there are.
// Having none yet is no error: Watch takes them up when they come. Errors say
// what to do.
func Open(o Options) (*Network, error) {
	if o.Find == nil {
		o.Find = Find
	}
	if o.Names == nil {
		o.Names = Names()
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Tell == nil {
		o.Tell = func(string) {}
	}
	if o.Bind == nil {
		o.Bind = func(at string) (net.Listener, error) { return net.Listen("tcp", at) }
	}
	n := &Network{
		o: o, arrivals: make(chan net.Conn), closing: make(chan struct{}),
		keys: keys{dir: o.Dir}, port: o.Port, doors: map[netip.Addr]net.Listener{},
	}
	notice, err := n.keys.load()
	if err != nil {
		return nil, err
	}
	if notice != "" {
		o.Tell(notice)
	}
	if err := n.Look(); err != nil {
		n.Close()
		return nil, err
	}
	return n, nil
}

// Watch looks at the addresses every few seconds until ctx ends.
func (n *Network) Watch(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	told := ""
	for {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
		words := ""
		if err := n.Look(); err != nil && !errors.Is(err, net.ErrClosed) {
			words = err.Error()
		}
		if words != told && words != "" {
			n.o.Tell(words)
		}
		told = words
	}
}

// Look fits the certificates and the listeners to the addresses of this
// moment.
func (n *Network) Look() error {
	n.looking.Lock()
	defer n.looking.Unlock()
	addresses, err := n.o.Find()
	if err != nil {
		return err
	}
	n.mu.Lock()
	if n.closed {
		n.mu.Unlock()
		return net.ErrClosed
	}
	had, looked := n.keys.authority != nil, n.looked
	authority, _, err := n.keys.fit(n.o.Names, addresses, n.o.Now())
	if err != nil {
		n.mu.Unlock()
		return err
	}
	moved := looked && !slices.Equal(n.addresses, addresses)
	n.addresses, n.looked = addresses, true
	err = n.bind()
	urls := n.urls()
	n.mu.Unlock()
	if authority && had {
		n.o.Tell("This network is new to ringwell's certificate authority, so a new one was made: install it on your devices again. Its fingerprint is " + n.Fingerprint() + ".")
	}
	switch {
	case moved && len(urls) == 0:
		n.o.Tell("This computer is in no local network now; the page is shared again when it is.")
	case moved:
		n.o.Tell("The shared page is at " + urls[0] + " now.")
	}
	return err
}

// bind closes the doors whose address has gone and opens those that are
// missing. Callers hold mu.
func (n *Network) bind() error {
	for ip, l := range n.doors {
		if !slices.ContainsFunc(n.addresses, func(a Address) bool { return a.IP == ip }) {
			delete(n.doors, ip)
			l.Close()
		}
	}
	var failed error
	for _, a := range n.addresses {
		if n.doors[a.IP] != nil {
			continue
		}
		at := netip.AddrPortFrom(a.IP, n.port)
		l, err := n.o.Bind(at.String())
		if err != nil {
			failed = fmt.Errorf("share: the page cannot be shared at %s: %w", at, err)
			continue
		}
		if n.port == 0 { // any free one, but the same on every address
			_, port, _ := net.SplitHostPort(l.Addr().String())
			p, _ := strconv.ParseUint(port, 10, 16)
			n.port = uint16(p)
		}
		n.doors[a.IP] = l
		go n.accept(l)
	}
	return failed
}

// accept hands on the connections of one door.
func (n *Network) accept(l net.Listener) {
	for pause := time.Millisecond; ; {
		c, err := l.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil { // out of file descriptors, say: wait for better times
			select {
			case <-time.After(pause):
				pause = min(2*pause, time.Second)
				continue
			case <-n.closing:
				return
			}
		}
		pause = time.Millisecond
		select {
		case n.arrivals <- c:
		case <-n.closing:
			c.Close()
			return
		}
	}
}

// Accept is part of net.Listener.
func (n *Network) Accept() (net.Conn, error) {
	select {
	case c := <-n.arrivals:
		return c, nil
	case <-n.closing:
		return nil, net.ErrClosed
	}
}

// Close is part of net.Listener.
func (n *Network) Close() error {
	n.mu.Lock()
	defer n.mu.Unlock()
	if !n.closed {
		n.closed = true
		close(n.closing)
		for _, l := range n.doors {
			l.Close()
		}
	}
	return nil
}

// Addr is part of net.Listener: the first shared address, or none with the
// port.
func (n *Network) Addr() net.Addr {
	n.mu.Lock()
	defer n.mu.Unlock()
	a := &net.TCPAddr{Port: int(n.port)}
	if len(n.addresses) > 0 {
		a.IP = n.addresses[0].IP.AsSlice()
	}
	return a
}

// TLS is how the connections are to be wrapped: HTTP/1.1 only, because
// websockets want that.
func (n *Network) TLS() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		NextProtos: []string{"http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
			n.mu.Lock()
			defer n.mu.Unlock()
			return n.keys.leaf, nil
		},
	}
}

// Serves reports whether a Host header names a shared address or name and the
// shared port.
func (n *Network) Serves(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		name, port = strings.Trim(host, "[]"), "443"
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if port != strconv.Itoa(int(n.port)) {
		return false
	}
	if ip, err := netip.ParseAddr(name); err == nil {
		return slices.ContainsFunc(n.addresses, func(a Address) bool { return a.IP == ip })
	}
	return slices.Contains(n.o.Names, strings.ToLower(name))
}

// URLs are the addresses of the page, the one to show first.
func (n *Network) URLs() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.urls()
}

func (n *Network) urls() []string {
	urls := []string{}
	for _, a := range n.addresses {
		urls = append(urls, "https://"+netip.AddrPortFrom(a.IP, n.port).String()+"/")
	}
	if len(urls) == 0 {
		return urls
	}
	for _, name := range n.o.Names {
		urls = append(urls, "https://"+net.JoinHostPort(name, strconv.Itoa(int(n.port)))+"/")
	}
	return urls
}

// Fingerprint is that of the authority: see Authority.Fingerprint.
func (n *Network) Fingerprint() string { return n.Authority().Fingerprint() }

// Authority returns the authority of this moment.
func (n *Network) Authority() *Authority {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.keys.authority
}
