package main

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
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

// What was pinned on the page is what the terminal says of the same object.
func TestTheTerminalSaysWhatThePageSays(t *testing.T) {
	server, err := webview.New(webview.Config{Log: slog.New(slog.DiscardHandler), EncodeWAV: encodeWAV})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(l) }()
	t.Cleanup(func() {
		server.Shutdown(context.Background())
		<-served
	})
	bowl := func(id string) analysis.Strike {
		return analysis.Strike{ID: id, Revision: 1, Stage: analysis.Final, Rate: 48000, Used: 1,
			Heard:    &analysis.Pitch{Frequency: 440, Sigma: 0.2, Likelihood: 0.9, Basis: analysis.OnPartial},
			Partials: []analysis.Partial{{Frequency: 440, Sigma: 0.2, T60: 2, SigmaT60: 0.1}, {Frequency: 1221, Sigma: 0.3, Level: -6, T60: 1, SigmaT60: 0.1}}}
	}
	server.Hear(bowl("01BOWL1"))
	form := former(server)
	if s, ref := form(bowl("01BOWL2")); s.Heard.Frequency != 440 || ref != 440 {
		t.Fatalf("before the pin: got %+v on %g Hz, want 440 Hz on 440 Hz", s.Heard, float64(ref))
	}
	address := "http://" + l.Addr().String()
	var token struct{ Token string }
	answer, err := http.Get(address + "/api/token")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if err := json.NewDecoder(answer.Body).Decode(&token); err != nil {
		t.Fatal(err)
	}
	pin, err := http.NewRequest("POST", address+"/api/strikes/01BOWL1/pin", strings.NewReader(`{"partial":1}`))
	if err != nil {
		t.Fatal(err)
	}
	pin.Header.Set("Content-Type", "application/json")
	pin.Header.Set("X-Ringwell-Token", token.Token)
	pinned, err := http.DefaultClient.Do(pin)
	if err != nil {
		t.Fatal(err)
	}
	pinned.Body.Close()
	if pinned.StatusCode != http.StatusOK {
		t.Fatalf("pin: got %s", pinned.Status)
	}
	if s, _ := form(bowl("01BOWL2")); !s.Pinned || s.Heard.Frequency != 1221 {
		t.Errorf("the same bowl after the pin: got %+v, pinned %v, want 1221 Hz", s.Heard, s.Pinned)
	}
}
