package webview

import (
	"bufio"
	"errors"
	"maps"
	"net"
	"net/http"
	"sync"
)

// The reasons refusals are counted under, where the status alone does not say.
const (
	byHost     = "host"     // the Host is none of ours
	byOrigin   = "origin"   // asked for by a page from elsewhere
	byToken    = "token"    // a change without the page's token, or a script's that is not for this
	byPairing  = "pairing"  // a pairing code that is wrong, used or old
	byPlace    = "place"    // only this machine may ask for that
	byNothing  = "nothing"  // a connection that ended without a whole request
	byCrowd    = "crowd"    // a connection closed because there were too many
	byPressure = "pressure" // a phone that sent more than sound
	byFrame    = "frame"    // a frame of a phone that breaks the protocol
)

// byStatus are the reasons for the others.
func byStatus() map[int]string {
	return map[int]string{
		http.StatusBadRequest: "malformed", http.StatusUnauthorized: "unpaired", http.StatusForbidden: byOrigin,
		http.StatusNotFound: "missing", http.StatusMethodNotAllowed: "method", http.StatusRequestTimeout: "slow",
		http.StatusConflict: "conflict", http.StatusRequestEntityTooLarge: "body", http.StatusUnsupportedMediaType: "media",
		http.StatusMisdirectedRequest: byHost, http.StatusUnprocessableEntity: "value", http.StatusUpgradeRequired: "upgrade",
		http.StatusTooManyRequests: "rate", http.StatusServiceUnavailable: "full", http.StatusInternalServerError: "fault",
	}
}

// tally counts what was refused, by reason.
type tally struct {
	mu     sync.Mutex
	counts map[string]int64
}

func newTally() *tally {
	t := &tally{counts: map[string]int64{}}
	for _, reason := range byStatus() {
		t.counts[reason] = 0
	}
	for _, reason := range []string{byHost, byOrigin, byToken, byPairing, byPlace, byNothing, byCrowd, byPressure, byFrame} {
		t.counts[reason] = 0
	}
	return t
}

func (t *tally) count(reason string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.counts[reason]++
}

func (t *tally) refused(r *Refusal) {
	reason := r.Reason
	if reason == "" {
		reason = byStatus()[r.Status]
	}
	if reason == "" {
		reason = "other"
	}
	t.count(reason)
}

func (t *tally) all() map[string]int64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return maps.Clone(t.counts)
}

// tallied is a ResponseWriter that knows where refusals are counted.
type tallied struct {
	http.ResponseWriter
	tally *tally
}

// Unwrap lets http.ResponseController reach what is wrapped.
func (t *tallied) Unwrap() http.ResponseWriter { return t.ResponseWriter }

// Hijack is asked for by the websocket's upgrade, which does not unwrap.
func (t *tallied) Hijack() (net.Conn, *bufio.ReadWriter, error) {
	h, ok := t.ResponseWriter.(http.Hijacker)
	if !ok {
		return nil, nil, errors.New("webview: this connection cannot become a websocket")
	}
	return h.Hijack()
}
