package webview

import (
	"slices"
	"strings"
	"sync"
)

// outboxLength is how many strikes wait for a slow client. Besides them at
// most one message of every other type waits.
const outboxLength = 24

// strikeKey is the key of messages about one strike; only these are ever lost.
func strikeKey(id string) string { return typeStrike + ":" + id }

// outbox is what waits for one client. Putting never blocks. As every message
// is the whole of what it is about, one that a later one replaces is dropped
// unsaid; where too many strikes wait, the oldest is lost and a missed message
// stands in its place.
type outbox struct {
	mu    sync.Mutex
	posts []post
	ready chan struct{} // has a token while something waits
}

// post is a message on its way to every client.
type post struct {
	key    string // a later post with the same key replaces this one
	before string // for strikes: ID of the strike before it, "" for none
	data   []byte // nil for a missed message, which is made when it is taken
	lost   int    // for a missed message: how many it stands for
}

func newOutbox() *outbox { return &outbox{ready: make(chan struct{}, 1)} }

func (p post) isStrike() bool { return strings.HasPrefix(p.key, typeStrike+":") }

func (o *outbox) put(p post) {
	o.mu.Lock()
	defer o.mu.Unlock()
	// The new one goes last, also where it replaces one: what it says may rest
	// on what was put in between.
	o.posts = slices.DeleteFunc(o.posts, func(q post) bool { return q.key == p.key })
	if p.isStrike() {
		o.makeRoom()
	}
	o.posts = append(o.posts, p)
	select {
	case o.ready <- struct{}{}:
	default:
	}
}

// makeRoom loses the oldest strike where too many wait. The missed message must
// stand just there: what was put before it may be out of date by the time the
// client asks what it missed, and would undo the answer; what was put after it
// is in order again.
func (o *outbox) makeRoom() {
	strikes, oldest, missed := 0, -1, -1
	for i, q := range o.posts {
		switch {
		case q.key == typeMissed:
			missed = i
		case q.isStrike():
			if strikes++; oldest < 0 {
				oldest = i
			}
		}
	}
	if strikes < outboxLength {
		return
	}
	m := post{key: typeMissed, before: o.posts[oldest].before, lost: 1}
	if missed >= 0 {
		m.before, m.lost = min(m.before, o.posts[missed].before), o.posts[missed].lost+1
	}
	o.posts[oldest] = m
	if missed >= 0 {
		o.posts = slices.Delete(o.posts, missed, missed+1)
	}
}

// take returns the next message; nil where none waits.
func (o *outbox) take() []byte {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.posts) == 0 {
		return nil
	}
	p := o.posts[0]
	o.posts = slices.Delete(o.posts, 0, 1)
	if p.key != typeMissed {
		return p.data
	}
	m := missedMessage{head(typeMissed), nil, p.lost}
	if p.before != "" {
		m.After = &p.before
	}
	return encode(m)
}
