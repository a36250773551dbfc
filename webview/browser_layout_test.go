package webview_test

import (
	"fmt"
	"slices"
	"strconv"
	"testing"

	"ringwell/analysis/listen"
	"ringwell/webview"
)

func itoa(n int) string { return strconv.Itoa(n) }

func ftoa(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// overflow is what sticks out of the window sideways, in words; "" for nothing.
// innerWidth would not do: on a phone it grows with what sticks out.
const overflow = `(() => {
	const own = document.documentElement.clientWidth;
	const wide = document.documentElement.scrollWidth - own;
	if (wide <= 0) return "";
	const out = [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > own + 1 && !e.closest(".acts, .book, svg, .unseen")).map((e) => (e.id || e.className || e.nodeName) + "");
	return wide + " px: " + out.slice(0, 5).join(", ");
})()`

// Nothing runs off sideways at 360 px, in any tongue, at the usual and at twice
// the size of text; and at twice the size nothing lies over anything.
func TestBrowserNarrowAndLarge(t *testing.T) {
	ctx := browser(t)
	for _, tongue := range []string{"en", "de", "fr"} {
		for _, percent := range []int{100, 200} {
			t.Run(fmt.Sprintf("%s %d%%", tongue, percent), func(t *testing.T) {
				d := newDaemon(t, "127.0.0.1:0")
				p := openIn(t, ctx, d, 360, 740, "hall", tongue)
				p.js(fmt.Sprintf(`(document.documentElement.style.fontSize = "%d%%", dispatchEvent(new Event("resize")))`, percent))
				p.until("the tongue and the size", fmt.Sprintf(`document.documentElement.lang === %q && document.documentElement.hasAttribute("data-large") === %t`, tongue, percent == 200))
				var m strikes
				check := func(state string) {
					t.Helper()
					p.js(`new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))`)
					if out := ask[string](p, overflow); out != "" {
						t.Errorf("%s: runs off sideways by %s", state, out)
					}
				}
				check("waiting")
				d.Hear(m.strike(48, 0.49))
				d.Hear(m.knock())
				d.Hear(m.beyond())
				d.Hear(m.second())
				p.until("four strikes", `document.querySelectorAll("#trail button.row").length === 3`)
				check("struck")
				p.picture(fmt.Sprintf("large-%s-%d", tongue, percent))
				p.js(`document.querySelector("#trail button.row").click()`)
				p.until("a row opens", `document.querySelector("#trail .choose")`)
				check("a row open")
				p.key("n")
				check("numbers")
				p.key("n")
				p.key("s")
				p.until("set up", `document.querySelector("dialog[open]")`)
				check("set up")
				if clipped := ask[bool](p, `(() => { const d = document.querySelector("dialog"); return d.scrollWidth > d.clientWidth + 1; })()`); clipped {
					t.Errorf("set up: the sheet is wider than the window: %v", ask[[]string](p, `[...document.querySelectorAll("dialog *")].filter((e) => e.getBoundingClientRect().right > document.querySelector("dialog").getBoundingClientRect().right).map((e) => e.nodeName + " " + e.textContent.trim().slice(0, 40))`))
				}
				if percent == 200 {
					p.js(`document.querySelector("dialog").close()`)
					p.key("0")
					if over := ask[[]string](p, overlaps); len(over) > 0 {
						t.Errorf("at twice the size of text, lying over each other: %v", over)
					}
				}
				p.faultless()
			})
		}
	}
}

// overlaps lists pairs of texts of the page that lie over each other.
const overlaps = `(() => {
	const all = [...document.querySelectorAll("#strip button, #answer, #sub, #acts button, #acts a, #trail .who, #trail .read, .places a, .places button")]
		.filter((e) => e.offsetParent !== null);
	const box = (e) => e.getBoundingClientRect();
	const out = [];
	all.forEach((a, i) => all.slice(i + 1).forEach((b) => {
		const [p, q] = [box(a), box(b)];
		const w = Math.min(p.right, q.right) - Math.max(p.left, q.left), h = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
		if (w > 2 && h > 2) out.push(a.textContent.trim() + " / " + b.textContent.trim());
	}));
	return out.slice(0, 5);
})()`

// The settled answer can be read at two metres: its x-height is at least 6 %
// of the height of a 1280x800 screen.
func TestBrowserAnswerIsLarge(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	d.Hear(m.flowerpot())
	p.says("A4, 12 c high ±0.3")
	const xHeight = `(() => {
		const pen = document.createElement("canvas").getContext("2d");
		const s = getComputedStyle(document.querySelector("#answer .lack"));
		pen.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily;
		return pen.measureText("x").actualBoundingBoxAscent;
	})()`
	for cents, says := range map[float64]string{12.04: "A4, 12 c high ±0.3", -31: "A4, 31 c low ±0.3", 131: "B flat 4, 31 c high ±0.3"} {
		d.Hear(m.strike(cents, 0.29))
		p.says(says)
		got := ask[float64](p, xHeight)
		t.Logf("%s: x-height %.1f px of 800, %.1f %%", p.text("#answer"), got, got/8)
		if got < 48 {
			t.Errorf("%s: x-height: got %.1f px, wanted at least 48 (6 %% of 800)", p.text("#answer"), got)
		}
	}
	if ok := ask[bool](p, `document.fonts.check("640 20px 'ringwell text'") && [...document.fonts].some((f) => f.status === "loaded")`); !ok {
		t.Error("the page's own face is not loaded")
	}
}

// Nothing moves when an answer comes, is corrected, or is taken back.
func TestBrowserNothingMoves(t *testing.T) {
	ctx := browser(t)
	for _, size := range [][2]int64{{390, 844}, {1280, 800}} {
		d := newDaemon(t, "127.0.0.1:0")
		p := open(t, ctx, d, size[0], size[1], "hall")
		p.says("Strike something")
		const places = `JSON.stringify(["#answer", "#sub", "#acts", "#rail", "#trail", "#foot"].map((s) => { const b = document.querySelector(s).getBoundingClientRect(); return [s, b.x, b.y, b.width, b.height].slice(0, s === "#trail" ? 4 : 5); }))`
		before := ask[string](p, places)
		p.js(`(shifts.length = 0)`)
		var m strikes
		d.Hear(m.early())
		p.says("A4, about 10 c high")
		d.Hear(m.flowerpot())
		p.says("A4, 12 c high ±0.3")
		d.Hear(m.strike(48, 0.49))
		p.says("Between A4 and B flat 4")
		d.Hear(m.beyond())
		p.says("D7, above its top note")
		d.Hear(m.knock())
		p.says("No pitch: a knock")
		if after := ask[string](p, places); after != before {
			t.Errorf("%dx%d: what stood at\n%s\nstands at\n%s", size[0], size[1], before, after)
		}
		type shift struct {
			Value float64
			What  []string
		}
		sum := 0.0
		all := ask[[]shift](p, "shifts")
		for _, s := range all {
			// The trail grows at its head: that its rows make room is no shift of
			// what was being read.
			if !slices.Contains(s.What, "row") {
				sum += s.Value
			}
		}
		if sum > 0.001 {
			t.Errorf("%dx%d: layout shift while answers came: got %.4f by %v, wanted none", size[0], size[1], sum, all)
		}
	}
}

// What is to be touched is at least 44 px each way.
func TestBrowserTargets(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p := open(t, ctx, d, size[0], size[1], "hall")
		var m strikes
		d.Hear(m.strike(3, 0.19))
		d.Hear(m.flowerpot())
		p.until("a row", `document.querySelector("#trail button.row")`)
		p.js(`document.querySelector("#trail button.row").click()`)
		p.until("its choices", `document.querySelector("#trail .choose")`)
		small := `[...document.querySelectorAll("button, #acts a, .places a, .choose a, input, select")].filter((e) => e.offsetParent !== null)
			.map((e) => [e.textContent.trim(), e.getBoundingClientRect()]).filter(([, b]) => b.width < 44 || b.height < 44).map(([t, b]) => t + " " + b.width.toFixed(0) + "x" + b.height.toFixed(0))`
		for _, s := range ask[[]string](p, small) {
			t.Errorf("%dx%d: too small to touch: %s", size[0], size[1], s)
		}
		p.key("s")
		p.until("set up", `document.querySelector("dialog[open]")`)
		for _, s := range ask[[]string](p, small) {
			t.Errorf("%dx%d, set up: too small to touch: %s", size[0], size[1], s)
		}
	}
}

// A change of the session on one page shows on all, and a refusal is said.
func TestBrowserSetUp(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	d.Hear(m.flowerpot())
	p.says("A4, 12 c high ±0.3")
	psd := make([]float64, 1025)
	for k := range psd {
		psd[k] = 1e-6 / float64(k+1)
	}
	d.Room(listen.Room{Rate: 48000, PSD: psd, Seconds: 8})
	p.key("s")
	p.until("set up", `document.querySelector("dialog[open]")`)
	p.until("the room is drawn, told and tabled", `document.querySelectorAll("svg.room rect").length > 20 && document.querySelectorAll("dialog figure tbody tr").length === document.querySelectorAll("svg.room rect").length && /Strongest round/.test(document.querySelector("dialog figure").textContent)`)
	set := func(label, value string) {
		t.Helper()
		p.js(fmt.Sprintf(`(() => {
			const field = [...document.querySelectorAll("dialog label")].find((l) => l.textContent.startsWith(%q)).querySelector("input, select");
			field.value = %q;
			field.dispatchEvent(new Event("change", { bubbles: true }));
		})()`, label, value))
	}
	set("Instrument", "marimba 5")
	p.session("the instrument", func(s webview.Session) bool { return s.Instrument == "marimba 5" })
	set("A4 in Hz", "442")
	p.session("the reference", func(s webview.Session) bool { return s.Reference == 442 })
	set("Bend", "30")
	p.session("the bend", func(s webview.Session) bool { return s.Bend == 30 })
	set("Near enough", "4")
	p.session("the tolerance", func(s webview.Session) bool { return s.Tolerance == 4 })
	set("What is struck", "glass")
	p.session("the kind", func(s webview.Session) bool { return s.Kind == "glass" })
	set("Aim at", "note")
	p.session("a note", func(s webview.Session) bool { return s.Target != nil && *s.Target == 69 })
	p.until("the strip", `document.querySelector("#strip").textContent.includes("marimba 5, C2 to C7") && document.querySelector("#strip").textContent.includes("442 Hz") && document.querySelector("#strip").textContent.includes("aim: A4 +30")`)
	set("A4 in Hz", "500")
	p.until("the refusal is said", `document.querySelector(".fault")?.textContent === "The reference pitch must lie between 415 and 466 Hz."`)
	set("Look", "shop")
	set("Language", "de")
	p.until("German", `document.documentElement.lang === "de" && document.querySelector("dialog h2").textContent === "Einrichten"`)
	p.until("the shop", `getComputedStyle(document.documentElement).colorScheme === "light"`)
	p.faultless()
}
