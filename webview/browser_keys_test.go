package webview_test

import (
	"testing"

	"github.com/chromedp/chromedp/kb"

	"ringwell/webview"
)

// session waits until the daemon's session is so. The page is told of every
// change; what it does not show is asked of the daemon itself.
func (p *page) session(what string, ok func(webview.Session) bool) {
	p.t.Helper()
	turns(p, what, p.d.Session, ok)
}

func TestBrowserKeys(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	first := m.flowerpot()
	d.Hear(first)
	p.says("A4, 12 c high ±0.3")

	p.key(" ")
	p.session("space freezes", func(s webview.Session) bool { return s.Frozen && *s.FrozenID == first.ID })
	p.until("frozen shows", `document.querySelectorAll("#acts [aria-pressed=true]").length === 1`)
	p.key(" ")
	p.session("space lets go", func(s webview.Session) bool { return !s.Frozen })

	p.key(kb.ArrowRight)
	p.session("an arrow aims a note up", func(s webview.Session) bool { return s.Target != nil && *s.Target == 70 })
	p.says("B flat 4, 88 c low ±0.3")
	p.key(kb.ArrowLeft + kb.ArrowLeft)
	p.session("arrows follow each other", func(s webview.Session) bool { return s.Target != nil && *s.Target == 68 })
	p.key("0")
	p.session("0 lets the target go", func(s webview.Session) bool { return s.Target == nil })
	p.says("A4, 12 c high ±0.3")

	posts := func() int { return ask[int](p, `document.querySelectorAll("#rail .r-post, #rail .r-aim").length`) }
	near := posts()
	p.key(kb.ArrowDown)
	p.until("an arrow widens", `document.querySelectorAll("#rail .r-post").length > `+itoa(near))
	p.key(kb.ArrowUp)
	p.until("an arrow comes nearer", `document.querySelectorAll("#rail .r-post, #rail .r-aim").length === `+itoa(near))
	p.key("z")
	p.until("z shows the whole", `document.querySelectorAll("#rail .r-post").length >= 35`)
	p.key("z")
	p.until("z comes near", `document.querySelectorAll("#rail .r-post, #rail .r-aim").length === `+itoa(near))

	p.key("l")
	p.until("l changes to the shop", `getComputedStyle(document.documentElement).colorScheme === "light"`)
	p.key("l")
	p.until("l changes to the hall", `getComputedStyle(document.documentElement).colorScheme === "dark"`)

	p.key("f")
	p.until("f shows the answer alone", `document.querySelector("#answer").getBoundingClientRect().height > innerHeight * 0.8 && getComputedStyle(document.querySelector("#rail")).display === "none"`)
	if got := ask[float64](p, `parseFloat(getComputedStyle(document.querySelector("#answer")).fontSize)`); got < 200 {
		t.Errorf("far view: got type of %.0f px at 1280x800, wanted at least 200", got)
	}
	if over := ask[bool](p, `[...document.querySelectorAll(".far-line")].some((l) => l.scrollWidth > innerWidth || l.getBoundingClientRect().bottom > innerHeight)`); over {
		t.Error("far view: a line runs off the screen")
	}
	p.key(kb.Escape)
	p.until("escape leaves it", `getComputedStyle(document.querySelector("#rail")).display !== "none"`)

	p.key("n")
	p.until("n shows the numbers", `document.querySelector("#numbers .book")?.getBoundingClientRect().height > 100`)
	p.key("n")
	p.key("?")
	p.until("? lists the keys", `document.querySelector("dialog.keys[open]")`)
	p.key(kb.Escape)
	p.until("escape closes", `!document.querySelector("dialog")`)

	p.key("k")
	p.under("No sound of a strike is kept yet")
	p.key("t")
	p.session("t mutes the ear while the target sounds", func(s webview.Session) bool { return s.Tone.On && s.Muted })
	p.until("the page says so", `/The target sounds|No sound of a strike/.test(document.querySelector("#sub").textContent)`)
	p.key("t")
	p.session("t ends it", func(s webview.Session) bool { return !s.Tone.On && !s.Muted })

	d.Hear(m.strike(-31, 0.49))
	p.says("A4, 31 c low ±0.5")
	p.js(`document.querySelector("#trail button.row").click()`)
	p.until("a row opens", `document.querySelectorAll("#trail .choose button").length === 3`)
	p.js(`document.querySelector("#trail .choose button:last-child").click()`)
	p.until("it is thrown away", `document.querySelector(".undo") && document.querySelector("#trail .empty")`)
	p.key("u")
	p.until("u takes it back", `!document.querySelector(".undo") && document.querySelector("#trail li .read")?.textContent === "A4, 12 c high"`)
	p.faultless()
}

// Everything can be reached with the tab key alone, and what has the focus
// shows it.
func TestBrowserTab(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "shop")
	var m strikes
	d.Hear(m.strike(3, 0.19))
	d.Hear(m.flowerpot())
	p.until("the trail has a row", `document.querySelector("#trail button.row")`)
	seen := map[string]bool{}
	for range 30 {
		p.key(kb.Tab)
		at := ask[struct {
			Text, Outline string
		}](p, `({ Text: document.activeElement.ariaLabel || document.activeElement.textContent.trim(), Outline: getComputedStyle(document.activeElement).outlineStyle })`)
		if at.Text == "" || ask[bool](p, `document.activeElement === document.body`) {
			continue
		}
		seen[at.Text] = true
		if at.Outline == "none" {
			t.Errorf("%q has the focus and does not show it", at.Text)
		}
	}
	for _, want := range ask[[]string](p, `[...document.querySelectorAll("button:not([disabled]), a")].map((e) => e.ariaLabel || e.textContent.trim())`) {
		if !seen[want] {
			t.Errorf("the tab key does not reach %q", want)
		}
	}
}
