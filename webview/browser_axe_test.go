package webview_test

import (
	"fmt"
	"testing"

	"ringwell/webview"
)

// axe-core says nothing against any state in either look. It is run by the
// test and is no part of the page.
func TestBrowserAxe(t *testing.T) {
	needBrowser(t)
	ctx := browser(t)
	for _, look := range []string{"hall", "shop"} {
		for _, size := range [][2]int64{{390, 844}, {1280, 800}} {
			t.Run(fmt.Sprintf("%s %dx%d", look, size[0], size[1]), func(t *testing.T) {
				d := newDaemon(t, "127.0.0.1:0")
				p := open(t, ctx, d, size[0], size[1], look)
				p.says("Strike something")
				p.accessible("waiting")
				var m strikes
				d.Hear(m.strike(3, 0.19))
				d.Hear(m.early())
				p.says("A4, about 10 c high")
				p.accessible("early")
				d.Hear(m.second())
				p.says("A4, 12 c high ±0.3")
				p.js(`document.querySelector("#trail button.row").click()`)
				p.until("a row opens", `document.querySelector("#trail .choose")`)
				p.accessible("settled, a row open")
				p.key("n")
				p.accessible("numbers")
				p.key("n")
				p.key("f")
				p.accessible("far")
				p.key("f")
				for key, dialog := range map[string]string{"s": "setup", "?": "keys"} {
					p.key(key)
					p.until(dialog, `document.querySelector("dialog[open]")`)
					p.accessible(dialog)
					p.js(`document.querySelector("dialog").close()`)
					p.until("closed", `!document.querySelector("dialog")`)
				}
				p.js(`document.querySelector(".places button:last-child").click()`)
				p.until("cautions", `document.querySelector("dialog.cautions[open]")`)
				p.accessible("cautions")
				p.js(`document.querySelector("dialog").close()`)
				yes := true
				if _, err := d.Change(webview.Change{Frozen: &yes}); err != nil {
					t.Fatal(err)
				}
				p.under("Frozen")
				p.accessible("frozen")
				d.hears("deaf", "No sound comes in: look to the cable.")
				p.says("The ear hears nothing")
				p.accessible("deaf")
				p.faultless()
			})
		}
	}
}

// Contrast as WCAG 2.2 defines it, 1.4.3 (from memory, unchecked): at least 7
// for the answer, 4.5 for other text, 3 for what is drawn.
func TestBrowserContrast(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	var m strikes
	d.Hear(m.strike(3, 0.19))
	d.Hear(m.flowerpot())
	for _, look := range []string{"hall", "shop"} {
		p := open(t, ctx, d, 1280, 800, look)
		p.says("A4, 12 c high ±0.3")
		for _, c := range []struct {
			selector, property string
			least              float64
		}{
			{"#answer .lack", "color", 7},
			{"#answer .sigma", "color", 7},
			{"#sub", "color", 4.5},
			{"#strip button", "color", 4.5},
			{"#acts kbd", "color", 4.5},
			{"#trail .who small", "color", 4.5},
			{"#trail .read", "color", 4.5},
			{".places button", "color", 4.5},
			{"#rail .r-name", "fill", 4.5},
			{"#rail .r-name.aim", "fill", 4.5},
			{"#rail .r-note", "fill", 4.5},
			{"#rail .r-say", "fill", 7},
			{"#rail .r-post", "stroke", 3},
			{"#rail .r-aim", "stroke", 3},
			{"#rail .r-line", "stroke", 3},
			{"#rail .heard .r-out", "stroke", 7},
			{"#rail .stone.plain .r-out", "stroke", 3},
			{"#trail .r-thin", "stroke", 3},
		} {
			got := ask[float64](p, fmt.Sprintf(`(() => {
				const e = document.querySelector(%q);
				const light = (c) => { const [r, g, b] = c.match(/[\d.]+/g).map((x) => x / 255).map((x) => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
				let under = e;
				while (under && /rgba\(0, 0, 0, 0\)/.test(getComputedStyle(under).backgroundColor)) under = under.parentElement;
				const [x, y] = [light(getComputedStyle(e)[%q]), light(getComputedStyle(under).backgroundColor)].sort((p, q) => q - p);
				return (x + 0.05) / (y + 0.05);
			})()`, c.selector, c.property))
			if got < c.least {
				t.Errorf("%s: %s of %s: got a contrast of %.2f, wanted at least %.1f", look, c.property, c.selector, got, c.least)
			}
		}
	}
}
