package webview

import (
	"net/http"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// From the first tap on an unknown object to its being named, kept by itself on
// the stand, and put away.
func TestKeepingFromTheTrail(t *testing.T) {
	r := shelved(t)
	first := r.strike(lowJar(), 0)
	if status, got, _ := r.ask("POST", "/api/strikes/nobody/keep", m{}); status != http.StatusNotFound {
		t.Errorf("no such strike: got %d %s, wanted 404", status, got)
	}
	one := r.keep(first, m{"name": "jar 7", "kind": "glass", "place": "rim"})
	if !one.MadeObject || !one.MadeVoice || one.Kept.Label != "jar 7, rim" || one.Health.Known {
		t.Fatalf("a new object: got %+v, wanted jar 7, rim, of which nothing is known", one)
	}
	if again := r.keep(first, m{}); again.Kept.Voice != one.Kept.Voice || again.MadeObject {
		t.Errorf("a second tap: got %+v, wanted the same", again)
	}
	second := r.strike(lowJar(), 2)
	s := r.told(second, "it is recognised", func(s Strike) bool { return s.Recognised != nil })
	if s.Recognised.Answer != "known" || s.Recognised.Words != "jar 7, rim" || len(s.Recognised.Candidates) != 1 || s.Recognised.Candidates[0].Voice != one.Kept.Voice {
		t.Errorf("the same jar: got %+v, wanted jar 7, rim", s.Recognised)
	}
	if k := r.keep(second, m{}); k.Kept.Voice != one.Kept.Voice || k.MadeObject || k.MadeVoice {
		t.Errorf("one tap on what is known: got %+v, wanted jar 7", k)
	}
	other := r.strike(highJar(), 0)
	s = r.told(other, "it is looked at", func(s Strike) bool { return s.Recognised != nil })
	if s.Recognised.Answer != "new" || len(s.Recognised.Candidates) != 0 {
		t.Errorf("another jar: got %+v, wanted new", s.Recognised)
	}
	if k := r.keep(other, m{}); !k.MadeObject || k.Kept.Label != "Object 2" {
		t.Errorf("one tap on what is new: got %+v, wanted Object 2", k)
	}
	if status, got, _ := r.ask("POST", "/api/strikes/"+other+"/keep", m{"voice": one.Kept.Voice}); status != http.StatusConflict {
		t.Errorf("as another voice: got %d %s, wanted 409", status, got)
	}
	var moved KeptForm
	r.mustAsk("PATCH", "/api/shelf/strikes/"+other, m{"voice": one.Kept.Voice, "note": "a slip"}, &moved)
	if moved.Voice != one.Kept.Voice || moved.Note != "a slip" {
		t.Errorf("moved: got voice %s, note %q", moved.Voice, moved.Note)
	}
	r.mustAsk("DELETE", "/api/shelf/strikes/"+other, nil, &m{})
	// On the stand every strike is kept as it ends.
	var shelf ShelfForm
	r.mustAsk("PATCH", "/api/shelf", m{"stand": one.Kept.Voice, "temperature_c": 19.5, "room": "hall"}, &shelf)
	if shelf.Stand == nil || shelf.Stand.Label != "jar 7, rim" || shelf.Strikes != 2 || shelf.Away != 1 {
		t.Fatalf("the stand: got %+v, wanted jar 7 on it, 2 strikes and 1 away", shelf)
	}
	var last string
	for range 5 {
		last = r.strike(lowJar(), 0)
		r.told(last, "it is kept by itself", func(s Strike) bool { return s.Kept != nil })
	}
	var kept KeptForm
	r.mustAsk("GET", "/api/shelf/strikes/"+last, nil, &kept)
	if kept.Temperature == nil || *kept.Temperature != 19.5 || kept.Room != "hall" || kept.Analysis != "ear 1" || kept.Recording != "/api/shelf/strikes/"+last+".wav" {
		t.Errorf("kept: got %+v, wanted 19.5 °C, hall, ear 1", kept)
	}
	if status, got, h := r.ask("GET", kept.Recording, nil); status != http.StatusOK || h.Get("Content-Type") != "audio/wav" || len(got) != 8+4*8800 {
		t.Errorf("recording: got %d, %d bytes of %s", status, len(got), h.Get("Content-Type"))
	}
	// What falls by 25 cents sounds like no shelf's jar any more; on the stand it
	// is kept as the jar, and suspect.
	r.mustAsk("PATCH", "/api/shelf", m{"stand": one.Kept.Voice}, &shelf)
	fallen := r.strike(lowJar(), -25)
	s = r.told(fallen, "it is kept and judged", func(s Strike) bool { return s.Kept != nil && s.Health != nil })
	if !s.Health.Suspect || s.Health.Changes[0].What != match.Fell || !strings.Contains(s.Health.Advice, "consistent with a crack") || !strings.Contains(s.Health.Advice, "sharp pieces") {
		t.Errorf("25 cents lower: got %+v, wanted suspect, with advice for glass", s.Health)
	}
	var o ObjectForm
	r.mustAsk("GET", "/api/shelf/objects/"+one.Kept.Object, nil, &o)
	if o.State != catalogue.Suspect || len(o.States) != 2 || !strings.Contains(o.States[1].Note, "lower") {
		t.Errorf("the object: got %s, %+v, wanted suspect and why", o.State, o.States)
	}
	var h HealthForm
	r.mustAsk("GET", "/api/shelf/voices/"+one.Kept.Voice+"/health", nil, &h)
	if !h.Suspect {
		t.Errorf("the voice's health: got %+v, wanted suspect", h)
	}
	// What is invented is never kept among what is real.
	demo := analysis.Strike{ID: "01KAY000000000000000000001", Revision: 1, Stage: analysis.Final, Source: "demo scene", Rate: strikeRate, To: 100, Partials: lowJar()}
	r.mustAsk("PATCH", "/api/shelf", m{"stand": nil}, &shelf)
	r.Hear(demo)
	r.Keep(demo, make([]float32, 100))
	if status, got, _ := r.ask("POST", "/api/strikes/"+demo.ID+"/keep", m{}); status != http.StatusConflict || !strings.Contains(string(got), "invented") {
		t.Errorf("the demo scene on a real shelf: got %d %s, wanted 409", status, got)
	}
}
