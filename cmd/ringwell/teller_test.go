package main

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

func plainForm(s analysis.Strike) (webview.Strike, analysis.Hz) {
	in, err := instrument.ByName(instrument.Default, 440)
	if err != nil {
		panic(err)
	}
	return webview.StrikeForm(s, in, instrument.Aim{}), 440
}

func TestTellerTellsFinalStrikesOnce(t *testing.T) {
	var out output
	teller := newTeller(&out, plainForm)
	ctx, stop := context.WithCancel(context.Background())
	go teller.run(ctx)
	for _, stage := range []analysis.Stage{analysis.Early, analysis.Settled, analysis.Withdrawn, analysis.Final} {
		s := jar()
		s.Stage = stage
		teller.Hear(s)
	}
	teller.State(listen.State{Code: listen.Opening, Words: "Opening."})
	teller.State(listen.State{Code: listen.Deaf, Words: "It is gone. Trying again in 1s."})
	teller.State(listen.State{Code: listen.Deaf, Words: "It is gone. Trying again in 2s."})
	teller.State(listen.State{Code: listen.Hearing, Words: "Listening to hall\x1b[2J."})
	stop()
	<-teller.gone
	lines := strings.Split(out.String(), "\n")
	if len(lines) != 4 || !strings.Contains(lines[0], "A4, 12.3 c high") || lines[1] != "It is gone. Trying again in 1s." ||
		lines[2] != `Listening to hall\x1b[2J.` || lines[3] != "" {
		t.Errorf("got %q, want the strike, then two states", lines)
	}
}

// stuck is a terminal that stands still until it is let go.
type stuck struct {
	output
	stands sync.Once
	still  chan struct{} // closed when the first line hangs
	free   chan struct{}
}

func (s *stuck) Write(p []byte) (int, error) {
	s.stands.Do(func() { close(s.still) })
	<-s.free
	return s.output.Write(p)
}

func TestTellerWaitsForNobody(t *testing.T) {
	out := &stuck{still: make(chan struct{}), free: make(chan struct{})}
	teller := newTeller(out, plainForm)
	ctx, stop := context.WithCancel(context.Background())
	go teller.run(ctx)
	const told = 3 * tellerQueue
	teller.say("line 0")
	<-out.still
	for i := 1; i < told; i++ { // returns although nothing can be written
		teller.say(fmt.Sprintf("line %d", i))
	}
	close(out.free)
	eventually(t, "the queue is written", func() bool { return strings.Count(out.String(), "line ") >= tellerQueue })
	teller.say("the end")
	stop()
	<-teller.gone
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	last := lines[len(lines)-2:]
	if last[1] != "the end" || !strings.Contains(last[0], fmt.Sprintf("(%d lines not shown", told-(len(lines)-2))) {
		t.Errorf("got %d lines, the last %q; want those left out counted, then the end", len(lines), last)
	}
}
