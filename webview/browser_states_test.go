package webview_test

import (
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

// shows checks what the drawing holds: how many elements match each selector,
// -1 standing for one or more.
func (p *page) shows(want map[string]int) {
	p.t.Helper()
	for selector, n := range want {
		got := ask[int](p, `document.querySelectorAll("`+selector+`").length`)
		if got != n && (n >= 0 || got == 0) {
			p.t.Errorf("%s: got %d elements at %s, wanted %d (-1: some)", p.text("#answer"), got, selector, n)
		}
	}
}

func (p *page) under(want string) {
	p.t.Helper()
	p.until("under the answer: "+want, `document.querySelector("#sub").textContent.replace(/\s+/g, " ").includes("`+want+`")`)
}

func TestBrowserStates(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	no, yes := false, true

	p.says("Strike something")
	p.shows(map[string]int{"#rail .stone.wanting": 1, "#rail .r-tether.dash": 1, "#trail .empty": 1})

	d.Hear(m.early())
	p.says("A4, about 10 c high")
	p.shows(map[string]int{"#answer.guess": 1, "#rail .stone.heard": 1, "#rail .r-tether": 0, "#rail .r-end": 1, "#answer .sigma": 0})

	pot := m.flowerpot()
	pot.Stage = analysis.Early
	d.Hear(pot)
	p.says("A4, about 12 c high")
	pot.Revision, pot.Stage = 2, analysis.Settled
	d.Hear(pot)
	p.says("A4, 12 c high ±0.3")
	p.under("Rings 2.6 s. Of its four stones this one lasts.")
	p.shows(map[string]int{"#answer.guess": 0, "#rail .stone.heard .r-out": 2, "#rail .r-tether": 1, "#rail .r-tol": -1, "#trail li": 1})

	d.Hear(m.second())
	p.under("Some will hear E5, 20 c low.")
	p.key("z")
	p.until("the second candidate is dashed", `document.querySelector("#rail .stone.second") && document.querySelector("#rail .r-tether.dash")`)
	p.key("z")

	d.Hear(m.pair())
	p.says("A4, 7 c low ±0.2")
	p.until("the beat is written", `[...document.querySelectorAll("#rail text")].some((t) => t.textContent === "beats 1.1 a second")`)

	d.Hear(m.strike(48, 0.49))
	p.says("Between A4 and B flat 4")
	p.under("48 c above A4, 52 c below B flat 4.")

	d.Hear(m.knock())
	p.says("No pitch: a knock")
	p.under("It rang 60 ms, too short to place.")
	p.shows(map[string]int{"#rail .stone.heard": 0, "#rail .r-tether": 0, "#rail .r-aim": 0})

	d.Hear(m.beyond())
	p.says("D7, above its top note")
	p.under("The vibraphone ends at F6, 9 semitones lower.")
	p.shows(map[string]int{"#rail .r-tether": 1})

	gone := m.early()
	d.Hear(gone)
	p.says("A4, about 10 c high")
	gone.Revision, gone.Stage, gone.Heard, gone.Partials = 2, analysis.Withdrawn, nil, nil
	d.Hear(gone)
	p.says("No pitch: a knock")
	p.under("What looked like a note was none. Strike again.")

	d.Hear(m.flowerpot())
	p.says("A4, 12 c high ±0.3")
	if _, err := d.Change(webview.Change{Aim: &no}); err != nil {
		t.Fatal(err)
	}
	p.says("Rings 2.6 s, at A4")
	p.under("A4, 12 c high ±0.3.")
	p.shows(map[string]int{"#rail .r-aim": 0, "#rail .r-tether": 0, "#rail .r-tol": 0})
	if _, err := d.Change(webview.Change{Aim: &yes}); err != nil {
		t.Fatal(err)
	}
	p.says("A4, 12 c high ±0.3")

	if _, err := d.Change(webview.Change{Frozen: &yes}); err != nil {
		t.Fatal(err)
	}
	p.under("Frozen: new strikes join the trail.")
	d.Hear(m.strike(-31, 0.49))
	p.until("the new strike is on the trail", `document.querySelector("#trail li .read").textContent === "A4, 31 c low"`)
	p.says("A4, 12 c high ±0.3")
	if _, err := d.Change(webview.Change{Frozen: &no}); err != nil {
		t.Fatal(err)
	}
	p.says("A4, 31 c low ±0.5")

	d.hears("deaf", "No sound comes in from the hall pair: look to its cable.")
	p.says("The ear hears nothing")
	p.under("look to its cable")
	p.shows(map[string]int{"#rail .r-line.deaf": 1, "#rail .stone": 0, "#strip .wrong": 1})
	d.hears("hearing", "")
	p.says("A4, 31 c low ±0.5")

	d.Server.Level(listen.Level{Peak: 1, RMS: 0.7, Clipped: true, Lost: 4800})
	p.until("the strip tells of lost sound and of a level too loud",
		`/too loud/.test(document.querySelector("#strip").textContent) && /100 ms of sound lost/.test(document.querySelector("#strip").textContent)`)
	p.faultless()
}

// A daemon that stops and starts again: the page says so, and comes back.
func TestBrowserDaemonComesBack(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "shop")
	var m strikes
	d.Hear(m.flowerpot())
	p.says("A4, 12 c high ±0.3")
	p.js("window.same = true")
	d.stop()
	p.says("ringwell has stopped")
	p.under("This page comes back by itself.")
	again := newDaemon(t, d.addr)
	p.says("Strike something")
	again.Hear(m.strike(3, 0.19))
	p.says("A4, 3 c high ±0.2")
	if !ask[bool](p, "window.same === true") {
		t.Error("the page was loaded anew, wanted it to come back as it was")
	}
	p.faultless()
}

// Whatever a source, a remark or a name says is shown as text.
func TestBrowserHostileWords(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	const hostile = `<img src=x onerror="faults.push('ran')"><script>faults.push('ran')</script>`
	var m strikes
	s := m.flowerpot()
	s.Remarks = []analysis.Remark{{Code: hostile, Words: hostile}}
	d.Hear(s)
	d.State(listen.State{Code: listen.Hearing, Source: hostile, Rate: 48000})
	p.under("<img src=x onerror=")
	p.until("the source is shown as text", `document.querySelector("#strip bdi").textContent.startsWith("<img")`)
	d.State(listen.State{Code: listen.Deaf, Source: hostile, Words: hostile})
	p.says("The ear hears nothing")
	p.under("<img src=x onerror=")
	if n := ask[int](p, `document.querySelectorAll("img").length`); n != 0 {
		t.Errorf("images made of words: got %d, wanted 0", n)
	}
	p.faultless()
}

// What a screen reader hears: the answer, once, when it has settled; and the
// drawing again as a table.
func TestBrowserSpeaksOnce(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.js(`(window.spoken = [], new MutationObserver(() => spoken.push(document.querySelector("#spoken").textContent)).observe(document.querySelector("#spoken"), { childList: true, characterData: true, subtree: true }))`)
	var m strikes
	s := m.flowerpot()
	for i, stage := range []analysis.Stage{analysis.Early, analysis.Early, analysis.Settled, analysis.Final} {
		s.Revision, s.Stage = i+1, stage
		d.Hear(s)
		p.until("the page has the telling", `document.querySelector("#answer").classList.contains("guess") === `+map[bool]string{true: "true", false: "false"}[stage == analysis.Early])
	}
	d.Keep(s, make([]float32, 4800)) // told last: once it shows, all before it has been shown
	p.until("the sound is offered", `document.querySelector("#acts a[download]")`)
	if got := strings.Join(ask[[]string](p, "spoken"), " | "); got != "A4, 12 cents high plus or minus 0.3" {
		t.Errorf("spoken: got %q, wanted the settled answer once", got)
	}
	want := "A4, 12 c high heard 443.1 Hz ±0.3 c 100 % 2.6 s"
	if got := ask[string](p, `document.querySelectorAll("#numbers tbody tr")[0].textContent.replace(/\s+/g, " ").trim()`); got != want {
		t.Errorf("the table's row of the heard stone: got %q, wanted %q", got, want)
	}
	p.faultless()
}
