package webview_test

import (
	"testing"

	"github.com/chromedp/chromedp/kb"
)

// An instrument of one's own is measured note after note, with keys alone where
// the mallets are in hand, and is then used.
func TestBrowserShelfWalk(t *testing.T) {
	ctx := browser(t)
	d := newShelfDaemon(t)
	p := open(t, ctx, d, 1280, 800, "hall")
	m := &strikes{}
	p.key("4")
	p.tap("#shelf a[href='#shelf/walk']")
	p.value("#shelf [name=name]", "our vibes")
	p.value("#shelf [name=like]", "vibraphone")
	p.tap("[data-begin]")
	p.until("the lowest note is asked for", `document.querySelector(".next b")?.textContent === "F3"`)
	p.picture("walk-begins")
	d.rung(m, 4, 175.2, 701) // F3 is 174.61 Hz
	p.until("it is measured and the next one asked for", `document.querySelector(".next b").textContent === "F sharp 3" && document.querySelector("#shelf h2").textContent === "our vibes: 1 of 37 notes"`)
	p.until("how far it lies off", `document.querySelector(".voices tbody tr").textContent.includes("+6 c")`)
	p.key(kb.ArrowRight)
	p.until("passed over", `document.querySelector(".next b").textContent === "G3" && document.querySelector(".voices tbody tr:nth-child(2)").textContent.includes("skipped")`)
	p.key(kb.ArrowLeft)
	p.until("gone back", `document.querySelector(".next b").textContent === "F sharp 3"`)
	d.rung(m, 4, 185, 740)
	p.until("measured after all", `document.querySelector("#shelf h2").textContent.includes("2 of 37")`)
	d.rung(m, 4, 311, 1244)
	p.until("a note that is not at hand is told and not taken", `document.querySelector("#shelf p.teach[role=status]") && document.querySelector("#shelf h2").textContent.includes("2 of 37")`)
	p.picture("walk")
	p.press("#shelf .head", "Finish")
	p.until("it is done", `document.querySelector("[data-begin]") && document.querySelector(".away")?.textContent.includes("our vibes")`)
	p.key("s")
	p.until("it can be chosen", `[...document.querySelectorAll("dialog option")].some((o) => o.textContent === "our vibes")`)
	p.key("Escape")
	p.press(".away", "Remove")
	p.until("removed", `!document.querySelector(".away")`)
	p.faultless()
}

// What beats with what; a strike kept as the wrong thing is given to the right
// one; another voice; what was round a strike is in its history.
func TestBrowserShelfVoices(t *testing.T) {
	ctx := browser(t)
	d := newShelfDaemon(t)
	p := open(t, ctx, d, 1280, 800, "shop")
	m := &strikes{}
	keep := func(hz ...float64) {
		p.key("1")
		d.rung(m, 2, hz...)
		p.until("it can be kept", `!document.querySelector("#acts .first").disabled`)
		p.key("k")
		p.until("kept", `document.querySelector("#acts .first").disabled`)
	}
	keep(740, 1776, 3034)
	p.key("4")
	p.value(".now [name=temperature_c]", "23")
	p.value(".now [name=room]", "cellar")
	keep(742, 2100, 3900)
	p.key("4")
	p.until("two voices", `document.querySelectorAll(".voices tbody tr").length === 2`)
	p.tap("#shelf a[href='#shelf/pairs']")
	p.until("they beat", `document.querySelectorAll(".pairs tbody tr").length === 1 && /beats 2(\.\d)? a second/.test(document.querySelector(".pairs tbody").textContent)`)
	p.picture("pairs")
	p.value("[name=most]", "1")
	p.until("none beats so slowly", `document.querySelector("#shelf .teach")?.textContent.startsWith("No two voices")`)
	p.js(`location.hash = "#shelf"`)

	// The second object's strike belongs to the first.
	p.until("the table", `document.querySelectorAll(".voices tbody tr").length === 2`)
	p.js(`[...document.querySelectorAll(".voices tbody tr")][1].querySelector("a").click()`)
	p.until("what was round it", `/23 °C, cellar/.test(document.querySelector(".history li")?.textContent ?? "")`)
	p.js(`document.querySelectorAll("#shelf details").forEach((x) => x.open = true)`)
	p.picture("voice-open")
	p.value(".history [name=note]", "felt under it")
	p.tap(".history form button[type=submit]")
	p.until("noted", `document.querySelector(".history li span").textContent.includes("felt under it")`)
	p.js(`(() => { const s = document.querySelector(".history [name=voice]"); s.value = [...s.options].find((o) => !o.selected).value; })()`)
	p.tap(".history form button[type=submit]")
	p.until("given away", `document.querySelectorAll(".history li").length === 0`)

	// A voice more, and how it is struck.
	p.value(".another [name=place]", "rim")
	p.value(".another [name=beater]", "yarn")
	p.tap(".another button[type=submit]")
	p.until("another voice", `document.querySelectorAll("#shelf .voice").length === 2 && [...document.querySelectorAll(".voice h3")].some((h) => h.textContent.includes("rim"))`)
	p.value(".voice [name=support]", "foam")
	p.value(".voice [name=pinned_hz]", "nonsense")
	p.tap(".voice .entries-of button[type=submit]")
	p.until("a pitch is a number", `document.querySelector("#shelf .fault")`)
	p.value(".voice [name=pinned_hz]", "744,5")
	p.tap(".voice .entries-of button[type=submit]")
	p.until("the support is in its name", `[...document.querySelectorAll(".voice h3")].some((h) => h.textContent.includes("foam"))`)
	p.until("pinned", `[...document.querySelectorAll(".voice [name=pinned_hz]")].some((f) => f.value === "744.5")`)
	p.faultless()
}

// Foam under it: a voice of its own, kept from the stand, and what differs from
// the other beyond chance is told in a sentence, in two taps.
func TestBrowserShelfDifference(t *testing.T) {
	ctx := browser(t)
	d := newShelfDaemon(t)
	p := open(t, ctx, d, 1280, 800, "hall")
	m := &strikes{}
	for range 5 {
		d.rung(m, 2, jar...)
		p.until("it can be kept", `!document.querySelector("#acts .first").disabled`)
		p.key("k")
		p.until("kept", `document.querySelector("#acts .first").disabled`)
	}
	p.key("4")
	p.tap(".voices tbody a")
	p.until("five strikes", `document.querySelectorAll(".history li").length === 5`)
	p.value(".another [name=support]", "foam")
	p.tap(".another button[type=submit]")
	p.until("another voice", `document.querySelectorAll("#shelf .voice").length === 2`)
	const foam = `[...document.querySelectorAll("#shelf .voice")].find((v) => v.querySelector("h3").textContent.includes("foam"))`
	const bare = `[...document.querySelectorAll("#shelf .voice")].find((v) => !v.querySelector("h3").textContent.includes("foam"))`
	p.js(foam + `.querySelector("button").click()`)
	p.until("on the stand", `document.querySelector(".stand")?.textContent.includes("foam")`)
	d.rung(m, 4.6, jar...)
	p.until("kept as the foam's", foam+`.querySelectorAll(".history li").length === 1`)
	p.js(bare + `.querySelector(".history li button").click()`)
	p.until("laid", `document.querySelector(".history [aria-pressed=true]")`)
	p.js(foam + `.querySelector(".history li button").click()`)
	p.until("it is said", `[...document.querySelectorAll(".says li")].some((x) => /^The partial at 740 Hz rings 2\.30? times as long\.$/.test(x.textContent))`)
	p.until("and marked", `document.querySelector(".comparison .sure")?.textContent.includes("beyond chance")`)
	p.picture("difference")
	p.faultless()
}
