package webview_test

import (
	"testing"
)

// What rings is drawn a frame at a time; when nothing changes, nothing is drawn.
func TestBrowserRestsWhenNothingChanges(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.says("Strike something")
	const count = `new Promise((done) => {
		let n = 0, ask = requestAnimationFrame;
		window.requestAnimationFrame = (f) => ask((now) => { n++; f(now); });
		setTimeout(() => { window.requestAnimationFrame = ask; done(n); }, 1000);
	})`
	p.until("the page has its face", `document.fonts.status === "loaded"`)
	p.js(count) // what the start still draws
	if n := ask[int](p, count); n > 2 {
		t.Errorf("while nothing is struck: got %d drawings in a second, wanted at most 2", n)
	}
	var m strikes
	s := m.flowerpot()
	d.Hear(s)
	p.says("A4, 12 c high ±0.3")
	p.until("all has rung out", `[...document.querySelectorAll("#rail .stone .r-ringing, #rail .stone > g > .r-core")].every((e) => e.getAttribute("visibility") === "hidden")`)
	if n := ask[int](p, count); n > 2 {
		t.Errorf("after all has rung out: got %d drawings in a second, wanted at most 2", n)
	}
	p.faultless()
}

// Eight partials that ring are drawn in every frame the browser gives.
func TestBrowserRingsSmoothly(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	d.Hear(m.ringing())
	p.until("eight stones", `document.querySelectorAll("#rail .stone").length === 8`)
	got := ask[struct{ Frames, Cost float64 }](p, `new Promise((done) => {
		let frames = 0, cost = 0, ask = requestAnimationFrame;
		window.requestAnimationFrame = (f) => ask((now) => { const t = performance.now(); f(now); cost += performance.now() - t; frames++; });
		setTimeout(() => { window.requestAnimationFrame = ask; done({ Frames: frames, Cost: cost / frames }); }, 2000);
	})`)
	t.Logf("%.0f frames a second, %.2f ms of script each", got.Frames/2, got.Cost)
	if got.Frames < 2 {
		t.Errorf("while eight partials ring: got %.0f drawings in two seconds, wanted one a frame", got.Frames)
	}
	thick := `[...document.querySelectorAll("#rail pattern rect")].map((r) => +r.getAttribute("height")).reduce((a, b) => a + b, 0)`
	before := ask[float64](p, thick)
	p.until("the courses thin", thick+" < "+ftoa(before-0.5))
	p.faultless()
}

// With reduced motion a pair stands still, its beat is written, and courses
// step once a second.
func TestBrowserReducedMotion(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	swelling := `[...document.querySelectorAll("#rail .stone > g")].some((g) => /scale/.test(g.getAttribute("transform") ?? ""))`
	d.Hear(m.pair())
	p.until("a pair swells", swelling)
	p.media("prefers-reduced-motion", "reduce")
	p.until("it stands still", "!"+swelling)
	d.Hear(m.pair())
	p.until("the beat is written", `[...document.querySelectorAll("#rail text")].some((t) => t.textContent === "beats 1.1 a second")`)
	n := ask[int](p, `new Promise((done) => {
		const seen = new Set();
		const watch = setInterval(() => { seen.add([...document.querySelectorAll("#rail .stone")].map((g) => g.getAttribute("transform") + g.firstChild.getAttribute("transform")).join()); }, 20);
		setTimeout(() => { clearInterval(watch); done(seen.size); }, 1000);
	})`)
	if n != 1 {
		t.Errorf("with reduced motion the stones stood at %d places within a second, wanted 1", n)
	}
	p.faultless()
}
