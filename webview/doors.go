package webview

import (
	"context"
	"net"
	"net/http"
	"strings"
)

const (
	headerLimit = 16 << 10 // bytes; the page's requests are a few hundred each
	policy      = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; " +
		"connect-src 'self'; media-src 'self' blob:; manifest-src 'self'; worker-src 'self'; " +
		"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

// guard shuts the doors. The page belongs to this machine and to the devices
// that were paired with it, but their browsers also show pages from elsewhere,
// and any of those may try to reach us:
//   - under a name of its own that it points here (DNS rebinding): the Host
//     must be a loopback name, or at the shared door a shared address or name,
//     with our port, or 421;
//   - by a request across origins: an Origin that is not the page's own is
//     refused with 403 on every route, the upgrades included, and so is
//     whatever the browser itself marks as coming from another site, except
//     following a link to the page;
//   - by changing something without having read anything: every request that
//     changes something shows the page's token, or a script's, or 403;
//   - in a frame or by a script in the page: see policy.
//
// At the shared door, whoever is not paired gets the pairing page and nothing
// else: 401. Callers that ask too often get 429.
//
// On this machine a program that is no browser is let in: it sends none of
// these headers, and for a change it can ask for the token like the page.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(bare http.ResponseWriter, r *http.Request) {
		if v, ok := r.Context().Value(visitorKey{}).(*visitor); ok {
			v.asked.Store(true)
		}
		w := &tallied{bare, s.tally}
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()")
		c, err := s.admit(r)
		if err != nil {
			s.turnAway(w, r, err)
			return
		}
		ctx, done := context.WithCancel(c.into(r.Context()))
		defer done()
		if c.device.ID != "" {
			// What is under way when a device is revoked ends with it.
			stop := s.onRevoked(c.device.ID, done)
			defer stop()
		}
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// admit finds out who asks, or returns why not to answer.
func (s *Server) admit(r *http.Request) (caller, error) {
	if !s.ownHost(r) {
		return caller{}, refuse(http.StatusMisdirectedRequest, "", "This is not the address of ringwell's page. Open the address it printed when it started.")
	}
	if !ownOrigin(r) || crossSite(r) {
		return caller{}, refuse(http.StatusForbidden, "", "This was asked for by a page from elsewhere. Only ringwell's own page may do that.")
	}
	c, err := s.identify(r)
	if !s.paceOf(c).allow(c.key()) {
		return c, refuse(http.StatusTooManyRequests, "", "That was asked too often. Wait a second.")
	}
	switch {
	case err != nil:
		return c, err
	case openToAll(r):
		return c, nil
	case !c.known():
		return c, refuse(http.StatusUnauthorized, "", "This device is not paired with ringwell. On ringwell's own computer let its page show the code, and scan that.")
	case changes(r) && c.script.ID == "" && !s.tokenIs(c, r.Header.Get(tokenHeader)):
		return c, refuse(http.StatusForbidden, "token", "This change does not come from ringwell's page as it is now. Load the page anew; a script shows the token of GET /api/token.").because(byToken)
	}
	return c, nil
}

// turnAway answers a refusal; somebody who opens the page on a device that is
// not paired reads how to pair it.
func (s *Server) turnAway(w http.ResponseWriter, r *http.Request, err error) {
	if refusal, ok := err.(*Refusal); ok && refusal.Status == http.StatusUnauthorized && refusal.Reason == "" &&
		r.Method == http.MethodGet && strings.Contains(r.Header.Get("Accept"), "text/html") {
		s.tally.refused(refusal)
		s.writePairPage(w, refusal.Status)
		return
	}
	answerRefusal(w, err)
}

func (s *Server) paceOf(c caller) *pace {
	if c.here {
		return s.paces.here
	}
	return s.paces.away
}

// changes reports whether a request may change something.
func changes(r *http.Request) bool {
	return r.Method != http.MethodGet && r.Method != http.MethodHead
}

// ownHost reports whether the Host is one of the door the request came in at.
func (s *Server) ownHost(r *http.Request) bool {
	if r.TLS != nil {
		return s.cfg.Network != nil && s.cfg.Network.Serves(r.Host)
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok {
		return false
	}
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = strings.Trim(r.Host, "[]"), "80"
	}
	_, at, _ := net.SplitHostPort(local.String())
	return port == at && (strings.EqualFold(host, "localhost") || net.ParseIP(host).IsLoopback())
}

// ownOrigin reports whether the request names no origin or that of the page.
func ownOrigin(r *http.Request) bool {
	scheme := "http://"
	if r.TLS != nil {
		scheme = "https://"
	}
	named := r.Header.Values("Origin")
	return len(named) == 0 || len(named) == 1 && strings.EqualFold(named[0], scheme+r.Host)
}

// crossSite reports whether the browser says that another site is behind the
// request, and it is not somebody following a link to the page.
func crossSite(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return false
	}
	read := r.Method == http.MethodGet || r.Method == http.MethodHead
	link := r.Header.Get("Sec-Fetch-Mode") == "navigate" && r.Header.Get("Sec-Fetch-Dest") == "document"
	return !read || !link || strings.HasPrefix(r.URL.Path, "/api/") || r.URL.Path == socketPath || r.URL.Path == earPath
}

// loopback reports whether an address can be reached from this machine only.
func loopback(a net.Addr) bool {
	tcp, ok := a.(*net.TCPAddr)
	return ok && tcp.IP.IsLoopback()
}

// here makes a handler that answers this machine only.
func here(do handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !whose(r).here {
			return refuse(http.StatusForbidden, "", "Only ringwell's own computer may ask for that.").because(byPlace)
		}
		return do(w, r)
	}
}

// onRevoked calls do once a device is revoked, unless stop was called before.
func (s *Server) onRevoked(device string, do func()) (stop func()) {
	stopped := make(chan struct{})
	go func() {
		select {
		case <-s.cfg.Book.Revoked(device):
			do()
		case <-stopped:
		}
	}()
	return func() { close(stopped) }
}
