package webview

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"net"
	"net/http"
	"strings"

	"ringwell/webview/share"
)

const (
	// cookieName begins so that browsers take it over TLS only, for this very
	// host and every path (RFC 6265bis, section 4.1.3.2, from memory, unchecked).
	cookieName = "__Host-ringwell"
	// tokenHeader carries the page's token. A page from elsewhere cannot set a
	// header of its own without asking first, which is not granted.
	tokenHeader = "X-Ringwell-Token"
)

// caller is who asks.
type caller struct {
	here   bool         // somebody on this machine
	device share.Device // a paired device; without an ID none
	script share.Token  // a script that showed its token; without an ID none
	from   string       // the remote address; "" for this machine
}

type callerKey struct{}

// whose returns who asks, as guard has found out.
func whose(r *http.Request) caller {
	c, _ := r.Context().Value(callerKey{}).(caller)
	return c
}

func (c caller) into(ctx context.Context) context.Context {
	return context.WithValue(ctx, callerKey{}, c)
}

// known reports whether the caller may ask for more than the pairing page.
func (c caller) known() bool { return c.here || c.device.ID != "" || c.script.ID != "" }

// key tells callers apart for what is limited by caller.
func (c caller) key() string {
	switch {
	case c.script.ID != "":
		return "script " + c.script.ID
	case c.device.ID != "":
		return "device " + c.device.ID
	case c.here:
		return "here"
	}
	return "from " + c.from
}

// identify finds out who asks. A token of a script that is not known, or is not
// for this call, is refused even on this machine.
func (s *Server) identify(r *http.Request) (caller, error) {
	c := caller{here: r.TLS == nil}
	if a, err := net.ResolveTCPAddr("tcp", r.RemoteAddr); err == nil {
		c.from = remote(a)
	}
	if shown, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		token, ok := s.cfg.Book.Token(shown)
		switch {
		case !ok:
			return c, refuse(http.StatusUnauthorized, "", "This script's token is not known. Make another on ringwell's own computer.").because(byToken)
		case token.Call != s.call(r):
			return c, refuse(http.StatusForbidden, "", "This script's token is for %s only.", token.Call).because(byToken)
		}
		c.here, c.script = false, token
		return c, nil
	}
	if !c.here {
		if cookie, err := r.Cookie(cookieName); err == nil {
			c.device, _ = s.cfg.Book.Device(cookie.Value)
		}
	}
	return c, nil
}

// call is what a request asks for, as tokens name it: "POST /api/strikes/{id}/name".
func (s *Server) call(r *http.Request) string {
	method := r.Method
	if method == http.MethodHead {
		method = http.MethodGet
	}
	_, pattern := s.mux.Handler(r)
	return method + " " + pattern
}

// token is what the page of a caller shows with every change. It is another for
// each caller and each start of the program.
func (s *Server) token(c caller) string {
	m := hmac.New(sha256.New, s.secret)
	m.Write([]byte(c.key()))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil))
}

func (s *Server) tokenIs(c caller, shown string) bool {
	return subtle.ConstantTimeCompare([]byte(s.token(c)), []byte(shown)) == 1
}

// getToken answers with the caller's token. Only a page of our own origin can
// read the answer.
func (s *Server) getToken(w http.ResponseWriter, r *http.Request) error {
	answer(w, tokenAnswer{s.token(whose(r))})
	return nil
}

type tokenAnswer struct {
	Token string `json:"token"`
}
