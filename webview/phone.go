package webview

import (
	"math"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis"
)

// FromPhone is the choice of a source that stands for a browser's microphone;
// Source.Input is then the phone's ID.
const FromPhone = "phone"

const (
	mostPhones = 8
	// longestJump is how far, in seconds, the sample clock may jump ahead: a
	// phone that was away for longer begins anew.
	longestJump = 3600
)

// Phone is a browser that lends its microphone, as the pages see it.
type Phone struct {
	ID         string  `json:"id"`
	Name       string  `json:"name"`
	SampleRate float64 `json:"sample_rate_hz"`
	InUse      bool    `json:"in_use"`    // it is the ear
	Processed  bool    `json:"processed"` // its browser may alter the sound
	Words      string  `json:"words"`     // what is to be known about it; "" for nothing
}

// phone is the connection behind one.
type phone struct {
	id        string
	rate      analysis.Rate
	processed []string // what its browser did not switch off
	conn      *websocket.Conn
	order     int64 // later phones have a higher one
	ended     chan struct{}
	replaced  atomic.Bool

	mu     sync.Mutex
	name   string
	source *PhoneSource // nil: it is not the ear

	// The reader's own.
	next     uint64 // sample clock that comes next
	sequence int64  // of the last frame; -1 before the first

	tallies phoneTallies
}

// phoneTallies are counted by the reader and told to the phone.
type phoneTallies struct {
	frames, missing, late, lost atomic.Int64
}

// problem is why a phone's connection ends: a protocol broken, in words.
type problem struct {
	code  int // of the websocket's close
	words string
}

func (p problem) Error() string { return p.words }

// take takes in a frame. An error is a problem and ends the connection.
func (p *phone) take(message []byte) error {
	f, err := parseFrame(message)
	if err != nil {
		return problem{websocket.CloseInvalidFramePayloadData, err.Error()}
	}
	if p.sequence >= 0 && f.clock < p.next { // it was counted as lost already
		p.tallies.late.Add(1)
		return nil
	}
	if p.sequence >= 0 && float64(f.clock-p.next) > longestJump*float64(p.rate) {
		return problem{websocket.CloseInvalidFramePayloadData, "the sample clock jumped by more than an hour"}
	}
	if p.sequence >= 0 {
		p.tallies.lost.Add(int64(f.clock - p.next))
		p.tallies.missing.Add(max(0, int64(f.sequence)-p.sequence-1))
	}
	p.tallies.frames.Add(1)
	p.sequence, p.next = int64(f.sequence), f.clock+uint64(f.count)
	p.mu.Lock()
	source := p.source
	p.mu.Unlock()
	if source == nil {
		return nil
	}
	if err := source.put(f); err != nil {
		return problem{websocket.CloseInvalidFramePayloadData, err.Error()}
	}
	return nil
}

func (p *phone) form() Phone {
	p.mu.Lock()
	defer p.mu.Unlock()
	f := Phone{ID: p.id, Name: p.name, SampleRate: round(float64(p.rate), placesHz), InUse: p.source != nil, Processed: len(p.processed) > 0}
	if f.Processed {
		f.Words = "The browser of " + p.name + " does not switch off " + list(p.processed) + ". Levels, and how long things ring, may be wrong."
	}
	return f
}

// list joins words as a sentence does.
func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		out := words[0]
		for _, w := range words[1 : n-1] {
			out += ", " + w
		}
		return out + " and " + words[n-1]
	}
}

// phones are those that are there.
type phones struct {
	mu     sync.Mutex
	by     map[string]*phone
	joined int64
	change chan struct{} // closed and replaced whenever one joins
}

func newPhones() *phones { return &phones{by: map[string]*phone{}, change: make(chan struct{})} }

// join adds a phone. One with the same ID, whose link may hang, makes way.
func (all *phones) join(p *phone) error {
	all.mu.Lock()
	before := all.by[p.id]
	if before == nil && len(all.by) >= mostPhones {
		all.mu.Unlock()
		return errFull
	}
	all.joined++
	p.order = all.joined
	all.by[p.id] = p
	close(all.change)
	all.change = make(chan struct{})
	all.mu.Unlock()
	if before != nil {
		before.replaced.Store(true)
		before.end(problem{closeReplaced, "this page lends its microphone in another window now"})
	}
	return nil
}

// leave removes a phone and ends the source it was.
func (all *phones) leave(p *phone) {
	all.mu.Lock()
	if all.by[p.id] == p {
		delete(all.by, p.id)
	}
	all.mu.Unlock()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.source != nil {
		close(p.source.lost)
		p.source = nil
	}
	close(p.ended)
}

func (all *phones) rename(id, name string) {
	all.mu.Lock()
	p := all.by[id]
	all.mu.Unlock()
	if p != nil {
		p.mu.Lock()
		p.name = name
		p.mu.Unlock()
	}
}

// find returns the phone with an ID, or with "" the one that joined last; nil
// where there is none. joined is closed when another joins.
func (all *phones) find(id string) (p *phone, joined <-chan struct{}) {
	all.mu.Lock()
	defer all.mu.Unlock()
	if id != "" {
		return all.by[id], all.change
	}
	for _, q := range all.by {
		if p == nil || q.order > p.order {
			p = q
		}
	}
	return p, all.change
}

func (all *phones) list() []*phone {
	all.mu.Lock()
	defer all.mu.Unlock()
	ps := []*phone{}
	for _, p := range all.by {
		ps = append(ps, p)
	}
	return ps
}

// end closes the connection in order, with the reason.
func (p *phone) end(why problem) {
	words := why.words
	if len(words) > 120 { // a control frame holds 125 bytes: RFC 6455, section 5.5
		words = words[:120]
	}
	p.conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(why.code, words), time.Now().Add(time.Second))
	p.conn.Close()
}

// validRate reports whether sound of this rate can be heard.
func validRate(rate float64) bool { return rate >= 8000 && rate <= 192000 && rate == math.Trunc(rate) }
