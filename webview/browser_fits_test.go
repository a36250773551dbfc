package webview_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/chromedp/chromedp"
)

// inEveryLook runs a test on a page of its own in every look, tongue and size.
// named tells the run from the others in the names of pictures.
func inEveryLook(t *testing.T, run func(t *testing.T, d *daemon, p *page, named string)) {
	t.Helper()
	ctx := browser(t)
	for _, look := range []string{"hall", "shop"} {
		for _, tongue := range []string{"en", "de", "fr"} {
			for _, size := range [][2]int64{{360, 740}, {390, 844}, {1280, 800}} {
				t.Run(fmt.Sprintf("%s %s %d", look, tongue, size[0]), func(t *testing.T) {
					d := newDaemon(t, "127.0.0.1:0")
					p := openIn(t, ctx, d, size[0], size[1], look, tongue)
					run(t, d, p, fmt.Sprintf("%s-%s-%d", look, tongue, size[0]))
				})
			}
		}
	}
}

// accessible checks with axe-core, which is run by the test and is no part of
// the page.
func (p *page) accessible(state string) {
	p.t.Helper()
	if ask[bool](p, `typeof axe === "undefined"`) {
		axe, err := os.ReadFile("page/node_modules/axe-core/axe.min.js")
		if err != nil {
			p.t.Fatalf("%v; run npm ci --ignore-scripts in webview/page", err)
		}
		p.do(chromedp.Evaluate[chromedp.Void](string(axe)))
	}
	for _, v := range ask[[]string](p, `axe.run(document, { resultTypes: ["violations"] }).then((r) => r.violations.map((v) => v.id + ": " + v.help + ": " + v.nodes.map((n) => n.html.slice(0, 160)).join(" ; ")))`) {
		p.t.Errorf("%s: %s", state, v)
	}
}

// fits checks with axe, that nothing is wider than the page or cut, and that
// what is to be touched is large enough.
func (p *page) fits(state string) {
	p.t.Helper()
	p.accessible(state)
	if w := ask[int64](p, `document.documentElement.scrollWidth`); w > p.width {
		p.t.Errorf("%s: got a page %d px wide, wanted at most %d", state, w, p.width)
	}
	for _, s := range ask[[]string](p, `[...document.querySelectorAll("button, .places a, .choose a, #shelf .head a, #shelf .voices a, input:not([type=radio], [type=checkbox]), .pick, select, summary")].filter((e) => e.offsetParent !== null)
		.map((e) => [e.textContent.trim() || e.name, e.getBoundingClientRect()]).filter(([, b]) => b.width < 44 || b.height < 44).map(([t, b]) => t + " " + b.width.toFixed(0) + "x" + b.height.toFixed(0))`) {
		p.t.Errorf("%s: too small to touch: %s", state, s)
	}
	for _, s := range ask[[]string](p, `[...document.querySelectorAll("#answer .what, #answer .lack, .places a, .places button, .acts button, #bench button")].filter((e) => e.offsetParent !== null && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline").map((e) => e.textContent.trim())`) {
		p.t.Errorf("%s: cut: %s", state, s)
	}
	if w := ask[float64](p, `Math.max(...[...document.querySelectorAll(".places a, .places button")].filter((e) => e.offsetParent !== null).map((e) => e.getBoundingClientRect().right))`); w > float64(p.width) {
		p.t.Errorf("%s: the places reach to %.0f px of %d", state, w, p.width)
	}
}
