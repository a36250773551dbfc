package webview

import (
	"strings"
	"sync"
)

// outboxLength is how many strikes wait for a slow client. Besides them at
// most one message of every other type waits.
const outboxLength = 24

// strikeKey is the key of messages about one strike; only these are ever lost.
func strikeKey(id string) string { return typeStrike + ":" + id }

// post is a message on its way to every client.
type post struct {
	key    string // a later post with the same key replaces this one
	before string // for strikes: ID of the strike before it, "" for none
	data   []byte
}

// outbox is what waits for one client. Putting never blocks. As every message
// is the whole of what it is about, one that a later one replaces is dropped
// unsaid; where too many strikes wait, the oldest is lost and the client told.
type outbox struct {
	mu    sync.Mutex
	posts []post
	lost  int
	after string        // the least before of what was lost
	ready chan struct{} // has a token while something waits
}

func newOutbox() *outbox { return &outbox{ready: make(chan struct{}, 1)} }

func (o *outbox) put(p post) {
	o.mu.Lock()
	defer o.mu.Unlock()
	strikes, oldest, same := 0, -1, -1
	for i, q := range o.posts {
		switch {
		case q.key == p.key:
			same = i
		case strings.HasPrefix(q.key, typeStrike+":"):
			if strikes++; oldest < 0 {
				oldest = i
			}
		}
	}
	isStrike := strings.HasPrefix(p.key, typeStrike+":")
	switch {
	case same >= 0:
		o.drop(same)
	case isStrike && strikes >= outboxLength:
		if before := o.posts[oldest].before; o.lost == 0 || before < o.after {
			o.after = before
		}
		o.lost++
		o.drop(oldest)
	}
	// The new one goes last, also where it replaces one: what it says may rest
	// on what was put in between.
	o.posts = append(o.posts, p)
	select {
	case o.ready <- struct{}{}:
	default:
	}
}

func (o *outbox) drop(i int) { o.posts = append(o.posts[:i], o.posts[i+1:]...) }

// take returns the next message; nil where none waits. That messages were lost
// is said before all others.
func (o *outbox) take() []byte {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.lost > 0 {
		m := missedMessage{head(typeMissed), nil, o.lost}
		if o.after != "" {
			after := o.after
			m.After = &after
		}
		o.lost = 0
		return encode(m)
	}
	if len(o.posts) == 0 {
		return nil
	}
	data := o.posts[0].data
	o.drop(0)
	return data
}
