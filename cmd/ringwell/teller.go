package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

// teller writes each strike, once nothing more will come of it, as a line on
// the terminal, and tells in words when the ear's state changes. A terminal
// that stands still (Ctrl-S) holds nothing up: what does not fit into the queue
// is left out and counted.
type teller struct {
	form  func(analysis.Strike) (webview.Strike, analysis.Hz) // and the reference pitch
	queue chan string
	gone  chan struct{} // closed when run returns
	out   io.Writer

	// The ear's goroutine only.
	missed int
	words  string
}

const tellerQueue = 64

func newTeller(out io.Writer, form func(analysis.Strike) (webview.Strike, analysis.Hz)) *teller {
	return &teller{form: form, queue: make(chan string, tellerQueue), gone: make(chan struct{}), out: out}
}

var _ listen.Audience = (*teller)(nil)

// run writes until done is closed, and then what is left in the queue.
func (t *teller) run(ctx context.Context) {
	defer close(t.gone)
	for {
		select {
		case line := <-t.queue:
			fmt.Fprintln(t.out, line)
		case <-ctx.Done():
			for {
				select {
				case line := <-t.queue:
					fmt.Fprintln(t.out, line)
				default:
					return
				}
			}
		}
	}
}

func (t *teller) say(line string) {
	if t.missed > 0 {
		select {
		case t.queue <- fmt.Sprintf("(%s not shown: the terminal stood still)", count(t.missed, "line")):
			t.missed = 0
		default:
		}
	}
	select {
	case t.queue <- line:
	default:
		t.missed++
	}
}

// Hear is part of listen.Audience.
func (t *teller) Hear(s analysis.Strike) {
	if s.Stage == analysis.Final {
		t.say(line(t.form(s)))
	}
}

// State is part of listen.Audience.
func (t *teller) State(s listen.State) {
	what, _, _ := strings.Cut(s.Words, " Trying again") // each try waits longer; once is enough here
	if what == t.words || s.Code == listen.Opening {
		return
	}
	t.words = what
	t.say(clean(s.Words))
}

// Keep, Level and Room are part of listen.Audience and nothing for a terminal.
func (t *teller) Keep(analysis.Strike, []float32) {}
func (t *teller) Level(listen.Level)              {}
func (t *teller) Room(listen.Room)                {}

// audiences tells several of what is heard.
type audiences []listen.Audience

func (all audiences) Hear(s analysis.Strike) {
	for _, a := range all {
		a.Hear(s)
	}
}

func (all audiences) Keep(s analysis.Strike, sound []float32) {
	for _, a := range all {
		a.Keep(s, sound)
	}
}

func (all audiences) Level(l listen.Level) {
	for _, a := range all {
		a.Level(l)
	}
}

func (all audiences) Room(r listen.Room) {
	for _, a := range all {
		a.Room(r)
	}
}

func (all audiences) State(s listen.State) {
	for _, a := range all {
		a.State(s)
	}
}
