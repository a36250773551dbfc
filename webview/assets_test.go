package webview

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"testing"
	"testing/fstest"
)

func TestPageFiles(t *testing.T) {
	script := bytes.Repeat([]byte("draw(stone); "), 500)
	files, err := readAssets(fstest.MapFS{
		"index.html": {Data: []byte("<!doctype html>")}, "app.js": {Data: script}, "app.css": {Data: []byte("a{}")},
		"text.woff2": {Data: []byte{1, 2, 3}}, "odd": {Data: []byte("x")},
	})
	if err != nil {
		t.Fatal(err)
	}
	r := start(t, Config{}, func(s *Server) {
		s.page = files
		s.http.Handler = s.guard(s.page)
	})
	for path, kind := range map[string]string{
		"/": "text/html; charset=utf-8", "/index.html": "text/html; charset=utf-8", "/app.js": "text/javascript; charset=utf-8",
		"/app.css": "text/css; charset=utf-8", "/text.woff2": "font/woff2", "/odd": "text/plain; charset=utf-8",
	} {
		status, _, h := r.ask("GET", path, nil)
		if status != 200 || h.Get("Content-Type") != kind || h.Get("ETag") == "" {
			t.Errorf("%s: got %d, %q, tag %q, wanted 200, %q and a tag", path, status, h.Get("Content-Type"), h.Get("ETag"), kind)
		}
	}
	for _, encoding := range []string{"identity", "gzip"} {
		req, err := http.NewRequest("GET", "http://"+r.addr+"/app.js", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Encoding", encoding)
		status, got, h := r.do(req)
		if encoding == "gzip" {
			if len(got) >= len(script) {
				t.Errorf("gzip: got %d bytes of %d, wanted fewer", len(got), len(script))
			}
			z, err := gzip.NewReader(bytes.NewReader(got))
			if err != nil {
				t.Fatal(err)
			}
			if got, err = io.ReadAll(z); err != nil {
				t.Fatal(err)
			}
		}
		if status != 200 || !bytes.Equal(got, script) {
			t.Errorf("%s: got %d and %d bytes, wanted 200 and the %d of the file", encoding, status, len(got), len(script))
		}
		req.Header.Set("If-None-Match", h.Get("ETag"))
		if status, got, _ := r.do(req); status != http.StatusNotModified || len(got) > 0 {
			t.Errorf("%s, asked again with its tag: got %d and %d bytes, wanted 304 and none", encoding, status, len(got))
		}
	}
}

// The policy allows no code or style inside the page, so the page must not
// hold any, or it would silently not work.
func TestPageHoldsNothingInline(t *testing.T) {
	files, err := pageFiles()
	if err != nil {
		t.Fatal(err)
	}
	page, ok := files["/"]
	if !ok || len(page.plain) == 0 {
		t.Fatal("no index.html is embedded")
	}
	for what, pattern := range map[string]string{
		"a script without src": `(?i)<script(?:\s+[^>]*)?>\s*[^<\s]`,
		"a style element":      `(?i)<style`,
		"a style attribute":    `(?i)\sstyle\s*=`,
		"an event attribute":   `(?i)\son[a-z]+\s*=`,
		"something from afar":  `(?i)(?:src|href)\s*=\s*["']?(?:https?:)?//`,
	} {
		if found := regexp.MustCompile(pattern).Find(page.plain); found != nil {
			t.Errorf("index.html holds %s: %s", what, found)
		}
	}
}
