package webview_test

import (
	"context"
	"net/netip"
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"ringwell/webview"
	"ringwell/webview/share"
)

// arrives waits until one page has given way to another, at a path.
func (p *page) arrives(path string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	for ctx.Err() == nil {
		at, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.readyState === "complete" ? location.pathname : ""`))
		if err == nil && at == path {
			return
		}
	}
	p.t.Fatalf("the page never came to %s", path)
}

// From the code on the local page to a paired phone, its name and its end.
func TestBrowserPairing(t *testing.T) {
	ctx := browser(t, chromedp.Flag("ignore-certificate-errors", true))
	n, err := share.Open(share.Options{
		Dir: t.TempDir(), Names: []string{"hall"},
		Find: func() ([]share.Address, error) {
			return []share.Address{{IP: netip.MustParseAddr("127.0.0.1"), Network: netip.MustParsePrefix("127.0.0.1/32")}}, nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	d := newDaemonWith(t, "127.0.0.1:0", func(cfg *webview.Config) { cfg.Network = n })
	served := make(chan error, 1)
	go func() { served <- d.ServeShared() }()
	t.Cleanup(func() {
		d.stop()
		n.Close()
		if err := <-served; err != nil {
			t.Errorf("ServeShared: %v", err)
		}
	})
	p := open(t, ctx, d, 1280, 800, "shop")
	p.key("s")
	p.until("no device yet", `/No device is paired yet/.test(document.querySelector("dialog")?.textContent)`)
	p.press("dialog", "Show a code")
	p.until("the code is drawn", `document.querySelector("dialog img.code")?.naturalWidth > 0`)
	url := ask[string](p, `[...document.querySelectorAll("dialog .print")].map((e) => e.textContent).find((x) => x.startsWith("https://"))`)
	p.picture("pairing")
	axe, err := os.ReadFile("page/node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.Evaluate[chromedp.Void](string(axe)))
	for _, v := range ask[[]string](p, `axe.run(document, { resultTypes: ["violations"] }).then((r) => r.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.html.slice(0, 160)).join(" ; ")))`) {
		t.Errorf("devices: %s", v)
	}

	other, done := chromedp.NewContext(ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(done)
	if err := chromedp.Do(other); err != nil {
		t.Fatal(err)
	}
	phone := &page{t: t, ctx: other, d: d}
	phone.resize(390, 844)
	phone.do(chromedp.Navigate(url))
	phone.until("the secret is out of the address", `location.hash === "" && document.querySelector("#form") && !document.querySelector("#form").hidden`)
	phone.js(`void (document.querySelector("#name").value = "blue phone", document.querySelector("#pair").click())`)
	phone.arrives("/")
	phone.until("the page of the paired phone", `document.querySelector("#strip button bdi")?.textContent === "hall pair"`)
	if got := ask[string](phone, `fetch(document.querySelector("link[rel=manifest]").href).then((r) => r.json()).then((m) => m.display)`); got != "standalone" {
		t.Errorf("the manifest: got display %q", got)
	}
	phone.key("2")
	phone.until("the phone may change the list", `document.querySelector("#list")`)
	phone.write("A4\n")
	phone.press(".typing", "Save")
	p.wanted("written by the phone", func(w webview.Wanted) bool { return len(w.Places) == 1 })
	phone.key("s")
	phone.until("the phone sees itself", `/this one/.test(document.querySelector("dialog .devices")?.textContent) && !/Show a code/.test(document.querySelector("dialog").textContent)`)
	phone.picture("pairing-phone")

	p.js(`document.querySelector("dialog").close()`)
	p.until("closed", `!document.querySelector("dialog")`)
	p.key("s")
	p.until("the list has it", `document.querySelector("dialog .devices input")?.value === "blue phone"`)
	p.js(`void (document.querySelector("dialog .devices input").value = "red phone", document.querySelector("dialog .devices button[type=submit]").click())`)
	p.until("renamed", `fetch("/api/devices").then((r) => r.json()).then((a) => window.named = a.devices[0].name), window.named === "red phone"`)
	p.press("dialog .devices", "Remove")
	p.press("dialog .devices", "Remove for good")
	p.until("removed", `/No device is paired yet/.test(document.querySelector("dialog")?.textContent)`)
	phone.says("This device is not paired")
	phone.picture("pairing-revoked")
	if got := ask[int](phone, `fetch("/api/strikes").then((r) => r.status)`); got != 401 {
		t.Errorf("a revoked device that asks on: got status %d, wanted 401", got)
	}
	p.faultless()
}
