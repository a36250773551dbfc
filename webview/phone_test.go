package webview

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	many "golang.org/x/time/rate"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
	"ringwell/audio/wav"
)

const (
	earFrame = 960 // samples of a frame, 20 ms at 48 kHz
)

// appendFrame writes a frame as a page does.
func appendFrame(dst []byte, kind byte, sequence uint32, clock uint64, sound []float64) []byte {
	dst = append(dst, frameVersion, kind)
	dst = binary.LittleEndian.AppendUint16(dst, uint16(len(sound)))
	dst = binary.LittleEndian.AppendUint32(dst, sequence)
	dst = binary.LittleEndian.AppendUint64(dst, clock)
	for _, x := range sound {
		if kind == frameInt16 {
			dst = binary.LittleEndian.AppendUint16(dst, uint16(int16(math.Round(x*32768))))
		} else {
			dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(float32(x)))
		}
	}
	return dst
}

func helloText(token string, rate float64, settings string) string {
	return `{"v":1,"type":"hello","token":"` + token + `","rate_hz":` + jsonNumber(rate) + `,"settings":` + settings + `}`
}

func jsonNumber(x float64) string {
	b, _ := json.Marshal(x)
	return string(b)
}

const clean = `{"echoCancellation":false,"noiseSuppression":false,"autoGainControl":false,"channelCount":1}`

// lend opens /ear on a paired device and waits until it is welcome.
func lend(t *testing.T, b *browser, rate float64) *websocket.Conn {
	t.Helper()
	c, resp, err := b.socket(earPath)
	if err != nil {
		t.Fatalf("%s: %v %v", earPath, err, resp)
	}
	t.Cleanup(func() { c.Close() })
	welcome(t, c, helloText(b.token(), rate, clean))
	return c
}

// lendHere opens /ear as a page on this machine does.
func (r *rig) lendHere(t testing.TB, hello string) *websocket.Conn {
	t.Helper()
	c, resp, err := websocket.DefaultDialer.Dial("ws://"+r.addr+earPath, http.Header{"Origin": {"http://" + r.addr}})
	if err != nil {
		t.Fatalf("%s: %v %v", earPath, err, resp)
	}
	t.Cleanup(func() { c.Close() })
	welcome(t, c, hello)
	return c
}

func welcome(t testing.TB, c *websocket.Conn, hello string) earTold {
	t.Helper()
	if err := c.WriteMessage(websocket.TextMessage, []byte(hello)); err != nil {
		t.Fatal(err)
	}
	return toldNext(t, c)
}

func toldNext(t testing.TB, c *websocket.Conn) (told earTold) {
	t.Helper()
	c.SetReadDeadline(time.Now().Add(patience))
	_, data, err := c.ReadMessage()
	if err == nil {
		err = json.Unmarshal(data, &told)
	}
	if err != nil || told.Type != typeEar {
		t.Fatalf("told on %s: got %s, %v", earPath, data, err)
	}
	return told
}

// phoneRig has a page here whose microphone is the ear.
func phoneRig(t *testing.T, rate float64, tune ...func(*Server)) (*rig, *websocket.Conn, *PhoneSource) {
	t.Helper()
	r := start(t, Config{Sources: []string{"mic", FromPhone}}, tune...)
	c := r.lendHere(t, helloText(r.token(caller{here: true}), rate, clean))
	s, err := r.OpenPhone(t.Context(), "", func(words string) { t.Errorf("it waits: %s", words) })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return r, c, s
}

func send(t testing.TB, c *websocket.Conn, message []byte) {
	t.Helper()
	if err := c.WriteMessage(websocket.BinaryMessage, message); err != nil {
		t.Fatal(err)
	}
}

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

// next waits for sound or an error.
func next(ctx context.Context, s listen.Source) (analysis.Block, error) {
	for {
		b, err := s.Next(ctx)
		if err != nil || len(b.Samples) > 0 {
			return b, err
		}
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

// recording reads a mono recording.
func recording(t *testing.T, name string) (analysis.Rate, []float64) {
	t.Helper()
	f, err := os.Open(filepath.Join("../testdata/strikes", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := wav.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var sound []float64
	piece := make([]float64, 4096*r.Format().Channels)
	for {
		n, err := r.Read(piece)
		for i := 0; i < n; i += r.Format().Channels {
			sound = append(sound, piece[i])
		}
		if err == io.EOF {
			return analysis.Rate(r.Format().Rate), sound
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// heard runs an ear over a source until it has given so many samples, lost
// ones counted.
func heard(t *testing.T, s listen.Source, samples int64) (finals []analysis.Strike, lost int64) {
	t.Helper()
	ear := listen.New(s.Rate(), listen.Options{})
	take := func(told []analysis.Strike) {
		for _, x := range told {
			if x.Stage == analysis.Final {
				finals = append(finals, x)
			}
		}
	}
	for at := int64(0); at < samples; {
		b, err := next(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		lost += b.Lost
		take(ear.Step(b))
		at = b.Start + int64(len(b.Samples))
	}
	take(ear.Flush())
	return finals, lost
}

// pour sends sound in frames of 20 ms, those of drop left out, never faster
// than the queue takes it. Frames come as over a Wi-Fi that holds its breath:
// some wait, and then all at once.
func pour(t *testing.T, c *websocket.Conn, p *phone, s *PhoneSource, sound []float64, bursts *rand.Rand, drop func(frame int) bool) {
	c.SetReadDeadline(time.Time{})
	go func() { // a browser answers pings, whatever its page does
		for {
			if _, _, err := c.NextReader(); err != nil {
				return
			}
		}
	}()
	var waiting [][]byte
	burst, sent := 1, int64(0)
	for n, at := 0, 0; at < len(sound); n, at = n+1, at+earFrame {
		end := min(at+earFrame, len(sound))
		if !drop(n) {
			waiting = append(waiting, appendFrame(nil, frameFloat32, uint32(n), uint64(at), sound[at:end]))
		}
		if len(waiting) < burst && end < len(sound) {
			continue
		}
		eventually(t, "the ear keeps up", func() bool {
			return p.tallies.frames.Load() == sent && len(s.full) <= phoneQueue/2
		})
		sent += int64(len(waiting))
		for _, m := range waiting {
			if err := c.WriteMessage(websocket.BinaryMessage, m); err != nil {
				t.Errorf("the link broke: %v", err)
				return
			}
		}
		waiting, burst = waiting[:0], 1+bursts.IntN(25) // up to 500 ms
	}
}

// fileSource gives a recording to an ear as a file does.
type fileSource struct {
	listen.Source
	rate  analysis.Rate
	sound []float64
	at    int
}

func (f *fileSource) Rate() analysis.Rate { return f.rate }

func (f *fileSource) Next(context.Context) (analysis.Block, error) {
	end := min(f.at+1024, len(f.sound))
	b := analysis.Block{Start: int64(f.at), Samples: f.sound[f.at:end]}
	f.at = end
	return b, nil
}

// phrase is several recorded strikes one after another, at one rate, with the
// pauses a player makes.
func phrase(t *testing.T) (rate analysis.Rate, sound []float64) {
	for _, name := range []string{"vibes_a3.wav", "marimba_c3.wav", "glock_c6.wav", "xylo_c4.wav", "vibes_fs4.wav"} {
		at, s := recording(t, name)
		if rate == 0 {
			rate = at
		}
		if at != rate {
			t.Fatalf("%s: at %v Hz, the others at %v Hz", name, at, rate)
		}
		sound = append(sound, make([]float64, int(rate))...)
		sound = append(sound, s...)
	}
	sound = append(sound, make([]float64, int(rate)/2)...)
	return rate, sound[:len(sound)/earFrame*earFrame] // whole frames
}

// struck is bars struck every two seconds in a quiet room, from a formula: the
// ring of each is over before the next. Samples are what float32 can say.
func struck(bars int) (rate analysis.Rate, sound []float64) {
	rate = 48000
	sound = make([]float64, 2*(bars+1)*int(rate))
	room := rand.New(rand.NewPCG(1, 1)) // 80 dB below full scale
	for i := range sound {
		sound[i] = 1e-4 * room.NormFloat64()
	}
	for n := range bars {
		at := int(rate) + 2*int(rate)*n
		for k, ratio := range []float64{1, 2.76, 5.40} { // a free bar's: Fletcher and Rossing, The Physics of Musical Instruments, table 2.1 (from memory, unchecked)
			ω := 2 * math.Pi * ratio * (300 + 71*float64(n%11)) / float64(rate)
			for i := range int(rate) {
				x := float64(i) / float64(rate)
				sound[at+i] += 0.3 / float64(k+1) * math.Exp(-x/0.12*float64(k+1)) * math.Sin(ω*float64(i))
			}
		}
	}
	for i, x := range sound {
		sound[i] = float64(float32(x))
	}
	return rate, sound
}

// through sends sound through /ear in bursts, the frames of gone left out, and
// returns what the ear hears. It holds every count of the loss against gone.
func through(t *testing.T, rate analysis.Rate, sound []float64, gone map[int]bool) []analysis.Strike {
	t.Helper()
	// Minutes go by in seconds here, which would otherwise be a flood.
	r, c, s := phoneRig(t, float64(rate), func(s *Server) { s.earTiming.bytes = many.Inf })
	p, _ := r.phones.find("")
	go pour(t, c, p, s, sound, rand.New(rand.NewPCG(4, 2)), func(n int) bool { return gone[n] })
	got, lost := heard(t, s, int64(len(sound)))
	frames, samples := int64(len(gone)), int64(len(gone)*earFrame)
	if lost != samples {
		t.Errorf("told as lost: %d samples, wanted %d, those of %d frames", lost, samples, frames)
	}
	if told := p.told(); told.Missing != frames || told.Lost != samples || told.Frames != int64(len(sound)/earFrame)-frames || told.Dropped != 0 || told.Late != 0 {
		t.Errorf("the phone is told %+v, wanted %d frames missing of %d", told, frames, len(sound)/earFrame)
	}
	return got
}

// sameStrike finds w among got: its onset within 5 ms, its pitch within half a
// cent.
func sameStrike(t *testing.T, rate analysis.Rate, w analysis.Strike, got []analysis.Strike) {
	t.Helper()
	at := rate.Seconds(w.Onset)
	i := slices.IndexFunc(got, func(g analysis.Strike) bool { return math.Abs(rate.Seconds(g.Onset-w.Onset)) <= 0.005 })
	if i < 0 {
		t.Errorf("the strike at %.3f s is not heard", at)
		return
	}
	g := got[i]
	if (g.Heard == nil) != (w.Heard == nil) || g.Heard != nil && math.Abs(float64(g.Heard.Frequency.Above(w.Heard.Frequency))) > 0.5 {
		t.Errorf("the strike at %.3f s: heard %+v, wanted %+v within 0.5 cents", at, g.Heard, w.Heard)
	}
}

func TestRecordingThroughThePhone(t *testing.T) {
	rate, sound := phrase(t)
	want, _ := heard(t, &fileSource{rate: rate, sound: sound}, int64(len(sound)))
	if len(want) < 5 {
		t.Fatalf("the file itself: got %d strikes, wanted 5 or more", len(want))
	}
	got := through(t, rate, sound, nil)
	if len(got) != len(want) {
		t.Errorf("got %d strikes, wanted the file's %d", len(got), len(want))
	}
	for _, w := range want {
		sameStrike(t, rate, w, got)
	}
}

// With 2 % of the frames gone, in runs as a Wi-Fi loses them, every lost sample
// is counted and the strikes that no gap touches are right. With RINGWELL_LONG=1
// it is ten minutes of sound, else half a minute.
func TestStrikesBetweenGapsAreRight(t *testing.T) {
	bars := 11
	if os.Getenv("RINGWELL_LONG") == "1" {
		bars = 299
	}
	rate, sound := struck(bars)
	frames := len(sound) / earFrame
	random := rand.New(rand.NewPCG(4, 2))
	gone := map[int]bool{}
	for len(gone) < frames/50 {
		at := 1 + random.IntN(frames-8) // never the first or the last
		for n := range 4 {
			gone[at+n] = true
		}
	}
	want, _ := heard(t, &fileSource{rate: rate, sound: sound}, int64(len(sound)))
	if len(want) != bars {
		t.Fatalf("without gaps: got %d strikes, wanted %d", len(want), bars)
	}
	got := through(t, rate, sound, gone)
	compared := 0
	for _, w := range want {
		whole := true
		for n := range gone {
			whole = whole && (int64((n+1)*earFrame) < w.From || int64(n*earFrame) > w.To)
		}
		if whole {
			compared++
			sameStrike(t, rate, w, got)
		}
	}
	if compared < bars/2 {
		t.Errorf("only %d of %d strikes lie between the gaps: nothing is proved", compared, bars)
	}
	t.Logf("%d of %d frames gone, %d of %d strikes between the gaps", len(gone), frames, compared, len(want))
}

// Where the queue is full, what has no room is counted as lost, and no more.
func TestQueueThatIsFullLosesCountedSound(t *testing.T) {
	r, c, s := phoneRig(t, 48000)
	const sent = phoneQueue + 50
	for n := range sent {
		send(t, c, appendFrame(nil, frameInt16, uint32(n), uint64(n*100), make([]float64, 100)))
	}
	p, _ := r.phones.find("")
	eventually(t, "all have come", func() bool { return p.tallies.frames.Load() == sent })
	var got, lost int64
	for range phoneQueue {
		b, err := next(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		got, lost = got+int64(len(b.Samples)), lost+b.Lost
	}
	send(t, c, appendFrame(nil, frameInt16, sent, sent*100, make([]float64, 100)))
	b, err := next(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	if lost += b.Lost; lost != 50*100 || s.dropped.Load() != 50 || b.Start != sent*100 {
		t.Errorf("got %d samples lost in %d frames, and the next at %d; wanted 5000 in 50, at %d", lost, s.dropped.Load(), b.Start, sent*100)
	}
}

// Frames out of turn are counted and left out; the clock never goes back.
func TestLateFramesAreLeftOut(t *testing.T) {
	r, c, s := phoneRig(t, 48000)
	for _, n := range []int{0, 1, 4, 2, 4, 5} {
		send(t, c, appendFrame(nil, frameInt16, uint32(n), uint64(n*100), make([]float64, 100)))
	}
	p, _ := r.phones.find("")
	eventually(t, "all have come", func() bool { return p.tallies.frames.Load()+p.tallies.late.Load() == 6 })
	if told := p.told(); told.Late != 2 || told.Missing != 2 || told.Lost != 200 {
		t.Errorf("told %+v, wanted 2 late, 2 missing and 200 samples lost", told)
	}
	var starts []int64
	for range 4 {
		b, err := next(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		starts = append(starts, b.Start)
	}
	if !slices.Equal(starts, []int64{0, 100, 400, 500}) {
		t.Errorf("blocks at %v, wanted 0 100 400 500", starts)
	}
}

func TestTakingFramesAllocatesNothing(t *testing.T) {
	p := &phone{sequence: -1, rate: 48000, ended: make(chan struct{})}
	s := newPhoneSource("x", 48000, func() {})
	p.source = s
	message := appendFrame(nil, frameFloat32, 0, 0, make([]float64, earFrame))
	n := uint64(0)
	ctx := t.Context()
	if got := testing.AllocsPerRun(1000, func() {
		binary.LittleEndian.PutUint32(message[4:], uint32(n))
		binary.LittleEndian.PutUint64(message[8:], n*earFrame)
		n++
		if err := p.take(message); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}); got != 0 {
		t.Errorf("a frame from the socket to the ear: %v allocations, wanted none", got)
	}
}

func BenchmarkPhoneFrame(b *testing.B) {
	p := &phone{sequence: -1, rate: 48000, ended: make(chan struct{})}
	s := newPhoneSource("x", 48000, func() {})
	p.source = s
	message := appendFrame(nil, frameFloat32, 0, 0, make([]float64, earFrame))
	ctx := b.Context()
	for n := uint64(0); b.Loop(); n++ {
		binary.LittleEndian.PutUint32(message[4:], uint32(n))
		binary.LittleEndian.PutUint64(message[8:], n*earFrame)
		p.take(message)
		s.Next(ctx)
	}
}

func FuzzFrame(f *testing.F) {
	f.Add(appendFrame(nil, frameFloat32, 3, 960, []float64{0.5, -0.25}))
	f.Add(appendFrame(nil, frameInt16, 3, 960, []float64{0.5, -0.25}))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, message []byte) {
		g, err := parseFrame(message)
		if err != nil {
			return
		}
		dst := make([]float64, g.count)
		if err := g.decode(dst); err != nil {
			return
		}
		for _, x := range dst {
			if !(math.Abs(x) <= loudest) {
				t.Errorf("%x: got a sample of %v, wanted at most %v", message, x, loudest)
			}
		}
		if again := appendFrame(nil, g.kind, g.sequence, g.clock, dst); string(again) != string(message) {
			t.Errorf("%x: written again it is %x", message, again)
		}
	})
}
