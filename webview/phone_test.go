package webview

import (
	"context"
	"errors"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

func TestPhoneKeepsTheContractOfASource(t *testing.T) {
	sound := make([]float64, 10*earFrame)
	for i := range sound {
		sound[i] = 0.9 * math.Sin(float64(i)/7)
	}
	for name, c := range map[string]struct {
		kind      byte
		drop      int // the frame that never comes
		lost      int64
		tolerance float64
	}{
		"float32":               {frameFloat32, -1, 0, 1e-7},
		"int16":                 {frameInt16, -1, 0, 1.0 / 32768},
		"a frame that is gone":  {frameFloat32, 9, earFrame, 1e-7},
		"the sixth one is gone": {frameInt16, 6, earFrame, 1.0 / 32768},
	} {
		t.Run(name, func(t *testing.T) {
			want := slices.Clone(sound)
			if c.drop >= 0 {
				want = slices.Delete(want, c.drop*earFrame, (c.drop+1)*earFrame)
			}
			// One frame more follows, so that a gap before the end is seen.
			want = append(want, sound[:earFrame]...)
			sourcetest.Run(t, func(t *testing.T) listen.Source {
				_, conn, s := phoneRig(t, 48000)
				clock := uint64(7_000_000) // capture began long ago
				for n := range 11 {
					if n != c.drop {
						from := n % 10 * earFrame
						send(t, conn, appendFrame(nil, c.kind, uint32(n), clock, sound[from:from+earFrame]))
					}
					clock += earFrame
				}
				return s
			}, sourcetest.Expectations{
				Name: "this computer's browser", Rate: 48000, Live: true,
				Samples: -1, Enough: int64(len(want)), Lost: c.lost, Sound: want, Tolerance: c.tolerance,
			})
		})
	}
}

func TestPhoneThatIsNotTheEarIsNotQueued(t *testing.T) {
	r := start(t, Config{})
	c := r.lendHere(t, helloText(r.token(caller{here: true}), 44100, `{"echoCancellation":true}`))
	var last earTold
	send(t, c, appendFrame(nil, frameInt16, 0, 0, make([]float64, 441)))
	for last.Frames == 0 {
		last = toldNext(t, c)
	}
	if last.InUse || last.ID != "here" || !strings.Contains(last.Words, "echo cancellation, noise suppression and automatic gain") {
		t.Errorf("told %+v, wanted it not in use and what its browser does to the sound", last)
	}
	p := r.dial()
	if f := p.expect(typeHello); len(f.Phones) != 1 || f.Phones[0].InUse || !f.Phones[0].Processed || f.Phones[0].SampleRate != 44100 {
		t.Errorf("hello: got phones %+v", f.Phones)
	}
	s, err := r.OpenPhone(t.Context(), "here", nil)
	if err != nil {
		t.Fatal(err)
	}
	if f := p.expect(typePhones); !f.Phones[0].InUse {
		t.Errorf("once it is the ear: got %+v", f.Phones)
	}
	s.Close()
	if f := p.expect(typePhones); f.Phones[0].InUse {
		t.Errorf("once it is let go: got %+v", f.Phones)
	}
	c.Close()
	if f := p.expect(typePhones); len(f.Phones) != 0 {
		t.Errorf("once it has gone: got %+v", f.Phones)
	}
}

// What breaks the protocol ends the connection with the right code and is
// counted; the ear goes on waiting, and takes up the next connection.
func TestBrokenFramesEndTheLink(t *testing.T) {
	r := start(t, Config{})
	good := appendFrame(nil, frameFloat32, 0, 0, make([]float64, 4))
	with := func(at int, b ...byte) []byte {
		f := slices.Clone(good)
		copy(f[at:], b)
		return f
	}
	hello := helloText(r.token(caller{here: true}), 48000, clean)
	for name, c := range map[string]struct {
		hello  string
		kind   int
		data   []byte
		want   int
		reason string
	}{
		"another version":      {hello, websocket.BinaryMessage, with(0, 2), websocket.CloseInvalidFramePayloadData, byFrame},
		"an unknown kind":      {hello, websocket.BinaryMessage, with(1, 9), websocket.CloseInvalidFramePayloadData, byFrame},
		"no samples":           {hello, websocket.BinaryMessage, with(2, 0, 0)[:frameHeader], websocket.CloseInvalidFramePayloadData, byFrame},
		"fewer than it says":   {hello, websocket.BinaryMessage, good[:len(good)-1], websocket.CloseInvalidFramePayloadData, byFrame},
		"more than it says":    {hello, websocket.BinaryMessage, append(slices.Clone(good), 0), websocket.CloseInvalidFramePayloadData, byFrame},
		"half a header":        {hello, websocket.BinaryMessage, good[:7], websocket.CloseInvalidFramePayloadData, byFrame},
		"nothing":              {hello, websocket.BinaryMessage, nil, websocket.CloseInvalidFramePayloadData, byFrame},
		"a clock without end":  {hello, websocket.BinaryMessage, with(8, 255, 255, 255, 255, 255, 255, 255, 255), websocket.CloseInvalidFramePayloadData, byFrame},
		"NaN":                  {hello, websocket.BinaryMessage, with(16, 0, 0, 0xc0, 0x7f), websocket.CloseInvalidFramePayloadData, byFrame},
		"infinity":             {hello, websocket.BinaryMessage, with(16, 0, 0, 0x80, 0x7f), websocket.CloseInvalidFramePayloadData, byFrame},
		"far too loud":         {hello, websocket.BinaryMessage, with(16, 0, 0, 0, 0x70), websocket.CloseInvalidFramePayloadData, byFrame},
		"text":                 {hello, websocket.TextMessage, []byte("hello"), websocket.CloseUnsupportedData, byFrame},
		"a frame too long":     {hello, websocket.BinaryMessage, make([]byte, frameLongest+1), websocket.CloseMessageTooBig, byFrame},
		"a hello too long":     {`{"type":"` + strings.Repeat("x", longestHello) + `"}`, 0, nil, websocket.CloseMessageTooBig, ""},
		"no hello":             {"sound", 0, nil, websocket.CloseUnsupportedData, byFrame},
		"a hello of version 2": {strings.Replace(hello, `"v":1`, `"v":2`, 1), 0, nil, websocket.CloseUnsupportedData, byFrame},
		"a foreign token":      {helloText("AAAA", 48000, clean), 0, nil, websocket.ClosePolicyViolation, byToken},
		"a rate of nothing":    {strings.Replace(hello, "48000", "0", 1), 0, nil, websocket.CloseInvalidFramePayloadData, byFrame},
		"a rate past hearing":  {strings.Replace(hello, "48000", "1e9", 1), 0, nil, websocket.CloseInvalidFramePayloadData, byFrame},
	} {
		t.Run(name, func(t *testing.T) {
			before := r.tally.all()[c.reason]
			conn, _, err := websocket.DefaultDialer.Dial("ws://"+r.addr+earPath, nil)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			if err := conn.WriteMessage(websocket.TextMessage, []byte(c.hello)); err != nil {
				t.Fatal(err)
			}
			if c.kind != 0 {
				eventually(t, "it is welcome", func() bool { p, _ := r.phones.find("here"); return p != nil })
				s, err := r.OpenPhone(t.Context(), "", nil)
				if err != nil {
					t.Fatal(err)
				}
				defer s.Close()
				if err := conn.WriteMessage(c.kind, c.data); err != nil {
					t.Fatal(err)
				}
			}
			conn.SetReadDeadline(time.Now().Add(patience))
			for err = nil; err == nil; {
				_, _, err = conn.ReadMessage()
			}
			if !websocket.IsCloseError(err, c.want) {
				t.Errorf("got %v, wanted close %d", err, c.want)
			}
			if c.reason != "" {
				eventually(t, "it is counted", func() bool { return r.tally.all()[c.reason] > before })
			}
			eventually(t, "it has gone", func() bool { p, _ := r.phones.find(""); return p == nil })
		})
	}
	r.lendHere(t, hello) // the next one is welcome
}

// Sound that a sender pours in faster than it can sound ends the link.
func TestFloodEndsTheLink(t *testing.T) {
	r := start(t, Config{})
	c := r.lendHere(t, helloText(r.token(caller{here: true}), 48000, clean))
	data := appendFrame(nil, frameFloat32, 0, 0, make([]float64, frameSamples))
	go func() {
		for n := 0; n < 2*earBytesBurst/len(data); n++ {
			if c.WriteMessage(websocket.BinaryMessage, data) != nil {
				return
			}
		}
	}()
	eventually(t, "it is counted", func() bool { return r.tally.all()[byPressure] == 1 })
}

func TestLostLinkMendsItself(t *testing.T) {
	r, c, s := phoneRig(t, 48000)
	send(t, c, appendFrame(nil, frameFloat32, 0, 0, make([]float64, 480)))
	b, err := next(t.Context(), s)
	if err != nil || len(b.Samples) != 480 {
		t.Fatalf("got %d samples, %v", len(b.Samples), err)
	}
	c.Close()
	if _, err := next(t.Context(), s); err == nil || !strings.Contains(err.Error(), "lost") {
		t.Errorf("the link is lost: got %v", err)
	}
	s.Close()
	waits := make(chan string, 2)
	opened := make(chan *PhoneSource, 1)
	go func() {
		s, _ := r.OpenPhone(t.Context(), "here", func(words string) { waits <- words })
		opened <- s
	}()
	if words := <-waits; !strings.Contains(words, "Open the page there") {
		t.Errorf("while it waits: %q", words)
	}
	again := r.lendHere(t, helloText(r.token(caller{here: true}), 48000, clean))
	s = <-opened
	defer s.Close()
	send(t, again, appendFrame(nil, frameFloat32, 0, 123, make([]float64, 480)))
	if b, err := next(t.Context(), s); err != nil || len(b.Samples) != 480 || b.Start != 0 || b.Lost != 0 {
		t.Errorf("once it is back: got %d samples at %d, %d lost, %v", len(b.Samples), b.Start, b.Lost, err)
	}
	// Another window of the same browser takes over.
	third := r.lendHere(t, helloText(r.token(caller{here: true}), 48000, clean))
	again.SetReadDeadline(time.Now().Add(patience))
	for err = nil; err == nil; {
		_, _, err = again.ReadMessage()
	}
	if !websocket.IsCloseError(err, closeReplaced) {
		t.Errorf("the first window: got %v, wanted close %d", err, closeReplaced)
	}
	third.Close()
	// Giving up while it waits.
	ctx, stop := context.WithCancel(t.Context())
	eventually(t, "it has gone", func() bool { p, _ := r.phones.find(""); return p == nil })
	if _, err := r.OpenPhone(ctx, "", func(string) { stop() }); !errors.Is(err, context.Canceled) {
		t.Errorf("given up: got %v", err)
	}
}

func TestChoosingAPhone(t *testing.T) {
	var chosen []Source
	r := startShared(t, Config{ChooseSource: func(s Source) error { chosen = append(chosen, s); return nil }})
	if status, _, _ := r.ask("POST", "/api/source", Source{Choice: FromPhone}); status != http.StatusConflict {
		t.Errorf("no phone is there: got %d, wanted 409", status)
	}
	first, one := r.paired(t, "one")
	second, two := r.paired(t, "two")
	lend(t, first, 48000)
	lend(t, second, 44100)
	eventually(t, "both are there", func() bool { return len(r.phones.list()) == 2 })
	if status, text, _ := first.ask("POST", "/api/source", first.token(), `{"choice":"phone"}`); status != http.StatusOK {
		t.Errorf("a phone takes the ear: got %d %s", status, text)
	}
	for input, want := range map[string]int{"": http.StatusOK, one.ID: http.StatusOK, "nobody": http.StatusConflict, "here": http.StatusConflict} {
		if status, _, _ := r.ask("POST", "/api/source", Source{FromPhone, input}); status != want {
			t.Errorf("the phone %q: got %d, wanted %d", input, status, want)
		}
	}
	var inputs []string
	for _, s := range chosen {
		inputs = append(inputs, s.Input)
	}
	slices.Sort(inputs)
	want := []string{one.ID, one.ID, two.ID} // its own; the one asked for; the one that joined last
	slices.Sort(want)
	if !slices.Equal(inputs, want) {
		t.Errorf("chosen: got %v, wanted %v", inputs, want)
	}
}
