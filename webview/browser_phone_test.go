package webview_test

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio/wav"
	"ringwell/webview"
)

// quietFirst is the silence a recording begins with, in seconds: the fake
// microphone plays it from when it is opened, before the page is ready to hear.
const quietFirst = 4

// loud is what a recording passes where it is struck: a few times the noise
// before it, a tenth of its peak at most.
const loud = 0.02

// made are the frequencies of the strikes that are made from a formula: what is
// to be heard of them is known without any ear.
var made = []float64{311.13, 523.25, 880, 1318.5}

// played is a phrase of recorded and made strikes with the pauses of a player,
// the samples at which they are struck, and the WAV file it was written to. The
// recordings are those that ring out.
func played(t *testing.T) (rate int, sound []float32, struck []int, path string) {
	t.Helper()
	room := rand.New(rand.NewPCG(4, 2))
	pause := func(seconds float64) { // never digital silence: rooms are not
		for range int(seconds * float64(rate)) {
			sound = append(sound, float32(room.NormFloat64()*1e-4))
		}
	}
	for _, name := range []string{"bell_desk.wav", "marimba_c3.wav"} {
		var recorded []float32
		if rate, recorded = readWAV(t, filepath.Join("../testdata/strikes", name)); sound == nil {
			pause(quietFirst)
		}
		began := len(sound)
		for _, x := range recorded {
			sound = append(sound, x/2)
		}
		struck = append(struck, began+slices.IndexFunc(sound[began:], func(x float32) bool { return math.Abs(float64(x)) > loud }))
		// Cut off, a recording would end in a knock.
		for i, fade := len(sound)-1, min(rate/10, len(sound)-began); i >= len(sound)-fade; i-- {
			sound[i] *= float32(len(sound)-1-i) / float32(fade)
		}
		pause(1)
	}
	for _, f := range made {
		began := len(sound)
		struck = append(struck, began)
		pause(2.5)
		for i := range sound[began:] {
			at := float64(i) / float64(rate)
			for k, ratio := range []float64{1, 2.76, 5.4} { // a free bar's
				sound[began+i] += float32(0.2 / float64(k+1) * math.Exp(-6.9*at*float64(k+1)/1.8) * math.Sin(2*math.Pi*f*ratio*at))
			}
		}
	}
	pause(3) // the last rings out
	path = filepath.Join(t.TempDir(), "played.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := wav.Encode(f, wav.Format{Rate: rate, Channels: 1, Bits: 16}, sound, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	_, sound = readWAV(t, path) // as the file has it: in 16 bits
	return rate, sound, struck, path
}

// readWAV reads a file of one channel.
func readWAV(t *testing.T, path string) (rate int, sound []float32) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := wav.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	buffer := make([]float64, 4096)
	for err == nil {
		var n int
		n, err = r.Read(buffer)
		for _, x := range buffer[:n] {
			sound = append(sound, float32(x))
		}
	}
	if err != io.EOF {
		t.Fatal(err)
	}
	return r.Format().Rate, sound
}

func pitchOf(s analysis.Strike) string {
	if s.Heard == nil {
		return "no pitch"
	}
	return fmt.Sprintf("%.3f Hz ±%.3f c", float64(s.Heard.Frequency), float64(s.Heard.Sigma))
}

// phoneDaemon is a daemon whose ear is whichever phone it is told to take.
type phoneDaemon struct {
	*daemon
	mu     sync.Mutex
	finals []analysis.Strike
	tape   []float32 // what the phone sent, by its place on the sample clock
	stop   context.CancelFunc
	done   chan struct{}
}

func newPhoneDaemon(t *testing.T, set func(*webview.Config)) *phoneDaemon {
	t.Helper()
	p := &phoneDaemon{}
	p.daemon = newDaemonWith(t, "127.0.0.1:0", func(cfg *webview.Config) {
		cfg.Sources = []string{"mic", "demo", webview.FromPhone}
		cfg.ChooseSource = func(to webview.Source) error { go p.choose(to); return nil }
		set(cfg)
	})
	t.Cleanup(p.end)
	return p
}

func (p *phoneDaemon) choose(to webview.Source) {
	p.end()
	if to.Choice != webview.FromPhone {
		return
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	p.mu.Lock()
	p.stop, p.done = stop, done
	p.mu.Unlock()
	defer close(done)
	listen.Attend(ctx, func(ctx context.Context) (listen.Source, error) {
		source, err := p.OpenPhone(ctx, to.Input, func(words string) { p.State(listen.State{Code: listen.Deaf, Words: words}) })
		return taped{source, p}, err
	}, listen.Options{}, nil, p)
}

// taped is a source that keeps what it gives.
type taped struct {
	listen.Source
	p *phoneDaemon
}

func (s taped) Next(ctx context.Context) (analysis.Block, error) {
	b, err := s.Source.Next(ctx)
	if err == nil {
		s.p.mu.Lock()
		for s.p.tape = s.p.tape[:min(int64(len(s.p.tape)), b.Start)]; int64(len(s.p.tape)) < b.Start; {
			s.p.tape = append(s.p.tape, 0)
		}
		for _, x := range b.Samples {
			s.p.tape = append(s.p.tape, float32(x))
		}
		s.p.mu.Unlock()
	}
	return b, err
}

// laid finds where in the tape a sound begins (negative: before the tape did),
// by 512 samples of it from loud on, and how far the two are apart at most from
// there to the end of either.
func (p *phoneDaemon) laid(sound []float32, loud, most int) (start int, apart float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	beside := func(at, from, to int, enough float64) (worst float64) {
		for i := from; i < to && worst < enough; i++ {
			worst = max(worst, math.Abs(float64(p.tape[at+i]-sound[i])))
		}
		return worst
	}
	nearest := math.Inf(1)
	for at := max(-most, -loud); at <= min(most, len(p.tape)-loud-512); at++ {
		if d := beside(at, loud, loud+512, nearest); d < nearest {
			start, nearest = at, d
		}
	}
	return start, beside(start, loud, min(len(sound), len(p.tape)-start), math.Inf(1))
}

func (p *phoneDaemon) end() {
	p.mu.Lock()
	stop, done := p.stop, p.done
	p.stop, p.done = nil, nil
	p.mu.Unlock()
	if stop != nil {
		stop()
		<-done
	}
}

// Hear passes tellings on and keeps the last ones.
func (p *phoneDaemon) Hear(s analysis.Strike) {
	if s.Stage == analysis.Final {
		p.mu.Lock()
		p.finals = append(p.finals, s)
		p.mu.Unlock()
	}
	p.daemon.Hear(s)
}

func (p *phoneDaemon) Level(l listen.Level) { p.Server.Level(l) }

func (p *phoneDaemon) heard() []analysis.Strike {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]analysis.Strike{}, p.finals...)
}

// heardLast reports whether the last strike lies at a frequency.
func (p *phoneDaemon) heardLast(hz float64) bool {
	all := p.heard()
	return len(all) > 0 && all[len(all)-1].Heard != nil && math.Abs(float64(all[len(all)-1].Heard.Frequency.Above(analysis.Hz(hz)))) < 5
}

// fakeMic are Chromium's flags for a microphone that plays a file once.
func fakeMic(path string) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{
		chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", path+"%noloop"),
	}
}

// What a browser's microphone hears comes to the ear as it was, through
// getUserMedia, the worklet and /ear: the sound sample by sample, a strike where
// each was struck, and the made ones within 5 ms and at the pitch they were made
// of.
//
// What the ear makes of the two recordings beyond that is not held here. The
// browser hands on float where the file has 16 bits, and begins at any sample:
// where two partials of a bell are nearly as strong, or a cut recording's end is
// nearly a knock, either may turn the answer. The sound being the same, that
// would be no fault of the way it came.
func TestBrowserPhoneHearsTheFile(t *testing.T) {
	needBrowser(t)
	rate, sound, struck, path := played(t)
	ctx := browser(t, fakeMic(path)...)
	d := newPhoneDaemon(t, func(*webview.Config) {})
	p := open(t, ctx, d.daemon, 390, 844, "hall")
	p.press("#foot", "Ear here") // one tap
	p.until("it says whose ear", `document.querySelector("#strip bdi").textContent === "this device"`)
	p.session("the phone was chosen", func(s webview.Session) bool { return s.Source.Choice == webview.FromPhone && s.Source.Input == "here" })
	p.picture("ear-here")
	deadline := time.Now().Add(time.Duration(float64(len(sound))/float64(rate)*float64(time.Second)) + patience)
	for !d.heardLast(made[len(made)-1]) && time.Now().Before(deadline) {
		p.js(`new Promise((done) => setTimeout(done, 50))`)
	}
	p.key("s")
	p.until("what was sent is told", `document.querySelector("#lent")`)
	p.picture("ear-setup")
	t.Log(p.text("#lent"))
	// A browser's microphone may stumble as it is opened. What it lost then is
	// told; that nothing was lost from the first strike on is held to the sample
	// below.
	if got := p.text("#lent"); !strings.HasSuffix(got, "Lost on the way: nothing.") && !regexp.MustCompile(`Lost on the way: [0-9]{1,2} ms\.$`).MatchString(got) {
		t.Errorf("got %q, wanted nothing lost but for the moment it was opened", got)
	}
	if n := ask[int](p, `document.querySelectorAll("dialog .fault").length`); n != 0 {
		t.Errorf("got %d warnings, wanted none: everything could be switched off", n)
	}
	// Nothing may happen to the sound on the way: it is the file's, but for the
	// rounding between 16 bits and float, which is one step at most.
	start, apart := d.laid(sound, struck[0], quietFirst*rate)
	t.Logf("the browser began to hear %d samples into the file; from the first strike on the two are %.2g apart at most", -start, apart)
	if apart > 1.0/32768 {
		t.Errorf("what came is up to %.2g beside the file, wanted 1/32768 at most", apart)
	}
	got := d.heard()
	for _, s := range got {
		t.Logf("heard: %8.4f s into the file, %s", float64(s.Onset-int64(start))/float64(rate), pitchOf(s))
	}
	if len(got) > 0 && int(got[0].Rate) != rate {
		t.Fatalf("the browser hears at %v Hz, the file has %d: they cannot be laid on each other", got[0].Rate, rate)
	}
	for i, at := range struck {
		beside := func(s analysis.Strike) float64 { return 1000 * float64(s.Onset-int64(start+at)) / float64(rate) }
		m, within := i-(len(struck)-len(made)), 5.0
		if m < 0 {
			within = 25 // a desk bell's button is loud 17 ms before its hammer strikes
		}
		there := slices.IndexFunc(got, func(s analysis.Strike) bool { return math.Abs(beside(s)) <= within })
		if there < 0 {
			t.Errorf("strike %d, %.4f s into the file: nothing was heard within %v ms of it", i, float64(at)/float64(rate), within)
			continue
		}
		s := got[there]
		t.Logf("strike %d: heard %+.3f ms beside where it was struck", i, beside(s))
		if m >= 0 && (s.Heard == nil || math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(made[m])))) > 0.5) {
			t.Errorf("strike %d: heard %s, wanted the %.2f Hz it was made of within 0.5 c", i, pitchOf(s), made[m])
		}
	}
	// Among the made strikes nothing is heard that is none of them.
	first := int64(start+struck[len(struck)-len(made)]) - int64(rate)/200
	if n := len(slices.DeleteFunc(slices.Clone(got), func(s analysis.Strike) bool { return s.Onset < first })); n != len(made) {
		t.Errorf("heard %d strikes from the first made one on, wanted the %d that were made", n, len(made))
	}
	p.js(`document.querySelector("dialog").close()`)
	p.press("#foot", "Stop the ear")
	p.until("the page says that nobody listens", `/link|No phone/.test(document.querySelector("#sub").textContent) || document.querySelector("#answer").textContent.includes("nothing")`)
	p.faultless()
}

// What the browser does to the sound is told plainly where it cannot be
// switched off.
func TestBrowserPhoneWarnsOfAlteredSound(t *testing.T) {
	needBrowser(t)
	_, _, _, path := played(t)
	ctx := browser(t, fakeMic(path)...)
	d := newPhoneDaemon(t, func(*webview.Config) {})
	p := open(t, ctx, d.daemon, 1280, 800, "shop")
	p.js(`void (window.ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices), navigator.mediaDevices.getUserMedia = async (c) => {
		const stream = await ask(c);
		for (const track of stream.getTracks()) track.getSettings = () => ({ sampleRate: 48000, echoCancellation: false, noiseSuppression: true });
		return stream;
	})`)
	p.press("#foot", "Ear here")
	p.until("the strip marks it", `/this device, altered/.test(document.querySelector("#strip").textContent)`)
	p.key("s")
	p.until("the warning", `/does not switch off noise suppression, automatic gain: loudness and how long/.test(document.querySelector("dialog .fault")?.textContent)`)
	p.picture("ear-altered")
	p.faultless()
}

// A line that breaks comes back by itself, and what could not be sent is told.
func TestBrowserPhoneComesBack(t *testing.T) {
	needBrowser(t)
	_, _, _, path := played(t)
	ctx := browser(t, fakeMic(path)...)
	d := newPhoneDaemon(t, func(*webview.Config) {})
	p := open(t, ctx, d.daemon, 1280, 800, "hall")
	p.js(`void (window.ears = [], window.WebSocket = class extends WebSocket { constructor(...a) { super(...a); if (/ear$/.test(a[0])) ears.push(this); } })`)
	p.press("#foot", "Ear here")
	p.until("the ear", `document.querySelector("#strip bdi").textContent === "this device"`)
	p.js(`ears[0].close()`)
	p.until("another line", `ears.length === 2 && document.querySelector("#strip bdi").textContent === "this device"`)
	p.key("s")
	p.until("what was not sent is told", `/Lost on the way: \d+ ms/.test(document.querySelector("#lent")?.textContent)`)
	t.Log(p.text("#lent"))
	p.faultless()
}

// A page that may not hear says so, and why.
func TestBrowserPhoneRefused(t *testing.T) {
	ctx := browser(t, chromedp.Flag("deny-permission-prompts", true))
	d := newPhoneDaemon(t, func(*webview.Config) {})
	p := open(t, ctx, d.daemon, 1280, 800, "hall")
	p.js(`void (navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("denied", "NotAllowedError")))`)
	p.press("#foot", "Ear here")
	p.key("s")
	p.until("it says why", `/does not let this page hear/.test(document.querySelector("dialog .fault")?.textContent)`)
	p.faultless()
}
