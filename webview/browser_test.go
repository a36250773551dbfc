package webview_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	devtools "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

// patience is how long a browser test waits for what must come.
const patience = 20 * time.Second

// needBrowser skips the test by name unless cmd/test.sh runs it.
func needBrowser(t *testing.T) {
	t.Helper()
	if os.Getenv("RINGWELL_BROWSER") != "1" {
		t.Skip("a browser test: cmd/test.sh runs it (RINGWELL_BROWSER=1)")
	}
}

// browser starts Chromium and returns the context of its first tab.
func browser(t *testing.T, flags ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	needBrowser(t)
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"),
		chromedp.Flag("lang", "en-GB"),
		chromedp.Flag("accept-lang", "en-GB"),
	)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), append(options, flags...)...)
	t.Cleanup(stop)
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(done)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("start the browser: %v", err)
	}
	return ctx
}

// daemon is a real server, fed by the test instead of an ear.
type daemon struct {
	*webview.Server
	t    *testing.T
	addr string
	stop func()
}

func newDaemon(t *testing.T, addr string, change ...webview.Change) *daemon {
	t.Helper()
	return newDaemonWith(t, addr, func(*webview.Config) {}, change...)
}

// newDaemonWith starts one whose configuration set has set.
func newDaemonWith(t *testing.T, addr string, set func(*webview.Config), change ...webview.Change) *daemon {
	t.Helper()
	cfg := webview.Config{
		Version: "test", Sources: []string{"mic", "demo"}, Log: slog.New(slog.DiscardHandler),
		EncodeWAV: func(w io.Writer, _ analysis.Rate, sound []float32, _ int, _ *analysis.Pitch) error {
			_, err := fmt.Fprintf(w, "RIFF of %d samples", len(sound))
			return err
		},
	}
	set(&cfg)
	s, err := webview.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(l) }()
	d := &daemon{Server: s, t: t, addr: l.Addr().String()}
	stopped := false
	d.stop = func() {
		if stopped {
			return
		}
		stopped = true
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		if err := s.Shutdown(ctx); err != nil {
			t.Errorf("Shutdown: %v", err)
		}
		if err := <-served; err != nil {
			t.Errorf("Serve: %v", err)
		}
	}
	t.Cleanup(d.stop)
	for _, c := range change {
		if _, err := s.Change(c); err != nil {
			t.Fatal(err)
		}
	}
	d.hears("hearing", "")
	return d
}

func (d *daemon) hears(code, words string) {
	d.State(listen.State{Code: code, Source: "hall pair", Rate: 48000, Words: words})
	d.Server.Level(listen.Level{Peak: 0.2, RMS: 0.05})
}

// watch collects, from the start of a page, what must not happen and what moved.
const watch = `
	window.faults = [];
	addEventListener("error", (e) => faults.push("error: " + e.message));
	addEventListener("unhandledrejection", (e) => faults.push("rejected: " + e.reason));
	document.addEventListener("securitypolicyviolation", (e) => faults.push("policy: " + e.violatedDirective + " " + e.blockedURI));
	window.shifts = [];
	new PerformanceObserver((l) => { for (const e of l.getEntries()) if (!e.hadRecentInput) shifts.push({ value: e.value, what: e.sources.map((s) => (s.node?.id || s.node?.className || s.node?.nodeName) + "") }); }).observe({ type: "layout-shift", buffered: true });
`

// faultless checks that nothing went wrong in the page: no error, and nothing
// its own policy forbids.
func (p *page) faultless() {
	p.t.Helper()
	for _, f := range ask[[]string](p, "faults") {
		p.t.Errorf("in the page: %s", f)
	}
}

// page is a tab that shows the daemon's page.
type page struct {
	t     *testing.T
	ctx   context.Context
	d     *daemon
	width int64 // px: a page that is too wide makes the window of a phone wider
}

// open shows the daemon's page in a tab, w by h px, in a look.
func open(t *testing.T, ctx context.Context, d *daemon, w, h int64, look string) *page {
	t.Helper()
	return openIn(t, ctx, d, w, h, look, "en")
}

func openIn(t *testing.T, ctx context.Context, d *daemon, w, h int64, look, tongue string) *page {
	t.Helper()
	p := &page{t: t, ctx: ctx, d: d}
	_, err := chromedp.Call(ctx, devtools.AddScriptToEvaluateOnNewDocument, devtools.AddScriptToEvaluateOnNewDocumentParams{Source: watch})
	if err != nil {
		t.Fatal(err)
	}
	p.resize(w, h)
	p.media("prefers-reduced-motion", "no-preference")
	p.do(chromedp.Navigate("http://" + d.addr + "/"))
	p.js(fmt.Sprintf(`localStorage.setItem("ringwell.view", JSON.stringify({look: %q, tongue: %q}))`, look, tongue))
	p.do(chromedp.Reload())
	p.until("the page has its hello", `document.querySelector("#strip button bdi")?.textContent === "hall pair"`)
	return p
}

func (p *page) resize(w, h int64) {
	p.t.Helper()
	p.width = w
	if w < 720 {
		p.do(chromedp.EmulateViewport(w, h, chromedp.EmulateTouch, chromedp.EmulateMobile))
		return
	}
	p.do(chromedp.EmulateViewport(w, h))
}

func (p *page) media(feature, value string) {
	p.t.Helper()
	_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: feature, Value: value}},
	})
	if err != nil {
		p.t.Fatalf("emulate %s: %s: %v", feature, value, err)
	}
}

func (p *page) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

// js evaluates an expression, waiting for it if it is a promise, and drops
// what it gives.
func (p *page) js(expression string) { p.t.Helper(); ask[any](p, expression) }

// ask evaluates an expression, waiting for it if it is a promise.
func ask[T any](p *page, expression string) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`(async () => JSON.stringify(await (`+expression+`)) ?? "null")()`, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("evaluate %s: %v", expression, err)
	}
	var v T
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		p.t.Fatalf("evaluate %s: got %s: %v", expression, text, err)
	}
	return v
}

// until waits, a frame at a time, until a condition holds.
func (p *page) until(what, condition string) {
	p.t.Helper()
	ok := ask[bool](p, fmt.Sprintf(`new Promise((done) => {
		const end = performance.now() + %d;
		const look = () => (%s) ? done(true) : performance.now() > end ? done(false) : setTimeout(look, 10);
		look();
	})`, (patience-5*time.Second).Milliseconds(), condition))
	if !ok {
		p.t.Fatalf("%s: not so after %v; the page says %q, under it %q", what, patience, p.text("#answer"), p.text("#sub"))
	}
}

// turns waits until what the daemon holds is so, and returns it.
func turns[T any](p *page, what string, now func() T, ok func(T) bool) T {
	p.t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for end := time.After(patience); ; {
		held := now()
		if ok(held) {
			return held
		}
		select {
		case <-tick.C:
		case <-end:
			text, _ := json.Marshal(held) // it has pointers
			p.t.Fatalf("%s: not so after %v: the daemon has %s", what, patience, text)
		}
	}
}

// text is what a person reads at a selector.
func (p *page) text(selector string) string {
	p.t.Helper()
	return ask[string](p, fmt.Sprintf(`(document.querySelector(%q)?.innerText ?? "nothing at it").replace(/\s+/g, " ").trim()`, selector))
}

// says waits until the answer reads so.
func (p *page) says(answer string) {
	p.t.Helper()
	p.until("the answer says "+answer, fmt.Sprintf(`document.querySelector("#answer").textContent.replace(/\s+/g, " ").trim() === %q`, answer))
}

func (p *page) key(keys string) { p.t.Helper(); p.do(chromedp.KeyEvent(keys)) }

// picture writes what the page looks like to $RINGWELL_LOOK/NAME.png, for
// people; without that variable it does nothing.
func (p *page) picture(name string) {
	p.t.Helper()
	dir := os.Getenv("RINGWELL_LOOK")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
