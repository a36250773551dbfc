package webview_test

import (
	"fmt"
	"testing"
)

// A row of the trail can be named, compared and kept.
func TestBrowserTrail(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	var m strikes
	jar := m.strike(-31, 0.29)
	d.Hear(jar)
	d.Keep(jar, make([]float32, 4800))
	d.Hear(m.flowerpot())
	p.says("A4, 12 c high ±0.3")
	p.js(`document.querySelector("#trail button.row").click()`)
	p.until("the sound is offered", `document.querySelector("#trail .choose a[download]")`)
	if got := ask[string](p, `fetch(document.querySelector("#trail .choose a[download]").href).then((r) => r.text())`); got != "RIFF of 4800 samples" {
		t.Errorf("the sound behind the link: got %q, wanted that of the strike", got)
	}

	p.js(`[...document.querySelectorAll("#trail .choose button")].find((b) => b.textContent === "Name").click()`)
	p.until("the name is asked for", `document.activeElement.name === "name"`)
	const name = `blue jar <b>`
	p.js(fmt.Sprintf(`(document.activeElement.value = %q, document.querySelector("#trail form").requestSubmit())`, name))
	p.until("it has its name", fmt.Sprintf(`document.querySelector("#trail .who bdi").textContent === %q && !document.querySelector("#trail form")`, name))

	p.js(`document.querySelector("#trail button.row").click()`)
	p.until("the row opens", `document.querySelector("#trail .choose")`)
	p.js(`[...document.querySelectorAll("#trail .choose button")].find((b) => b.textContent === "Compare").click()`)
	p.under("Beside blue jar <b>: 43 c higher ±0.5.")
	p.shows(map[string]int{"#trail li.now": 1})
	d.Hear(m.strike(-31, 0.29))
	p.under("Beside blue jar <b>: at the same place ±0.5.")
	p.faultless()
}

// How soon a page shows itself, told and not judged: the machine is shared.
func TestBrowserFirstPaint(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.until("a first paint", `performance.getEntriesByType("paint").length > 0`)
	got := ask[float64](p, `performance.getEntriesByType("paint").find((e) => e.name === "first-contentful-paint")?.startTime ?? -1`)
	t.Logf("first paint with something in it after %.0f ms", got)
	if got <= 0 {
		t.Error("the page has shown nothing")
	}
}
