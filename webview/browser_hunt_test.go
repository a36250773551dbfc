package webview_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/webview"
)

// at is a settled strike of one partial at a frequency.
func (m *strikes) at(hz analysis.Hz) analysis.Strike {
	return m.strike(1200*math.Log2(float64(hz)/440), 0.29)
}

// sixPlaces is what the trio of the tests is after.
const sixPlaces = "E4 +-5\nBb4\nD5 +-5\nF#5 +30 +-8\nA5 +-5\nC6 +-8\n"

// wanted waits until the daemon's list is so.
func (p *page) wanted(what string, ok func(webview.Wanted) bool) {
	p.t.Helper()
	turns(p, what, p.d.Wanted, ok)
}

// press clicks the button that begins with words, within a selector.
func (p *page) press(within, words string) {
	p.t.Helper()
	p.until(within+" has "+words, fmt.Sprintf(`[...document.querySelectorAll(%q)].some((b) => b.textContent.trim().startsWith(%q) && !b.disabled)`, within+" button", words))
	p.js(fmt.Sprintf(`[...document.querySelectorAll(%q)].find((b) => b.textContent.trim().startsWith(%q)).click()`, within+" button", words))
}

func (p *page) write(text string) {
	p.t.Helper()
	p.js(fmt.Sprintf(`(() => { const f = document.querySelector("#list"); f.value = %q; f.dispatchEvent(new Event("input", { bubbles: true })); })()`, text))
}

func (p *page) hunts() {
	p.t.Helper()
	p.key("2")
	p.until("Wanted is open", `location.hash === "#wanted" && document.querySelector("nav [aria-current=page]").textContent.startsWith("Wanted") && document.title.startsWith("Wanted")`)
}

// A hunt from the empty list to all found, with the real server.
func TestBrowserHunt(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.hunts()
	p.says("Say what you are after")
	p.picture("hunt-empty")

	// A line that cannot be read is told at its place, and nothing typed is lost.
	p.write("E4 +-5\nwhat\nBb4\n")
	p.press(".typing", "Save")
	p.until("the fault is told at its line and column", `/Line 2, column 1/.test(document.querySelector("#list-faults").innerText) && document.querySelector("#list").value === "E4 +-5\nwhat\nBb4\n"`)
	p.picture("hunt-fault")
	p.press("#list-faults", "Line 2")
	if got := ask[string](p, `(() => { const f = document.querySelector("#list"); return f.value.slice(f.selectionStart, f.selectionEnd); })()`); got != "what" {
		t.Errorf("the fault selects %q, wanted \"what\"", got)
	}
	p.do(chromedp.KeyEvent("D5 \U0001f3b5")) // typed into the field, in place of what was selected
	d.Hear((&strikes{n: 50}).flowerpot())    // while somebody types, a strike comes
	p.until("what is typed stays", `document.querySelector("#list").value.includes("D5 ")`)
	p.write(sixPlaces)
	p.press(".typing", "Save")
	p.wanted("saved", func(w webview.Wanted) bool { return len(w.Places) == 6 && len(w.Errors) == 0 })
	p.until("six rows", `document.querySelectorAll(".wanted li").length === 6 && !document.querySelector("#list")`)
	p.until("six open flags", `document.querySelectorAll("#rail .r-flag.open").length === 6`)

	// Yes, and taken by one key.
	m := &strikes{n: 100}
	yes := m.at(analysis.Hz(440 * math.Exp2(934./1200))) // 4 c above F#5 +30
	d.Hear(yes)
	p.says("Yes: F sharp 5, bent +30")
	p.under("It lies 4 c high, inside ±8.")
	p.until("how much is found", `document.querySelector("#hunt h2").textContent === "0 of 6 found."`)
	p.picture("hunt-yes")
	p.key("k")
	p.wanted("K finds it", func(w webview.Wanted) bool {
		return len(w.Places[3].Fills) == 1 && w.Places[3].Fills[0].Strike == yes.ID
	})
	p.says("Found: F sharp 5, bent +30")
	p.until("its flag is filled", `document.querySelectorAll("#rail .r-flag.open").length === 5`)
	p.key("u")
	p.wanted("U takes that back", func(w webview.Wanted) bool { return len(w.Places[3].Fills) == 0 })
	p.says("Yes: F sharp 5, bent +30")
	p.press("#acts", "Found")
	p.wanted("one tap finds it", func(w webview.Wanted) bool { return len(w.Places[3].Fills) == 1 })

	// Nearly, and what would bring it there.
	glass := analysis.Glass
	if _, err := d.Change(webview.Change{Kind: &glass}); err != nil {
		t.Fatal(err)
	}
	d.Hear(m.at(analysis.Hz(440 * math.Exp2(620./1200)))) // 120 c above D5
	p.says("Nearly: D5, 120 c high")
	p.under("A guess: water moves it there, likely within reach.")
	p.picture("hunt-nearly")

	// Not wanted, with the nearest open place.
	d.Hear(m.at(analysis.Hz(440 * math.Exp2(2900./1200))))
	p.says("Not wanted: D7")
	p.under("Nearest open place: C6. This is 14 semitones higher.")
	p.key("f")
	p.until("far", `document.querySelector("#answer").getBoundingClientRect().height > innerHeight * 0.8`)
	p.picture("hunt-far")
	p.key("f")

	// A knock.
	d.Hear(m.knock())
	p.says("Not wanted: no pitch")

	// Ticked off and taken back; moved; a strike taken for a place by hand.
	row := func(i int) string { return fmt.Sprintf(".wanted li:nth-child(%d)", i) }
	p.js(fmt.Sprintf(`document.querySelector("%s button.row").click()`, row(6)))
	p.press(row(6), "Tick off")
	p.wanted("ticked", func(w webview.Wanted) bool { return w.Places[5].State == "ticked" })
	p.press(row(6), "Take back")
	p.wanted("taken back", func(w webview.Wanted) bool { return w.Places[5].State == "open" })
	p.press(row(6), "Up")
	p.wanted("moved up", func(w webview.Wanted) bool { return *w.Places[4].Note == "C6" && *w.Places[5].Note == "A5" })
	p.until("the open row moved with it", `document.querySelector("`+row(5)+`.open")?.innerText.startsWith("C6")`)
	p.until("it can be heard", `[...document.querySelectorAll("#acts button")].some((b) => b.textContent.startsWith("Hear C6"))`)
	slate := m.at(analysis.Hz(440 * math.Exp2(1503./1200)))
	d.Hear(slate)
	p.says("Yes: C6")
	p.press(row(5), "Take the last strike")
	p.wanted("taken by hand", func(w webview.Wanted) bool { return len(w.Places[4].Fills) == 1 })
	p.press(row(5), "Not ")
	p.wanted("given up", func(w webview.Wanted) bool { return len(w.Places[4].Fills) == 0 })

	// Compared with another on the counter.
	p.key(kb.Escape)
	p.until("no row is open", `!document.querySelector("li.open")`)
	p.js(`document.querySelector("#trail li:nth-child(2) button.row").click()`)
	p.press("#trail", "Compare")
	d.Hear(m.at(analysis.Hz(440 * math.Exp2(1500./1200))))
	p.under("Beside not named:")
	p.js(`scrollTo(0, 500)`)
	p.picture("hunt-compare")
	p.js(`scrollTo(0, 0)`)

	// An address that can be shared, and the list outlives a reload.
	p.do(chromedp.Reload())
	p.until("Wanted again", `document.title.startsWith("Wanted") && document.querySelectorAll(".wanted li").length === 6`)
	p.key("1")
	p.until("Listen", `document.title.startsWith("Listen") && !document.querySelector(".wanted")`)
	p.faultless()
}

// Verdicts are told by sound or vibration only where somebody switched that on.
func TestBrowserVerdictSignals(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	d.WriteWanted("A4\n")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.js(`void (window.buzzes = [], navigator.vibrate = (p) => buzzes.push(p), window.tones = 0, window.AudioContext = class extends AudioContext { createOscillator() { tones++; return super.createOscillator(); } })`)
	p.hunts()
	m := &strikes{}
	d.Hear(m.strike(1, 0.3))
	p.says("Yes: A4")
	if n := ask[int](p, `buzzes.length + tones`); n != 0 {
		t.Errorf("nothing was asked for and %d signals came", n)
	}
	p.key("s")
	p.press("dialog", "vibration")
	p.press("dialog", "sound")
	p.do(chromedp.KeyEvent(kb.Escape))
	p.js(`document.body.click()`)
	d.Hear(m.strike(2, 0.3))
	p.until("yes buzzes twice and sounds twice", `buzzes.length === 1 && buzzes[0].length === 3 && tones === 2`)
	d.Hear(m.strike(25, 0.3))
	p.says("Nearly: A4, 25 c high")
	p.until("nearly once", `buzzes.length === 2 && buzzes[1].length === 1 && tones === 3`)
	d.Hear(m.strike(600, 0.3))
	p.says("Not wanted: E flat 5")
	if got := ask[int](p, `buzzes.length * 10 + tones`); got != 23 {
		t.Errorf("not wanted: got signals %d, wanted none more than 23", got)
	}
	p.faultless()
}

// axe finds nothing, all fits the width of a phone, and what is to be touched
// can be.
func TestBrowserHuntLooks(t *testing.T) {
	inEveryLook(t, func(t *testing.T, d *daemon, p *page, named string) {
		p.key("2")
		p.until("the list can be typed", `document.querySelector("#list")`)
		p.fits("empty")
		d.WriteWanted(strings.Replace(sixPlaces, "D5", "what\nD5", 1))
		m := &strikes{}
		d.Hear(m.at(329.6))
		d.Hear(m.at(587))
		d.Hear(m.at(analysis.Hz(440 * math.Exp2(934./1200))))
		p.until("the verdict", `document.querySelectorAll(".wanted li.now").length === 1`)
		p.key("k")
		p.until("found", `document.querySelectorAll(".wanted li[data-state=filled]").length === 1`)
		p.picture("hunt-" + named)
		p.fits("found")
		p.key("e")
		p.until("typing", `document.querySelector("#list")`)
		p.fits("typing, with a fault")
		p.js(`document.querySelector(".typing .choose button:last-child").click()`)
		p.until("not typing", `!document.querySelector("#list")`)
		p.js(`document.querySelector(".wanted li:nth-child(4) button.row").click()`)
		p.until("a row opens", `document.querySelector(".wanted .choose")`)
		p.fits("a row open")
		p.key("f")
		p.fits("far")
		p.key("f")
		p.key("s")
		p.until("set up", `document.querySelector("dialog[open]")`)
		p.fits("set up")
		p.faultless()
	})
}

// Whatever somebody typed elsewhere is text on the page: in the list, its
// faults, the names of strikes and of devices, and the source's own words.
func TestBrowserHuntHostileWords(t *testing.T) {
	const hostile = `<img src=x onerror=faults.push("ran")><script>faults.push("ran")</script> "quoted" \x1b[31m`
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	d.WriteWanted("A4\n" + hostile + "\nD5 # " + hostile + "\n")
	p := open(t, ctx, d, 390, 844, "shop")
	d.State(listen.State{Code: listen.Deaf, Source: hostile, Rate: 48000, Words: hostile})
	p.until("what the source says", `document.querySelector("#sub").textContent.includes("<script>")`)
	d.hears("hearing", "")
	d.Hear((&strikes{n: 10}).at(440))
	p.hunts()
	p.says("Yes: A4")
	p.key("k")
	p.wanted("found", func(w webview.Wanted) bool { return len(w.Places[0].Fills) == 1 })
	id := d.Wanted().Places[0].Fills[0].Strike
	if got := ask[int](p, fmt.Sprintf(`fetch("/api/token").then((r) => r.json()).then((t) => fetch("/api/strikes/%s/name", { method: "POST", headers: { "Content-Type": "application/json", "X-Ringwell-Token": t.token }, body: JSON.stringify({ name: %q }) })).then((r) => r.status)`, id, hostile[:70])); got != 200 {
		t.Fatalf("naming the strike: got %d", got)
	}
	p.until("the name is text in the row", `document.querySelector(".wanted .read").textContent.includes("<img")`)
	p.key("e")
	p.until("the line is text in the field and its fault", `document.querySelector("#list")?.value.includes("<script>") && /<img/.test(document.querySelector("#list-faults").textContent)`)
	p.picture("hunt-hostile")
	p.shows(map[string]int{"img": 0, "main script": 0})
	if w := ask[int](p, `document.documentElement.scrollWidth`); w > 390 {
		t.Errorf("got a page %d px wide, wanted at most 390", w)
	}
	p.faultless()
}
