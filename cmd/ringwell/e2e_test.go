package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"ringwell/audio/wav"
)

// These tests go the whole way: a virtual microphone, PortAudio, the capture
// child, the daemon, the websocket, a real Chromium.
//
//	sh cmd/rig.sh env RINGWELL_BROWSER=1 go test -run EndToEnd ./cmd/ringwell
func needRigAndBrowser(t testing.TB) {
	t.Helper()
	if os.Getenv("RINGWELL_RIG") != "1" || os.Getenv("RINGWELL_BROWSER") != "1" {
		t.Skip("end to end: cmd/test.sh runs it (RINGWELL_RIG=1 and RINGWELL_BROWSER=1)")
	}
}

// tab is a browser that shows the page.
type tab struct {
	t   testing.TB
	ctx context.Context
}

func browse(t testing.TB, url string) *tab {
	t.Helper()
	alloc, stop := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("lang", "en-GB"),
		chromedp.Flag("accept-lang", "en-GB"),
	)...)
	t.Cleanup(stop)
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(done)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(url+"/")); err != nil {
		t.Fatalf("show the page: %v", err)
	}
	return &tab{t, ctx}
}

// ask evaluates an expression of JavaScript in the page.
func ask[T any](b *tab, expression string) (v T) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`(async () => JSON.stringify(await (`+expression+`)) ?? "null")()`, chromedp.EvalAwaitPromise))
	if err == nil {
		err = json.Unmarshal([]byte(text), &v)
	}
	if err != nil {
		b.t.Fatalf("evaluate %s: got %s: %v", expression, text, err)
	}
	return v
}

// reads waits until what a person reads at a selector matches a pattern.
func (b *tab) reads(selector, pattern string) {
	b.t.Helper()
	text := fmt.Sprintf(`(document.querySelector(%q)?.innerText ?? "").replace(/\s+/g, " ").trim()`, selector)
	ok := ask[bool](b, fmt.Sprintf(`new Promise((done) => {
		const end = performance.now() + %d;
		const look = () => %s.match(%q) ? done(true) : performance.now() > end ? done(false) : setTimeout(look, 20);
		look();
	})`, (patience*3/4).Milliseconds(), text, pattern))
	if !ok {
		b.t.Fatalf("%s reads %q after %v, wanted %q", selector, ask[string](b, text), patience*3/4, pattern)
	}
}

// rig runs a command of cmd/rig.sh.
func rig(t testing.TB, what string) {
	t.Helper()
	if out, err := exec.Command("sh", os.Getenv("RIG"), what).CombinedOutput(); err != nil {
		t.Fatalf("rig %s: %v: %s", what, err, out)
	}
}

// still plays the noise of a still room, -80 dB, until the test ends or the rig
// is unplugged: without it the virtual microphone gives digital silence, which
// the ear rightly takes for a cable that is out.
func still(t testing.TB) {
	t.Helper()
	rng := rand.New(rand.NewPCG(11, 12))
	noise := make([]float32, 48000*120)
	for i := range noise {
		noise[i] = float32(1e-4 * rng.NormFloat64())
	}
	path := filepath.Join(t.TempDir(), "still.wav")
	write(t, path, 48000, noise)
	player := exec.Command("paplay", "-d", "rig", path)
	if err := player.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		player.Process.Kill()
		player.Wait()
	})
}

// play plays a recording of testdata/strikes into the virtual microphone, as it
// is, after half a second of silence and before two.
func play(t testing.TB, name string) {
	t.Helper()
	file, err := os.Open(filepath.Join(root, "testdata", "strikes", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r, err := wav.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	f := r.Format()
	sound := make([]float32, f.Rate/2)
	for piece := make([]float64, 4096*f.Channels); ; {
		n, err := r.Read(piece)
		if err != nil {
			break // io.EOF; testdata is whole
		}
		for i := range n {
			sound = append(sound, float32(piece[i*f.Channels]))
		}
	}
	sound = append(sound, make([]float32, 2*f.Rate)...)
	path := filepath.Join(t.TempDir(), name)
	write(t, path, f.Rate, sound)
	if words, err := exec.Command("paplay", "-d", "rig", path).CombinedOutput(); err != nil {
		t.Fatalf("paplay %s: %v: %s", name, err, words)
	}
}

// The notes are those the recordings' makers named (testdata/strikes/truth.json).
func TestEndToEnd(t *testing.T) {
	needRigAndBrowser(t)
	home(t, "")
	still(t)
	p := launch(t, nil)
	p.says("Listening to ")
	b := browse(t, p.url)
	b.reads("#answer", "^Strike something")

	play(t, "celesta_c4.wav")
	b.reads("#answer", "^C4")
	p.says("C4")
	play(t, "vibes_a3.wav")
	b.reads("#answer", "^A3")
	play(t, "xylo_c4.wav")
	b.reads("#answer", "^C4")
	play(t, "marimba_c3.wav")
	b.reads("#answer", "^C3")

	rig(t, "unplug")
	b.reads("body", "look to its cable|no microphone|not answer")
	rig(t, "plug")
	still(t)
	b.reads("#strip button bdi", "^default$")
	eventually(t, "the microphone is heard again", func() bool {
		return ask[bool](b, `fetch("/healthz").then((r) => r.ok)`)
	})
	play(t, "glock_g6.wav")
	b.reads("#answer", "^G6")

	p.signal(os.Interrupt)
	b.reads("#answer", "^ringwell has stopped")
}

// A machine without any input: page and terminal say what to do, and the demo
// scene shows what will be there.
func TestEndToEndWithoutAnInput(t *testing.T) {
	needRigAndBrowser(t)
	home(t, "")
	none := "ALSA_CONFIG_PATH=" + filepath.Join(os.Getenv("RIG_DIR"), "none.conf")
	p := launch(t, []string{none})
	p.says("No microphone found. Plug one in")
	b := browse(t, p.url)
	b.reads("#strip button bdi", "demo scene")
	b.reads("#answer", "^[A-G]")
	p.signal(os.Interrupt)

	p = launch(t, []string{none}, "--from", "mic")
	p.says("plug one in")
	b = browse(t, p.url)
	b.reads("body", "no microphone found: plug one in")
	p.signal(os.Interrupt)
}
