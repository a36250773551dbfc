package webview

import (
	"net"
	"net/http"
	"strings"
)

// How long a client may take and how much it may say, so that one that stalls
// holds nothing up. The page's requests are a few hundred bytes each.
const (
	headerLimit = 16 << 10 // bytes
	policy      = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; " +
		"connect-src 'self'; media-src 'self' blob:; manifest-src 'self'; worker-src 'self'; " +
		"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

// guard shuts the doors. The page belongs to this machine, but a browser on it
// also shows pages from elsewhere, and any of those may try to reach us:
//   - under a name of its own that it points here (DNS rebinding): the Host
//     must be a loopback name and our port, or 421;
//   - by a request across origins: an Origin that is not the page's own is
//     refused with 403 on every route, the socket's upgrade included, and so is
//     whatever the browser itself marks as coming from another site, except
//     following a link to the page;
//   - in a frame or by a script in the page: see policy.
//
// A program that is no browser sends none of these headers and is let in: it
// runs on this machine already.
func guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "microphone=(self), camera=(), geolocation=()")
		switch {
		case !ownHost(r):
			answerRefusal(w, refuse(http.StatusMisdirectedRequest, "", "This is not the address of ringwell's page. Open the address it printed when it started."))
		case !ownOrigin(r) || crossSite(r):
			answerRefusal(w, refuse(http.StatusForbidden, "", "This was asked for by a page from elsewhere. Only ringwell's own page may do that."))
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// ownHost reports whether the Host is a loopback name and the port the request
// came in at.
func ownHost(r *http.Request) bool {
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
	named := r.Header.Values("Origin")
	return len(named) == 0 || len(named) == 1 && strings.EqualFold(named[0], "http://"+r.Host)
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
	return !read || !link || strings.HasPrefix(r.URL.Path, "/api/") || r.URL.Path == socketPath
}

// loopback reports whether an address can be reached from this machine only.
func loopback(a net.Addr) bool {
	tcp, ok := a.(*net.TCPAddr)
	return ok && tcp.IP.IsLoopback()
}
