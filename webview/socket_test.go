package webview

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

func TestHelloHoldsAll(t *testing.T) {
	r := start(t, Config{Version: "1.2.3"})
	r.State(listen.State{Code: listen.Hearing, Source: "hall pair", Rate: 48000, Words: "The hall pair hears."})
	r.Room(listen.Room{Rate: 48000, PSD: make([]float64, 129), Seconds: 5})
	for n := range onShow + 5 {
		r.Hear(strikeN(n))
	}
	p := r.dial()
	f := p.expect(typeHello)
	if f.Version != "1.2.3" || f.State.Code != listen.Hearing || len(f.Instruments) < 5 || len(f.Kinds) != len(analysis.Kinds()) ||
		!slices.Equal(f.Sources, []string{"mic", "demo"}) || f.Instrument.Name != "vibraphone" || len(f.Instrument.Notes) != 37 {
		t.Errorf("hello: got %+v, wanted version 1.2.3, hearing, the names and the vibraphone's 37 notes", f)
	}
	if len(f.Strikes) != onShow || f.Earlier != 5 || f.Strikes[onShow-1].ID != strikeN(onShow+4).ID {
		t.Errorf("hello: got strikes %s and %d earlier, wanted the latest %d, newest last, and 5 earlier", ids(f.Strikes), f.Earlier, onShow)
	}
	p.expect(typeRoom) // what is known of the room need not be waited for
}

func TestLandingsAreSentAgain(t *testing.T) {
	r := start(t, Config{})
	p := r.dial()
	p.expect(typeHello)
	r.Hear(jar())
	if got := *p.expect(typeStrike).Strike; !reflect.DeepEqual(got, StrikeForm(jar(), r.in, r.session.aim())) {
		t.Fatalf("told: got %+v, wanted the form of the strike", got)
	}
	for _, c := range []struct {
		body       string
		instrument bool
		cents      float64 // of the landing: 884.212 Hz lies 8.27 c above A5 at 440
		note       string
	}{
		{`{"bend_cents":30}`, false, 8.27 - 30, "A5"},
		{`{"reference_hz":442}`, true, 0.42 - 30, "A5"},
		{`{"aim":false}`, false, 0.42, "A5"},
		{`{"aim":true,"target":80}`, false, 100.42 - 30, "G#5"},
		{`{"instrument":"marimba"}`, true, 100.42 - 30, "G#5"},
	} {
		var answer Session
		r.mustAsk("PATCH", "/api/session", json.RawMessage(c.body), &answer)
		if got := *p.expect(typeSession).Session; !reflect.DeepEqual(got, answer) {
			t.Errorf("%s: told %+v, answered %+v, wanted the same", c.body, got, answer)
		}
		if c.instrument {
			if got := p.expect(typeInstrument).Instrument; got.Name != answer.Instrument || got.Reference != answer.Reference {
				t.Errorf("%s: got the notes of %s at %g Hz, wanted %s at %g Hz", c.body, got.Name, got.Reference, answer.Instrument, answer.Reference)
			}
		}
		f := p.expect(typeTrail)
		if len(f.Strikes) != 1 || f.Strikes[0].Landing == nil {
			t.Fatalf("%s: got %+v, wanted the one strike", c.body, f.Strikes)
		}
		l := f.Strikes[0].Landing
		if form := r.Form(jar()); !reflect.DeepEqual(form, f.Strikes[0]) {
			t.Errorf("%s: Form gives %+v, wanted what the pages are told: %+v", c.body, form, f.Strikes[0])
		}
		if math.Abs(l.Cents-c.cents) > 0.01 || l.Note != c.note { // the wanted cents are written with two places
			t.Errorf("%s: got %s %+.2f c, wanted %s %+.2f c", c.body, l.Note, l.Cents, c.note, c.cents)
		}
	}
	// What does not move a landing does not send the trail.
	var answer Session
	r.mustAsk("PATCH", "/api/session", json.RawMessage(`{"kind":"glass"}`), &answer)
	p.expect(typeSession)
	r.Level(listen.Level{Peak: 0.5})
	p.expect(typeLevel)
}

func TestLifeOfAStrike(t *testing.T) {
	var encoded struct {
		rate    analysis.Rate
		samples int
		onset   int
		heard   *analysis.Pitch
	}
	r := start(t, Config{EncodeWAV: func(w io.Writer, rate analysis.Rate, sound []float32, onset int, heard *analysis.Pitch) error {
		encoded.rate, encoded.samples, encoded.onset, encoded.heard = rate, len(sound), onset, heard
		_, err := fmt.Fprintf(w, "RIFF of %d samples", len(sound))
		return err
	}})
	p := r.dial()
	p.expect(typeHello)
	s := jar()
	path := "/api/strikes/" + s.ID
	tell := func(want bool) Strike {
		t.Helper()
		f := p.expect(typeStrike)
		if f.Strike.Sound != want {
			t.Errorf("told with sound %v, wanted %v", f.Strike.Sound, want)
		}
		return *f.Strike
	}

	r.Hear(s)
	tell(false)
	s.Revision, s.Stage = 4, analysis.Final
	r.Hear(s)
	r.Hear(jar()) // an older telling comes late: not told
	if got := tell(false); got.Revision != 4 {
		t.Errorf("got revision %d, wanted 4", got.Revision)
	}
	r.Keep(s, make([]float32, s.To-s.From))
	tell(true)

	status, wav, h := r.ask("GET", path+".wav", nil)
	if status != 200 || string(wav) != "RIFF of 83424 samples" || h.Get("Content-Type") != "audio/wav" {
		t.Errorf("the sound: got %d %q %v, wanted 200, 83424 samples as audio/wav", status, wav, h)
	}
	if got := h.Get("Content-Disposition"); got != `inline; filename="strike-20261125-093000.512.wav"` {
		t.Errorf("the sound's name: got %s", got)
	}
	if encoded.rate != 48000 || encoded.onset != 12000 || encoded.heard == nil || encoded.heard.Frequency != s.Heard.Frequency {
		t.Errorf("given to the encoder: %+v, wanted 48000 Hz, the onset at sample 12000 (0.25 s) and the pitch", encoded)
	}

	var named Strike
	r.mustAsk("POST", path+"/name", map[string]string{"name": "  blue jar 🫙 "}, &named)
	if got := tell(true); *got.Name != "blue jar 🫙" || !reflect.DeepEqual(got, named) {
		t.Errorf("named: told %+v, answered %+v, wanted both with the name", got, named)
	}
	for name, want := range map[string]int{"\x1b[31mred": 422, strings.Repeat("x", 81): 422} {
		if status, _, _ := r.ask("POST", path+"/name", map[string]string{"name": name}); status != want {
			t.Errorf("name %q: got %d, wanted %d", name, status, want)
		}
	}

	var session Session
	r.mustAsk("PATCH", "/api/session", json.RawMessage(`{"frozen":true}`), &session)
	if got := p.expect(typeSession).Session; !got.Frozen || *got.FrozenID != s.ID {
		t.Errorf("frozen: got %+v, wanted the latest strike", got)
	}
	if status, got, _ := r.ask("DELETE", path, nil); status != 204 {
		t.Fatalf("thrown away: got %d %s, wanted 204", status, got)
	}
	if got := p.expect(typeSession).Session; got.Frozen || got.FrozenID != nil {
		t.Errorf("the frozen strike thrown away: got %+v, wanted no stay", got)
	}
	if got := p.expect(typeGone).ID; got != s.ID {
		t.Errorf("gone: got %q, wanted %q", got, s.ID)
	}
	for _, gone := range []string{path, path + ".wav"} {
		if status, _, _ := r.ask("GET", gone, nil); status != 404 {
			t.Errorf("%s thrown away: got %d, wanted 404", gone, status)
		}
	}
	var back Strike
	r.mustAsk("POST", path+"/restore", struct{}{}, &back)
	if got := tell(true); !reflect.DeepEqual(got, named) || !reflect.DeepEqual(back, named) {
		t.Errorf("taken back: told %+v, answered %+v, wanted it as it was with its sound and name", got, back)
	}
	r.mustAsk("POST", path+"/name", json.RawMessage(`{"name":null}`), &named)
	if got := tell(true); got.Name != nil {
		t.Errorf("name taken away: got %q, wanted none", *got.Name)
	}

	s.Revision, s.Stage = 5, analysis.Withdrawn
	r.Hear(s)
	if got := p.expect(typeStrike).Strike; got.Stage != analysis.Withdrawn {
		t.Errorf("withdrawn: got stage %s", got.Stage)
	}
	if status, _, _ := r.ask("POST", path+"/restore", struct{}{}); status != 404 {
		t.Errorf("a withdrawn strike taken back: got %d, wanted 404", status)
	}
}

func TestOldStrikesGo(t *testing.T) {
	c := newClock()
	r := start(t, Config{Now: c.Now})
	p := r.dial()
	p.expect(typeHello)
	r.Hear(strikeN(1))
	p.expect(typeStrike)
	c.forward(time.Minute)
	r.Hear(strikeN(2))
	p.expect(typeStrike)
	r.tick(c.forward(trailAge - time.Minute))
	if got := p.expect(typeGone).ID; got != strikeN(1).ID {
		t.Errorf("after ten minutes: got %q gone, wanted %q", got, strikeN(1).ID)
	}
	var left struct{ Strikes []Strike }
	r.mustAsk("GET", "/api/strikes", nil, &left)
	if got := ids(left.Strikes); got != "2/1" {
		t.Errorf("after ten minutes: got strikes %s, wanted 2/1", got)
	}
}

// follow keeps a page's trail as webview's documentation says a page should.
type follow struct {
	r       *rig
	strikes map[string]Strike
	missed  int
}

func (f *follow) take(m frame) {
	switch m.Type {
	case typeHello, typeTrail:
		f.strikes = map[string]Strike{}
		for _, s := range m.Strikes {
			f.strikes[s.ID] = s
		}
	case typeStrike:
		if m.Strike.Stage == analysis.Withdrawn {
			delete(f.strikes, m.Strike.ID)
		} else if m.Strike.Revision >= f.strikes[m.Strike.ID].Revision {
			f.strikes[m.Strike.ID] = *m.Strike
		}
	case typeGone:
		delete(f.strikes, m.ID)
	case typeMissed:
		f.missed += m.Count
		f.catchUp(m.After)
	}
}

func (f *follow) catchUp(after *string) {
	path, from := "/api/strikes", ""
	if after != nil {
		path, from = path+"?after="+*after, *after
	}
	var all struct {
		Until   string
		Strikes []Strike
	}
	f.r.mustAsk("GET", path, nil, &all)
	for id := range f.strikes {
		if id > from && id <= all.Until {
			delete(f.strikes, id)
		}
	}
	for _, s := range all.Strikes {
		f.strikes[s.ID] = s
	}
}

func (f *follow) String() string {
	var list []Strike
	for _, s := range f.strikes {
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b Strike) int { return strings.Compare(a.ID, b.ID) })
	return ids(list)
}

// A page that stops reading loses its oldest tellings, nobody waits for it,
// and when it reads again it is told and finds out all it missed.
func TestSlowPageCatchesUp(t *testing.T) {
	patient := func(s *Server) { s.hub.timing.write = patience }
	r := start(t, Config{}, patient)
	slow := r.dial()
	f := &follow{r: r, strikes: map[string]Strike{}}
	f.take(slow.expect(typeHello))
	quick := r.dial()
	quick.expect(typeHello)

	const many = 1000
	for n := range many {
		s := strikeN(n)
		r.Hear(s)
		if n%3 == 0 {
			s.Revision++
			r.Hear(s)
		}
		if n%10 == 9 {
			s.Revision, s.Stage = 7, analysis.Withdrawn
			r.Hear(s)
		}
		if n%10 == 5 {
			if status, _, _ := r.ask("DELETE", "/api/strikes/"+s.ID, nil); status != 204 {
				t.Fatalf("thrown away: got %d, wanted 204", status)
			}
		}
		if n%50 == 0 { // the quick page reads along, whatever the slow one does
			for m := quick.next(); m.Strike == nil || m.Strike.ID != s.ID; m = quick.next() {
			}
		}
	}
	last := strikeN(many)
	r.Hear(last)
	for m := slow.next(); ; m = slow.next() {
		f.take(m)
		if m.Type == typeStrike && m.Strike.ID == last.ID {
			break
		}
	}
	if f.missed == 0 {
		t.Fatal("a page that read nothing of 1000 strikes: told of none missed")
	}
	var all struct{ Strikes []Strike }
	r.mustAsk("GET", "/api/strikes", nil, &all)
	if got, want := f.String(), ids(all.Strikes); got != want {
		t.Errorf("after catching up (%d missed): got\n%s\nwanted\n%s", f.missed, got, want)
	}
	if len(all.Strikes) != many*8/10+1 {
		t.Errorf("got %d strikes on the trail, wanted %d", len(all.Strikes), many*8/10+1)
	}
}

// A page that never reads is cut off; the others are told all.
func TestStuckPageIsCutOff(t *testing.T) {
	r := start(t, Config{}, func(s *Server) { s.hub.timing.write = 50 * time.Millisecond })
	r.dial() // never reads
	p := r.dial()
	p.expect(typeHello)
	n := 0
	eventually(t, "one page left", func() bool {
		r.Hear(strikeN(n))
		if f := p.expect(typeStrike); f.Strike.ID != strikeN(n).ID {
			t.Fatalf("strike %d: told %s", n, f.Strike.ID)
		}
		n++
		return r.clients() == 1
	})
}

func (r *rig) clients() int {
	r.hub.mu.Lock()
	defer r.hub.mu.Unlock()
	return len(r.hub.clients)
}

func TestPings(t *testing.T) {
	r := start(t, Config{}, func(s *Server) {
		s.hub.timing.ping, s.hub.timing.read = 20*time.Millisecond, time.Second
	})
	p := r.dial()
	p.expect(typeHello)
	pings := make(chan struct{}, 1000)
	answer := p.PingHandler()
	p.SetPingHandler(func(data string) error {
		pings <- struct{}{}
		return answer(data)
	})
	p.SetReadDeadline(time.Time{})
	read := make(chan error, 1)
	go func() {
		_, _, err := p.ReadMessage() // answers pings while it waits
		read <- err
	}()
	r.dial().expect(typeHello) // reads no more, so answers no ping
	eventually(t, "two pages are there", func() bool { return r.clients() == 2 })
	eventually(t, "the page that answers no ping is cut off", func() bool { return r.clients() == 1 })
	for range 3 {
		select {
		case <-pings:
		case <-time.After(patience):
			t.Fatal("pings do not come")
		}
	}
	r.stop()
	if err := <-read; !websocket.IsCloseError(err, websocket.CloseGoingAway) {
		t.Errorf("the page that answered pings: closed with %v, wanted 1001 at the end", err)
	}
}

func TestSocketOnlySpeaks(t *testing.T) {
	r := start(t, Config{})
	for name, kind := range map[string]int{"a word": websocket.TextMessage, "bytes": websocket.BinaryMessage} {
		p := r.dial()
		p.expect(typeHello)
		if err := p.WriteMessage(kind, []byte("{}")); err != nil {
			t.Fatal(err)
		}
		if _, err := p.read(); !websocket.IsCloseError(err, websocket.CloseUnsupportedData) {
			t.Errorf("%s: got %v, wanted close 1003", name, err)
		}
	}
	p := r.dial()
	p.expect(typeHello)
	p.WriteMessage(websocket.TextMessage, make([]byte, 1<<20)) // may fail: the server need not read it all
	if _, err := p.read(); err == nil {
		t.Error("a megabyte: the socket stayed open")
	}
	eventually(t, "none of them is left", func() bool { return r.clients() == 0 })
}

func TestTooManyPages(t *testing.T) {
	r := start(t, Config{})
	var first *page
	for range maxClients {
		p := r.dial()
		if first == nil {
			first = p
		}
	}
	eventually(t, "all places taken", func() bool { return r.hub.room("") != nil })
	_, resp, err := websocket.DefaultDialer.Dial("ws://"+r.addr+socketPath, nil)
	if err == nil || resp == nil || resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("page %d: got %v, %v, wanted 503", maxClients+1, resp, err)
	}
	first.Close()
	eventually(t, "a place is free again", func() bool {
		conn, _, err := websocket.DefaultDialer.Dial("ws://"+r.addr+socketPath, nil)
		if err == nil {
			conn.Close()
		}
		return err == nil
	})
}

func TestShutdownSaysGoodbye(t *testing.T) {
	r := start(t, Config{})
	p := r.dial()
	p.expect(typeHello)
	closed := make(chan error, 1)
	go func() {
		_, err := p.read()
		closed <- err
	}()
	r.stop()
	err := <-closed
	var c *websocket.CloseError
	if !errors.As(err, &c) || c.Code != websocket.CloseGoingAway {
		t.Errorf("got %v, wanted close 1001 (going away)", err)
	}
	if _, _, err := websocket.DefaultDialer.Dial("ws://"+r.addr+socketPath, nil); err == nil {
		t.Error("after Shutdown: a page could still connect")
	}
	r.stop() // again: nothing happens
	r.Hear(jar())
	r.Level(listen.Level{})
}

// A page that does not answer the goodbye does not hold up the stop.
func TestShutdownDoesNotWaitForStuckPages(t *testing.T) {
	r := start(t, Config{}, func(s *Server) { s.hub.timing.leave, s.hub.timing.write = time.Millisecond, 10*time.Millisecond })
	r.dial() // reads nothing
	r.stop()
}

func TestHealth(t *testing.T) {
	r := start(t, Config{})
	for code, want := range map[string]int{listen.Opening: 200, listen.Hearing: 200, listen.Silent: 200, listen.Ended: 200, listen.Deaf: 503} {
		r.State(listen.State{Code: code, Words: "Look to the cable."})
		status, got, _ := r.ask("GET", "/healthz", nil)
		if status != want || !strings.Contains(string(got), code) || !strings.Contains(string(got), "cable") {
			t.Errorf("%s: got %d %s, wanted %d with code and words", code, status, got, want)
		}
	}
}

// Strikes, changes and pages all at once: every page ends with what the server
// has. The race detector looks on.
func TestEverybodyAtOnce(t *testing.T) {
	patient := func(s *Server) { s.hub.timing.write = patience }
	r := start(t, Config{EncodeWAV: func(w io.Writer, _ analysis.Rate, s []float32, _ int, _ *analysis.Pitch) error { return nil }}, patient)
	const strikes = 40 // fewer than onShow: a trail message then holds them all
	var pages []*page
	for range 4 {
		pages = append(pages, r.dial())
	}
	var work sync.WaitGroup
	work.Go(func() {
		for n := range strikes {
			s := strikeN(n)
			r.Hear(s)
			s.Revision = 2
			r.Hear(s)
			r.Keep(s, make([]float32, 100))
			r.Level(listen.Level{Peak: 0.1})
			r.Room(listen.Room{Rate: 48000, PSD: make([]float64, 65)})
		}
	})
	work.Go(func() {
		for n := range 50 {
			bend := float64(n)
			if _, err := r.Change(Change{Bend: &bend}); err != nil {
				t.Error(err)
			}
		}
	})
	work.Go(func() {
		for n := range strikes {
			r.ask("POST", "/api/strikes/"+strikeN(n).ID+"/name", map[string]string{"name": "jar"})
			r.ask("GET", "/api/strikes/"+strikeN(n).ID+".wav", nil)
			r.ask("DELETE", "/api/strikes/"+strikeN(n/2).ID, nil)
		}
	})
	work.Wait()
	r.State(listen.State{Code: listen.Ended})
	r.Hear(strikeN(strikes)) // the last message: strikes leave in the order they were told
	var want struct{ Strikes []Strike }
	r.mustAsk("GET", "/api/strikes", nil, &want)
	for i, p := range pages {
		f := &follow{r: r, strikes: map[string]Strike{}}
		for {
			m := p.next()
			f.take(m)
			if m.Type == typeStrike && m.Strike.ID == strikeN(strikes).ID {
				break
			}
		}
		for _, s := range want.Strikes {
			if got := f.strikes[s.ID]; !reflect.DeepEqual(got, s) {
				t.Errorf("page %d: strike %s: got %+v, wanted %+v", i, s.ID, got, s)
			}
		}
		if len(f.strikes) != len(want.Strikes) {
			t.Errorf("page %d: got %s, wanted %s", i, f, ids(want.Strikes))
		}
	}
}
