package webview

import (
	"bytes"
	"image"
	"image/jpeg"
	"net/http"
	"strings"
	"testing"

	"ringwell/analysis/catalogue"
)

func TestObjectsAndVoices(t *testing.T) {
	r := shelved(t)
	var o ObjectForm
	status, got, _ := r.ask("POST", "/api/shelf/objects", m{"name": "jar 7", "kind": "glass", "material": "soda-lime glass", "height_mm": 121, "kept_at": "crate B", "notes": "<b>lid lost</b>"})
	if status != http.StatusCreated {
		t.Fatalf("add: got %d %s, wanted 201", status, got)
	}
	var list struct{ Objects []ObjectForm }
	r.mustAsk("GET", "/api/shelf/objects?words=LID+lost&kept_at=crate", nil, &list)
	if len(list.Objects) != 1 || list.Objects[0].Name != "jar 7" || *list.Objects[0].Height != 121 || list.Objects[0].Mass != nil || list.Objects[0].State != catalogue.Whole {
		t.Fatalf("found: got %+v, wanted jar 7, whole", list.Objects)
	}
	path := "/api/shelf/objects/" + list.Objects[0].ID
	r.mustAsk("PATCH", path, m{"height_mm": nil, "mass_g": 286.5, "material": "glass"}, &o)
	if o.Height != nil || *o.Mass != 286.5 || o.Material != "glass" || o.KeptAt != "crate B" {
		t.Errorf("changed: got %+v", o)
	}
	r.mustAsk("POST", path+"/state", m{"state": "lent", "note": "to the trio"}, &o)
	if o.State != catalogue.Lent || len(o.States) != 2 || o.States[1].Note != "to the trio" {
		t.Errorf("lent: got %+v", o.States)
	}
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewRGBA(image.Rect(0, 0, 60, 40)), nil); err != nil {
		t.Fatal(err)
	}
	send := func(kind string, body []byte) (int, []byte) {
		req, err := http.NewRequest("PUT", "http://"+r.addr+path+"/photo", bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", kind)
		r.sign(req)
		status, got, _ := r.do(req)
		return status, got
	}
	if status, got := send("image/jpeg", photo.Bytes()); status != http.StatusOK {
		t.Fatalf("photo: got %d %s, wanted 200", status, got)
	}
	r.mustAsk("GET", path, nil, &o)
	if status, got, h := r.ask("GET", *o.Photo, nil); status != http.StatusOK || h.Get("Content-Type") != "image/jpeg" || !bytes.HasPrefix(got, []byte("\xff\xd8\xff")) {
		t.Errorf("photo: got %d, %s", status, h.Get("Content-Type"))
	}
	for what, c := range map[string]struct {
		kind   string
		body   []byte
		status int
	}{
		"no picture":   {"image/png", []byte("GIF89a"), http.StatusUnprocessableEntity},
		"text":         {"text/plain", photo.Bytes(), http.StatusUnsupportedMediaType},
		"nothing":      {"image/jpeg", nil, http.StatusUnprocessableEntity},
		"half of one":  {"image/jpeg", photo.Bytes()[:200], http.StatusUnprocessableEntity},
		"far too long": {"image/jpeg", append([]byte("\xff\xd8\xff"), make([]byte, photoLimit)...), http.StatusRequestEntityTooLarge},
	} {
		if status, got := send(c.kind, c.body); status != c.status {
			t.Errorf("photo, %s: got %d %s, wanted %d", what, status, got, c.status)
		}
	}
	var v VoiceForm
	status, got, _ = r.ask("POST", path+"/voices", m{"place": "rim", "beater": "felt"})
	if status != http.StatusCreated {
		t.Fatalf("voice: got %d %s", status, got)
	}
	r.mustAsk("GET", path, nil, &o)
	r.mustAsk("PATCH", "/api/shelf/voices/"+o.Voices[0].ID, m{"support": "foam", "pinned_hz": 741}, &v)
	if v.Label != "jar 7, rim, felt, foam" || *v.Pinned != 741 || v.Strikes != 0 || v.Pitch != nil || v.Level != nil {
		t.Errorf("voice: got %+v", v)
	}
	// Put away, and taken back.
	r.mustAsk("DELETE", "/api/shelf/voices/"+v.ID, nil, &m{})
	r.mustAsk("DELETE", path, nil, &m{})
	var away struct {
		Objects []ObjectForm
		Voices  []VoiceForm
		Strikes []KeptForm
	}
	r.mustAsk("GET", "/api/shelf/away", nil, &away)
	if len(away.Objects) != 1 || len(away.Voices) != 1 || len(away.Strikes) != 0 {
		t.Errorf("away: got %+v, wanted the jar and its voice", away)
	}
	r.mustAsk("POST", path+"/restore", m{}, &m{})
	r.mustAsk("POST", "/api/shelf/voices/"+v.ID+"/restore", m{}, &m{})
	var emptied m
	for _, c := range []struct {
		body   m
		status int
	}{{m{}, 422}, {m{"object": o.ID, "name": "jar 7"}, http.StatusConflict}, {m{"everything": "all"}, 422}} {
		if status, got, _ := r.ask("POST", "/api/shelf/empty", c.body); status != c.status {
			t.Errorf("empty %v: got %d %s, wanted %d", c.body, status, got, c.status)
		}
	}
	r.mustAsk("DELETE", path, nil, &m{})
	if status, _, _ := r.ask("POST", "/api/shelf/empty", m{"object": o.ID, "name": "jar 8"}); status != 422 {
		t.Errorf("empty under another name: got %d, wanted 422", status)
	}
	r.mustAsk("POST", "/api/shelf/empty", m{"object": o.ID, "name": "jar 7"}, &emptied)
	if emptied["objects"] != 1.0 || emptied["voices"] != 1.0 {
		t.Errorf("emptied: got %v", emptied)
	}
	for _, c := range []struct {
		method, path string
		body         any
		status       int
	}{
		{"GET", path, nil, 404}, {"PATCH", path, m{"name": "x"}, 404}, {"POST", path + "/state", m{"state": "whole"}, 404},
		{"POST", path + "/voices", m{}, 404}, {"GET", "/api/shelf/voices/none", nil, 404}, {"GET", "/api/shelf/strikes/none", nil, 404},
		{"GET", "/api/shelf/photos/none.jpg", nil, 404}, {"GET", "/api/shelf/photos/none", nil, 404}, {"GET", "/api/shelf/strikes/..%2f..%2fx.wav", nil, 404},
		{"POST", "/api/shelf/objects", m{"name": " "}, 422}, {"POST", "/api/shelf/objects", m{"name": "x", "kind": "cloud"}, 422},
		{"POST", "/api/shelf/objects", m{"name": "x", "mass_g": -1}, 422}, {"POST", "/api/shelf/objects", m{"name": "\x1b[2J"}, 422},
		{"GET", "/api/shelf/voices?near=H9", nil, 422}, {"GET", "/api/shelf/voices?near=-3", nil, 422}, {"GET", "/api/shelf/voices?within_cents=NaN", nil, 422},
		{"GET", "/api/shelf/voices?kind=cloud", nil, 422}, {"GET", "/api/shelf/compare?a=x", nil, 404}, {"GET", "/api/shelf/compare", nil, 422},
		{"GET", "/api/shelf/pairs?beat_max_hz=1000", nil, 422}, {"GET", "/api/shelf/call-over", nil, 404}, {"POST", "/api/shelf/call-over", m{}, 422},
		{"GET", "/api/shelf/walk", nil, 404}, {"POST", "/api/shelf/walk", m{"name": "", "like": "vibraphone"}, 422}, {"POST", "/api/shelf/walk", m{"name": "x", "like": "kazoo"}, 422},
		{"PATCH", "/api/shelf", m{"temperature_c": 500}, 422}, {"PATCH", "/api/shelf", m{"stand": "none"}, 404}, {"GET", "/api/shelf/export/cats.csv", nil, 404},
		{"GET", "/api/shelf/export/x", nil, 404}, {"DELETE", "/api/shelf/instruments/none", nil, 404},
	} {
		status, got, _ := r.ask(c.method, c.path, c.body)
		if status != c.status || !strings.Contains(string(got), `"error"`) {
			t.Errorf("%s %s %v: got %d %s, wanted %d and why", c.method, c.path, c.body, status, got, c.status)
		}
	}
}
