package webview_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/chromedp"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/webview"
)

// shelfRate is the rate of these tests' recordings, low so that they are short.
const shelfRate = 8000

// newShelfDaemon is a daemon with an empty shelf.
func newShelfDaemon(t *testing.T) *daemon {
	t.Helper()
	s, err := catalogue.Open(context.Background(), t.TempDir(), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return newDaemonWith(t, "127.0.0.1:0", func(c *webview.Config) {
		c.Shelf = &webview.ShelfOptions{Write: s, Ear: "ear 1",
			Encode: func(_ analysis.Rate, sound []float32, _ int, _ *analysis.Pitch) ([]byte, error) {
				var b bytes.Buffer
				err := binary.Write(&b, binary.LittleEndian, sound)
				return b.Bytes(), err
			},
			Decode: func(data []byte) ([]float64, analysis.Rate, error) {
				narrow := make([]float32, len(data)/4)
				err := binary.Read(bytes.NewReader(data), binary.LittleEndian, narrow)
				sound := make([]float64, len(narrow))
				for i, x := range narrow {
					sound[i] = float64(x)
				}
				return sound, shelfRate, err
			},
		}
	})
}

// rung has the ear hear a thing to its end: partials at hz, ringing t60 seconds.
func (d *daemon) rung(m *strikes, t60 float64, hz ...float64) string {
	d.t.Helper()
	m.n++
	s := analysis.Strike{ID: fmt.Sprintf("01KAX%021d", m.n), Revision: 1, Stage: analysis.Final, Source: "hall pair", Rate: shelfRate,
		Onset: 800, To: 8800, Time: time.Now().Add(-time.Second), Used: 1, ClockPPM: 29, Peak: 0.3}
	sound := make([]float32, 8800)
	for i, f := range hz {
		// A tenth of a cent more with each strike: no two are the same.
		p := analysis.Partial{Frequency: analysis.Hz(f * math.Exp2(0.1*float64(m.n%5)/1200)), Sigma: 0.3, Level: -6 * float64(i), SigmaLevel: 0.3,
			T60: t60 / float64(i+1), SigmaT60: 0.02}
		s.Partials = append(s.Partials, p)
		for n := range sound[800:] {
			at := float64(n) / shelfRate
			sound[800+n] += float32(0.1 * math.Pow(10, p.Level/20-3*at/p.T60) * math.Sin(2*math.Pi*f*at))
		}
	}
	s.Heard = &analysis.Pitch{Frequency: s.Partials[0].Frequency, Sigma: 0.3, Basis: analysis.OnPartial, Likelihood: 0.9}
	d.Hear(s)
	d.Keep(s, sound)
	return s.ID
}

func (p *page) value(selector, text string) {
	p.t.Helper()
	p.until("there is "+selector, fmt.Sprintf(`document.querySelector(%q)`, selector))
	p.js(fmt.Sprintf(`(() => { const f = document.querySelector(%q); f.value = %q; f.dispatchEvent(new Event("input", { bubbles: true })); f.dispatchEvent(new Event("change", { bubbles: true })); })()`, selector, text))
}

// tap clicks what a selector finds first.
func (p *page) tap(selector string) {
	p.t.Helper()
	p.until("there is "+selector, fmt.Sprintf(`document.querySelector(%q)`, selector))
	p.js(fmt.Sprintf(`document.querySelector(%q).click()`, selector))
}

var (
	jar   = []float64{740, 1776, 3034}
	slate = []float64{320, 544, 928, 1408}
)

// From the first strike to the call-over, as a player goes: keep, be known,
// find, compare, put away, take back, call over.
func TestBrowserShelf(t *testing.T) {
	ctx := browser(t)
	d := newShelfDaemon(t)
	p := open(t, ctx, d, 1280, 800, "hall")
	m := &strikes{}
	p.key("4")
	p.until("the empty shelf teaches", `location.hash === "#shelf" && document.title.startsWith("Shelf") && document.querySelector("#shelf .teach")?.textContent.includes("press K")`)
	p.picture("shelf-empty")

	// Kept by one key, known when it is struck again, kept by one tap.
	p.key("1")
	d.rung(m, 2, jar...)
	p.until("K can keep it", `!document.querySelector("#acts .first").disabled`)
	p.key("k")
	p.until("it is kept", `document.querySelector("#who").textContent.startsWith("Kept: Object")`)
	d.rung(m, 1.4, jar...)
	p.until("it is known at once", `document.querySelector("#who").textContent.startsWith("Object")`)
	p.picture("shelf-known")
	p.press("#acts", "Keep")
	p.until("kept again", `document.querySelector("#who").textContent.startsWith("Kept:")`)
	d.rung(m, 1.2, slate...)
	p.until("the slate is no jar", `document.querySelector("#who").textContent === "Not on the shelf"`)
	d.rung(m, 1.2, slate...)
	p.until("three on the trail", `document.querySelectorAll("#trail button.row").length === 3`)
	p.js(`document.querySelector("#trail li:nth-child(1) button.row").click()`)
	p.press("#trail", "Keep on the shelf")
	p.until("the trail's strike is kept", `document.querySelector("#trail .choose a[href^='#shelf/object/']")`)
	p.until("the other slate on the trail is known by it, too", `[...document.querySelectorAll("#trail .who")].filter((w) => w.textContent.startsWith("Object 2")).length === 1`)
	d.rung(m, 1.2, slate...)
	p.until("the next is known by it", `/^Object/.test(document.querySelector("#who").textContent)`)

	// The player hears another partial as its pitch, and takes that back.
	p.key("n")
	p.press("#numbers tr:nth-child(2)", "This is the pitch")
	p.until("pinned", `[...document.querySelectorAll("#numbers tr")].some((r) => r.textContent.includes("544") && r.textContent.includes("heard") && r.textContent.includes("Let the ear"))`)
	p.picture("shelf-pin")
	p.press("#numbers", "Let the ear")
	p.until("not pinned", `!document.querySelector("#numbers").textContent.includes("Let the ear")`)
	p.key("n")

	// Found by words and by where it lies; named on its card, with a hostile name.
	const hostile = `<img src=x onerror=faults.push("ran")> jar 7`
	p.key("4")
	p.until("two voices", `document.querySelectorAll(".voices tbody tr").length === 2 && document.querySelectorAll(".map .spot").length === 2`)
	p.value(`[name=near]`, "740")
	p.until("one is near", `document.querySelectorAll(".voices tbody tr").length === 1`)
	p.value(`[name=near]`, "nonsense")
	p.until("what cannot be looked for is told", `document.querySelector("#shelf .fault")`)
	p.value(`[name=near]`, "F#5")
	p.until("found by its note", `!document.querySelector("#shelf .fault") && document.querySelectorAll(".voices tbody tr").length === 1`)
	p.tap(".voices tbody a")
	p.value(".entries [name=name]", hostile)
	p.value(".entries [name=kept_at]", "crate B")
	p.value(".entries [name=diameter_mm]", "85")
	p.tap(".two .entries button[type=submit]")
	p.until("renamed, and the name is text", fmt.Sprintf(`document.querySelector("#thing-name").textContent === %q && document.querySelectorAll("#shelf img").length === 0`, hostile))

	// A photo, and a file that is none.
	photo := filepath.Join(t.TempDir(), "jar.png")
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 60, 40))); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(photo, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	p.upload("input[type=file]", photo)
	p.until("the photo is on the card", `(() => { const i = document.querySelector(".photo img"); return i && i.complete && i.naturalWidth === 60; })()`)
	p.tap(".states button[type=submit]")
	p.picture("shelf-card")

	// Compared in two taps.
	p.until("two strikes in its history", `document.querySelectorAll(".history li").length === 2`)
	p.press(".history li:last-child", "Compare")
	p.press(".history li:first-child", "Compare with this")
	p.until("the comparison says what differs", `document.querySelector(".says") && document.querySelectorAll(".comparison tbody tr").length === 3`)
	// Two strikes give no spread yet, so even a ring that is a third shorter is told as chance.
	p.until("in words", `document.querySelector(".says").textContent === "No difference beyond chance."`)
	p.until("spectra and decay", `document.querySelectorAll(".curves").length === 2`)
	p.picture("shelf-compare")

	// Put away, taken back by one key; put away and taken back from the list.
	p.js(`history.back()`)
	p.press(".thing > .head", "Put away")
	p.until("it has gone", `document.querySelector("#foot .undo")?.textContent.includes("Put away: <img") && location.hash === "#shelf"`)
	p.press("#shelf form", "Show all")
	p.until("one voice is left", `document.querySelectorAll(".voices tbody tr").length === 1`)
	p.key("u")
	p.until("it is back", `document.querySelectorAll(".voices tbody tr").length === 2 && !document.querySelector("#foot .undo")`)

	// Put on the stand: what is struck is kept by itself.
	p.js(`[...document.querySelectorAll(".voices tbody a")].find((a) => a.textContent.includes("jar 7")).click()`)
	p.press(".voice", "Put on the stand")
	p.until("the stand is told", `document.querySelector(".stand")?.textContent.includes("jar 7")`)
	d.rung(m, 2, jar...)
	p.until("kept by itself", `document.querySelectorAll(".history li").length === 3`)
	p.press(".stand", "Off the stand")
	p.until("off the stand", `!document.querySelector(".stand")`)

	// The call-over: one answers, one is missing.
	p.key("c")
	p.tap("[data-begin]")
	p.until("both are missing", `document.querySelectorAll(".calls [data-answer=missing]").length === 2`)
	d.rung(m, 1.2, slate...)
	p.until("the slate has answered", `document.querySelectorAll(".calls [data-answer=present], .calls [data-answer=suspect]").length === 1 && document.querySelector("#shelf h2").textContent === "1 of 2 have answered"`)
	p.picture("shelf-call-over")
	p.press("#shelf .head", "End it")
	p.until("it has ended", `document.querySelector("[data-begin]")`)
	if n := ask[int](p, `document.querySelectorAll("#shelf img").length`); n != 0 {
		t.Errorf("a name made %d images", n)
	}
	p.faultless()
}

// upload chooses a file in a field, as a person does in the browser's dialog.
func (p *page) upload(selector, file string) {
	p.t.Helper()
	p.until("there is "+selector, fmt.Sprintf(`document.querySelector(%q)`, selector))
	doc, err := chromedp.Call(p.ctx, dom.GetDocument, dom.GetDocumentParams{})
	if err != nil {
		p.t.Fatal(err)
	}
	found, err := chromedp.Call(p.ctx, dom.QuerySelector, dom.QuerySelectorParams{NodeID: doc.Root.NodeID, Selector: selector})
	if err != nil {
		p.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{file}, NodeID: found.NodeID}); err != nil {
		p.t.Fatal(err)
	}
}

// axe finds nothing on the shelf, and all fits, in every look and tongue.
func TestBrowserShelfLooks(t *testing.T) {
	ctx := browser(t)
	for _, look := range []string{"hall", "shop"} {
		for _, c := range []struct {
			tongue string
			size   [2]int64
		}{{"en", [2]int64{390, 844}}, {"de", [2]int64{360, 740}}, {"fr", [2]int64{360, 740}}, {"en", [2]int64{1280, 800}}, {"de", [2]int64{1280, 800}}} {
			t.Run(fmt.Sprintf("%s %s %d", look, c.tongue, c.size[0]), func(t *testing.T) {
				d := newShelfDaemon(t)
				p := openIn(t, ctx, d, c.size[0], c.size[1], look, c.tongue)
				check := func(state string) {
					t.Helper()
					p.picture(fmt.Sprintf("shelf-%s-%s-%s-%d", state, look, c.tongue, c.size[0]))
					p.fits(state)
				}
				m := &strikes{}
				p.key("4")
				p.until("the empty shelf", `document.querySelector("#shelf .teach")`)
				check("empty")
				for range 2 {
					d.rung(m, 2, jar...)
					p.until("it can be kept", `!document.querySelector("#acts .first").disabled`)
					p.key("k")
					p.until("kept", `document.querySelector("#acts .first").disabled`)
				}
				p.until("the table", `document.querySelectorAll(".voices tbody tr").length === 1`)
				check("table")
				p.tap(".voices tbody a")
				p.until("the card", `document.querySelectorAll(".history li").length === 2`)
				check("card")
				p.js(`document.querySelectorAll("#shelf details").forEach((x) => x.open = true)`)
				check("card-open")
				p.tap(".history li:last-child button")
				p.until("laid", `document.querySelector(".history [aria-pressed=true]")`)
				p.tap(".history li:first-child button")
				p.until("compared", `document.querySelector(".comparison")`)
				check("comparison")
				p.key("c")
				p.tap("[data-begin]")
				p.until("called", `document.querySelector(".calls")`)
				check("call-over")
				p.js(`location.hash = "#shelf/walk"`)
				p.until("a name is asked for", `document.querySelector("#shelf [name=like]")`)
				check("walk-begins")
				p.value("#shelf [name=name]", "our vibes")
				p.tap("[data-begin]")
				p.until("a note is asked for", `document.querySelector(".next b")`)
				check("walk")
				d.rung(m, 2, 742, 2000)
				p.until("another thing", `document.querySelector(".next b") && !document.querySelector("#acts .first").disabled`)
				p.key("k")
				p.until("kept too", `document.querySelector("#acts .first").disabled`)
				p.js(`location.hash = "#shelf/pairs/8"`)
				p.until("a pair beats", `document.querySelector(".pairs")`)
				check("pairs")
				p.faultless()
			})
		}
	}
}
