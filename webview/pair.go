package webview

import (
	"bytes"
	"embed"
	"errors"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"ringwell/webview/share"
)

// The page for devices that are not paired yet. It stands by itself: nothing of
// the page proper is given to them.
//
//go:embed pair
var pairFiles embed.FS

// Wrong pairing codes: so many at once from one address, then one in so many
// seconds.
const (
	guessBurst = 5
	guessEvery = 12 * time.Second
)

// openToAll reports whether a request is answered whoever asks.
func openToAll(r *http.Request) bool {
	if r.URL.Path == "/api/pair" {
		return r.Method == http.MethodPost
	}
	return !changes(r) && slices.Contains([]string{"/pair", "/pair.js", "/pair.css", "/authority.crt"}, r.URL.Path)
}

// getPairPage, getPairFile and getAuthority are what a device sees before it is
// paired. Over plain HTTP on this machine they are there too, to be looked at.
func (s *Server) getPairPage(w http.ResponseWriter, _ *http.Request) error {
	s.writePairPage(w, http.StatusOK)
	return nil
}

func (s *Server) writePairPage(w http.ResponseWriter, status int) {
	page, err := template.ParseFS(pairFiles, "pair/pair.html")
	var b bytes.Buffer
	if err == nil {
		err = page.Execute(&b, s.shareAnswer(caller{}))
	}
	if err != nil { // the file is ours and tested
		answerRefusal(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes())
}

func (s *Server) getPairFile(w http.ResponseWriter, r *http.Request) error {
	data, err := pairFiles.ReadFile("pair" + r.URL.Path)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", contentType(r.URL.Path))
	w.Write(data)
	return nil
}

func (s *Server) getAuthority(w http.ResponseWriter, _ *http.Request) error {
	if s.cfg.Network == nil {
		return notShared()
	}
	// The type that phones offer to install a certificate at.
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="ringwell-authority.crt"`)
	w.Write(s.cfg.Network.Authority().DER())
	return nil
}

func notShared() *Refusal {
	return refuse(http.StatusConflict, "", "The page is not shared with the local network. Start ringwell with --share.")
}

// shareAnswer says how the page is shared, and who asks.
type shareAnswer struct {
	On          bool          `json:"on"`
	URLs        []string      `json:"urls"`        // of the shared page; [] where there is no network
	Fingerprint *string       `json:"fingerprint"` // SHA-256 of the authority
	Here        bool          `json:"here"`        // you are on ringwell's own computer
	Device      *share.Device `json:"device"`      // you, where you are a paired device
}

func (s *Server) shareAnswer(c caller) shareAnswer {
	a := shareAnswer{URLs: []string{}, Here: c.here}
	if n := s.cfg.Network; n != nil {
		print := n.Fingerprint()
		a.On, a.URLs, a.Fingerprint = true, n.URLs(), &print
	}
	if c.device.ID != "" {
		a.Device = &c.device
	}
	return a
}

func (s *Server) getShare(w http.ResponseWriter, r *http.Request) error {
	answer(w, s.shareAnswer(whose(r)))
	return nil
}

// pairingAnswer is an offer to pair one device.
type pairingAnswer struct {
	URL     string    `json:"url"` // to be opened on the device; holds the secret
	Expires time.Time `json:"expires"`
}

// OfferPairing makes a new offer, the one before being void, and returns the
// address to open on the device and how long it can be used. The address holds
// a secret and belongs into no log. ok is false while the page is not shared.
func (s *Server) OfferPairing() (url string, expires time.Time, ok bool) {
	if s.cfg.Network == nil || len(s.cfg.Network.URLs()) == 0 {
		return "", time.Time{}, false
	}
	o := s.pairing.Offer()
	return s.pairURL(o), o.Expires, true
}

// pairURL holds the secret in its fragment, which browsers send to nobody.
func (s *Server) pairURL(o share.Offer) string {
	return s.cfg.Network.URLs()[0] + "pair#" + o.Secret
}

func (s *Server) postPairing(w http.ResponseWriter, _ *http.Request) error {
	if s.cfg.Network == nil {
		return notShared()
	}
	url, expires, ok := s.OfferPairing()
	if !ok {
		return refuse(http.StatusConflict, "", "This computer is in no local network now. Join one, or name an address with --share-address.")
	}
	answer(w, pairingAnswer{url, expires.UTC()})
	return nil
}

// getPairingCode draws the present offer as a QR code.
func (s *Server) getPairingCode(w http.ResponseWriter, _ *http.Request) error {
	offer, ok := s.pairing.Current()
	if !ok || s.cfg.Network == nil || len(s.cfg.Network.URLs()) == 0 {
		return refuse(http.StatusNotFound, "", "There is no pairing code just now. Make one.")
	}
	svg, err := share.QRSVG(s.pairURL(offer))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Write(svg)
	return nil
}

// postPair exchanges a pairing code for the cookie of a paired device.
func (s *Server) postPair(w http.ResponseWriter, r *http.Request) error {
	if r.TLS == nil {
		return refuse(http.StatusConflict, "", "This is ringwell's own computer, which needs no pairing.")
	}
	var want struct {
		Secret string `json:"secret"`
		Name   string `json:"name"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	name := strings.TrimSpace(want.Name)
	if name == "" {
		name = "A phone"
	}
	if err := checkName("name", name); err != nil {
		return err
	}
	from := whose(r).from
	if s.paces.guesses.spent(from) {
		w.Header().Set("Retry-After", strconv.Itoa(int(guessEvery.Seconds())))
		return refuse(http.StatusTooManyRequests, "secret", "Too many wrong pairing codes came from this device. Wait a quarter of a minute, and scan a new one.")
	}
	if err := s.pairing.Take(want.Secret); err != nil {
		s.paces.guesses.allow(from)
		return refuse(http.StatusForbidden, "secret", "This pairing code is wrong, has been used, or is older than five minutes. Let ringwell's own computer show a new one.").because(byPairing)
	}
	device, secret, err := s.cfg.Book.Pair(name)
	if errors.Is(err, share.ErrTooMany) {
		return refuse(http.StatusConflict, "", "Too many devices are paired. Remove one first.")
	}
	if err != nil {
		return err
	}
	s.cfg.Log.Info("paired", "device", device.ID)
	http.SetCookie(w, &http.Cookie{
		Name: cookieName, Value: secret, Path: "/", MaxAge: int(share.PairedFor / time.Second),
		HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode,
	})
	answer(w, device)
	return nil
}

func guessPace(now func() time.Time) *pace { return newPace(rate.Every(guessEvery), guessBurst, now) }
