//go:build look

package webview_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"ringwell/webview"
)

// TestBrowserLook writes pictures of every state for people to look at.
//
//	RINGWELL_BROWSER=1 RINGWELL_LOOK=/tmp/look go test -tags look -run BrowserLook ./webview
func TestBrowserLook(t *testing.T) {
	ctx := browser(t)
	no := false
	bend, key := 30.0, 69
	for _, look := range []string{"hall", "shop"} {
		for _, size := range [][2]int64{{390, 844}, {1280, 800}, {1920, 1080}} {
			name := func(state string) string { return fmt.Sprintf("%s-%d-%s", look, size[0], state) }
			var m strikes
			d := newDaemon(t, "127.0.0.1:0")
			p := open(t, ctx, d, size[0], size[1], look)
			p.says("Strike something")
			d.hears("hearing", "")
			p.picture(name("waiting"))
			for _, c := range []float64{-31, 48, 96} {
				d.Hear(m.strike(c, 0.6))
			}
			d.Hear(m.knock())
			d.Hear(m.strike(3, 0.19))
			p.says("A4, 3 c high ±0.2")
			d.Hear(m.early())
			p.says("A4, about 10 c high")
			p.picture(name("early"))
			d.Hear(m.flowerpot())
			p.says("A4, 12 c high ±0.3")
			p.picture(name("settled"))
			p.key("z")
			p.until("whole", `document.querySelectorAll(".r-post").length > 20`)
			p.picture(name("whole"))
			d.Hear(m.second())
			p.until("second", `document.querySelector(".stone.second")`)
			p.picture(name("second"))
			p.key("z")
			d.Hear(m.pair())
			p.says("A4, 7 c low ±0.2")
			p.picture(name("pair"))
			d.Hear(m.beyond())
			p.says("D7, above its top note")
			p.picture(name("beyond"))
			p.key("f")
			p.picture(name("far"))
			p.key("f")
			d.Hear(m.flowerpot())
			d.Change(webview.Change{Target: webview.Key{Set: true, Note: &key}, Bend: &bend})
			p.says("A4 +30, 18 c low ±0.3")
			p.picture(name("bend"))
			p.key("n")
			p.picture(name("numbers"))
			p.key("n")
			p.key("s")
			p.until("set up", `document.querySelector("dialog[open]")`)
			p.picture(name("setup"))
			p.js(`document.querySelector("dialog").close()`)
			d.Change(webview.Change{Aim: &no})
			p.says("Rings 2.6 s, at A4")
			p.picture(name("unaimed"))
			d.hears("deaf", "No sound comes in from the hall pair: look to its cable.")
			p.says("The ear hears nothing")
			p.picture(name("deaf"))
			d.stop()
			p.says("ringwell has stopped")
			p.picture(name("gone"))
		}
	}
}

// TestBrowserPortrait takes the picture that stands in the README, of a daemon
// that is running the demo scene: a settled strike with a few on the trail.
//
//	RINGWELL_BROWSER=1 RINGWELL_LOOK=. RINGWELL_LOOK_AT=127.0.0.1:7341 go test -tags look -run BrowserPortrait ./webview
func TestBrowserPortrait(t *testing.T) {
	addr := os.Getenv("RINGWELL_LOOK_AT")
	ctx := browser(t)
	p := &page{t: t, ctx: ctx, d: &daemon{addr: addr}}
	p.resize(1280, 800)
	p.do(chromedp.Navigate("http://" + addr + "/"))
	p.js(`localStorage.setItem("ringwell.view", JSON.stringify({ look: "hall" }))`)
	p.do(chromedp.Reload())
	for i := range 10 {
		p.until("a settled strike", `document.querySelector("#answer .sigma") && document.querySelectorAll("#trail button.row").length >= 3`)
		p.js(`new Promise((done) => setTimeout(done, 250))`)
		p.picture(fmt.Sprintf("listen-%d", i))
		p.js(`(window.was = document.querySelector("#spoken").textContent, 0)`)
		p.until("another strike", `document.querySelector("#spoken").textContent !== was`)
	}
}
