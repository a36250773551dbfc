package webview_test

import (
	"bytes"
	"compress/gzip"
	"os"
	"strings"
	"testing"
)

// The whole of the page's script, packed as it is sent, stays under 100 kB.
func TestPageScriptIsSmall(t *testing.T) {
	script, err := os.ReadFile("page/dist/app.js")
	if err != nil {
		t.Fatal(err)
	}
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	w.Write(script)
	w.Close()
	t.Logf("app.js: %d bytes, packed %d", len(script), packed.Len())
	if packed.Len() >= 100_000 {
		t.Errorf("app.js packed: got %d bytes, wanted under 100,000", packed.Len())
	}
}

// The page fetches nothing from elsewhere and holds no script or style in its
// HTML, as its policy asks.
func TestPageNeedsNoNetwork(t *testing.T) {
	html, err := os.ReadFile("page/dist/index.html")
	if err != nil {
		t.Fatal(err)
	}
	css, err := os.ReadFile("page/dist/app.css")
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"http://", "https://", "//fonts", " style=", "<style", "onload=", "javascript:"} {
		if strings.Contains(string(html), bad) || strings.Contains(string(css), bad) {
			t.Errorf("index.html or app.css holds %q", bad)
		}
	}
	if n := strings.Count(string(html), "<script"); n != 1 || !strings.Contains(string(html), `<script type="module" src="app.js"></script>`) {
		t.Errorf("index.html: got %d scripts, wanted app.js alone", n)
	}
}

// The licences of all that is bundled are sent with it.
func TestPageCarriesLicences(t *testing.T) {
	text, err := os.ReadFile("page/dist/licences.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"@fontsource-variable/asap 5.3.0 (OFL-1.1)", "SIL OPEN FONT LICENSE", "lit 3.3.3 (BSD-3-Clause)", "lit-html 3.3.3 (BSD-3-Clause)", "Google LLC"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("licences.txt lacks %q", want)
		}
	}
}
