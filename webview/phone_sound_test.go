package webview

import (
	"context"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	many "golang.org/x/time/rate"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio/wav"
)

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
