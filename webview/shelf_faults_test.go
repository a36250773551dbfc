package webview

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"ringwell/analysis/catalogue"
)

// Without a shelf, and with one that somebody else writes to, the ear goes on
// and every answer says why.
func TestWithoutAShelf(t *testing.T) {
	none := start(t, Config{})
	if status, got, _ := none.ask("GET", "/api/shelf/objects", nil); status != http.StatusServiceUnavailable || !strings.Contains(string(got), "without a shelf") {
		t.Errorf("no shelf: got %d %s, wanted 503 and why", status, got)
	}
	ctx := context.Background()
	dir := t.TempDir()
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.AddObject(ctx, catalogue.Object{Name: "drum"}); err != nil {
		t.Fatal(err)
	}
	read, err := catalogue.OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	r := start(t, Config{Shelf: &ShelfOptions{Read: read, Notice: "Strikes cannot be kept: another ringwell has it open.", Encode: rawEncode, Decode: rawDecode}})
	var list struct{ Objects []ObjectForm }
	r.mustAsk("GET", "/api/shelf/objects", nil, &list)
	if len(list.Objects) != 1 {
		t.Errorf("to read: got %+v, wanted the drum", list.Objects)
	}
	if status, got, _ := r.ask("POST", "/api/shelf/objects", m{"name": "x"}); status != http.StatusServiceUnavailable || !strings.Contains(string(got), "another ringwell") {
		t.Errorf("to write: got %d %s, wanted 503 and why", status, got)
	}
	var shelf ShelfForm
	r.mustAsk("GET", "/api/shelf", nil, &shelf)
	if !shelf.Open || shelf.Writable || shelf.Notice == nil {
		t.Errorf("got %+v, wanted open, not writable, and why", shelf)
	}
	r.Hear(jar())
	var strikes struct{ Strikes []Strike }
	r.mustAsk("GET", "/api/strikes", nil, &strikes)
	if len(strikes.Strikes) != 1 {
		t.Errorf("the ear: got %d strikes, wanted 1", len(strikes.Strikes))
	}
}

// A recording that is missing is told where it is asked for, and takes nothing
// else with it; what a disk says in its trouble is told in words.
func TestAMissingRecording(t *testing.T) {
	r := shelved(t)
	a, b := r.strike(lowJar(), 0), r.strike(lowJar(), 1)
	r.keep(a, m{"name": "jar 7"})
	r.keep(b, m{})
	k, err := r.shelf.Read.Strike(context.Background(), a)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(r.shelf.Read.RecordingFile(k.Recording)); err != nil {
		t.Fatal(err)
	}
	if status, got, _ := r.ask("GET", "/api/shelf/strikes/"+a+".wav", nil); status != http.StatusNotFound || !strings.Contains(string(got), "ringwell shelf check") {
		t.Errorf("its sound: got %d %s, wanted 404 and what to do", status, got)
	}
	var kept KeptForm
	r.mustAsk("GET", "/api/shelf/strikes/"+a, nil, &kept)
	if len(kept.Partials) != 4 {
		t.Errorf("what was measured: got %d partials, wanted 4", len(kept.Partials))
	}
	var c CompareForm
	r.mustAsk("GET", "/api/shelf/compare?a="+a+"&b="+b, nil, &c)
	if c.A.Sound != nil || c.Spectra != nil || c.Decay != nil || len(c.Partials) != 4 || c.A.Gain != nil {
		t.Errorf("compared: got %+v, wanted the partials and no curves", c.A)
	}
	for _, c := range []struct {
		err    error
		status int
		words  string
	}{
		{fmt.Errorf("catalogue: keep: %w", catalogue.ErrFull), http.StatusInsufficientStorage, "make room"},
		{fmt.Errorf("catalogue: keep: %w", catalogue.ErrReadOnly), http.StatusInsufficientStorage, "make the folder writable"},
	} {
		got, ok := refusalOf(c.err).(*Refusal)
		if !ok || got.Status != c.status || !strings.Contains(got.Words, c.words) {
			t.Errorf("%v: got %+v, wanted %d and %q", c.err, got, c.status, c.words)
		}
	}
}

// What fails inside is told as that, and not as if somebody had asked wrongly.
func TestInnerFaultIsTold(t *testing.T) {
	w := httptest.NewRecorder()
	byMethod(map[string]handler{"GET": func(http.ResponseWriter, *http.Request) error {
		return refusalOf(errors.New("the disk is gone"))
	}}).ServeHTTP(w, httptest.NewRequest("GET", "/api/shelf", nil))
	if want := `"words":"That failed inside ringwell: webview: shelf: the disk is gone."`; w.Code != 500 || !strings.Contains(w.Body.String(), want) {
		t.Errorf("got %d, %s, wanted 500 with %s", w.Code, w.Body, want)
	}
}
