package webview

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:generate go run ./page/build

// dist is the page as page/build makes it. It is committed, so that building
// ringwell needs no Node.
//
//go:embed page/dist
var dist embed.FS

// assets are the files of the page, read once.
type assets map[string]asset

type asset struct {
	kind   string // content type
	tag    string // of the plain bytes
	plain  []byte
	packed []byte // gzip; nil where that saves nothing
}

// kinds of files the page is made of. The machine's own table is not asked: it
// may say anything.
func contentType(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	case ".woff2":
		return "font/woff2"
	case ".webmanifest":
		return "application/manifest+json"
	}
	return "text/plain; charset=utf-8"
}

func pageFiles() (assets, error) {
	root, err := fs.Sub(dist, "page/dist")
	if err != nil {
		return nil, err
	}
	return readAssets(root)
}

func readAssets(root fs.FS) (assets, error) {
	all := assets{}
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		plain, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		all["/"+name] = asset{contentType(name), fmt.Sprintf("%x", sha256.Sum256(plain))[:20], plain, pack(plain)}
		return nil
	})
	all["/"] = all["/index.html"]
	return all, err
}

func pack(plain []byte) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // errs on an unknown level only
	w.Write(plain)                                        // a bytes.Buffer takes all
	w.Close()
	if b.Len() > len(plain)*9/10 {
		return nil
	}
	return b.Bytes()
}

// ServeHTTP serves a file of the page, or says in words that there is none.
func (all assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a, ok := all[r.URL.Path]
	if !ok || a.plain == nil {
		answerRefusal(w, refuse(http.StatusNotFound, "", "There is nothing at %s. The page is at /.", r.URL.Path))
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		answerMethod(w, r, "GET, HEAD")
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	h.Set("Cache-Control", "no-cache") // ask again each time; the tag makes that cheap
	h.Set("Vary", "Accept-Encoding")
	data, tag := a.plain, a.tag
	if a.packed != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		data, tag = a.packed, a.tag+"-gz"
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}
