package webview

import (
	"math"
	"net/http"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// Three of four objects answer, one of them changed; the fourth is missing.
func TestCallOverOverHTTP(t *testing.T) {
	r := shelved(t)
	things := map[string][]analysis.Partial{"jar": lowJar(), "high jar": highJar(), "slate": object(320, 1.7, 2.9, 4.4), "pipe": object(790, 2.75, 5.4, 8.9)}
	for _, name := range []string{"high jar", "jar", "pipe", "slate"} {
		for range 7 {
			r.keepAs(r.strike(things[name], 0), name)
		}
	}
	var c CallOverForm
	r.mustAsk("POST", "/api/shelf/call-over", m{}, &c)
	if c.Of != 4 || c.Missing != 4 || len(c.Lines) != 4 || c.Lines[0].Name != "high jar" {
		t.Fatalf("begun: got %+v, wanted four missing, by name", c)
	}
	r.strike(things["slate"], 0)
	short := lowJar()
	for i := range short {
		short[i].T60 *= 0.4
	}
	r.strike(short, 0)
	fallen := r.strike(things["pipe"], -70)
	r.strike(object(555, 3.3, 3.9), 0) // of no collection
	eventually(t, "all four are counted", func() bool {
		r.mustAsk("GET", "/api/shelf/call-over", nil, &c)
		return c.Present+c.Suspect+len(c.Unsure)+c.Strangers == 4
	})
	if c.Present != 1 || c.Suspect != 1 || c.Missing != 2 || c.Strangers != 1 || len(c.Unsure) != 1 || c.Unsure[0].Strike != fallen || c.Unsure[0].Candidates[0].Label != "pipe" {
		t.Fatalf("got %+v, wanted one present, one suspect, the pipe unsure, one stranger", c)
	}
	r.mustAsk("PATCH", "/api/shelf/call-over", m{"strike": fallen, "object": c.Unsure[0].Candidates[0].Object}, &c)
	if c.Suspect != 2 || c.Missing != 1 || len(c.Unsure) != 0 {
		t.Errorf("once it is said: got %+v, wanted two suspect", c)
	}
	for _, l := range c.Lines {
		if (l.Answer == match.Missing) != (l.Name == "high jar") || (l.Name == "pipe") != (l.Moved != nil && *l.Moved < -60) {
			t.Errorf("line: got %+v", l)
		}
	}
	if status, _, _ := r.ask("DELETE", "/api/shelf/call-over", nil); status != http.StatusNoContent {
		t.Errorf("ended: got %d", status)
	}
}

// A vibraphone is walked along over HTTP and then is an instrument.
func TestWalkOverHTTP(t *testing.T) {
	r := shelved(t)
	var w WalkForm
	r.mustAsk("POST", "/api/shelf/walk", m{"name": "my vibraphone", "like": "vibraphone"}, &w)
	for range 3 {
		id := r.strike([]analysis.Partial{{Frequency: analysis.Hz(440 * math.Exp2(float64(*w.At-69)/12)).Shift(5), Sigma: 0.2, T60: 3}}, 0)
		r.told(id, "it is told", func(s Strike) bool { return true })
		was := w.Measured
		eventually(t, "the note is taken", func() bool {
			r.mustAsk("GET", "/api/shelf/walk", nil, &w)
			return w.Measured == was+1
		})
	}
	if w.Notes[0].Strikes != 1 || math.Abs(w.Notes[0].Cents[0]-5) > 2 || *w.Note != "G#3" {
		t.Errorf("after three notes: got %+v at %v, wanted G#3 at hand", w.Notes[:4], *w.Note)
	}
	r.mustAsk("PATCH", "/api/shelf/walk", m{"skip": true}, &w)
	r.mustAsk("PATCH", "/api/shelf/walk", m{"back": true}, &w)
	r.mustAsk("PATCH", "/api/shelf/walk", m{"to": 60}, &w)
	if *w.At != 60 {
		t.Errorf("to C4: got %d", *w.At)
	}
	if status, _, _ := r.ask("PATCH", "/api/shelf/walk", m{"to": 3}); status != 422 {
		t.Errorf("to a note it has not: got %d, wanted 422", status)
	}
	var done m
	r.mustAsk("POST", "/api/shelf/walk/finish", m{}, &done)
	var list struct{ Instruments []string }
	r.mustAsk("GET", "/api/instruments", nil, &list)
	if done["instrument"] != "my vibraphone" || list.Instruments[0] != "my vibraphone" {
		t.Errorf("finished: got %v, instruments %v", done, list.Instruments)
	}
	if status, _, _ := r.ask("POST", "/api/shelf/walk", m{"name": "my vibraphone", "like": "vibraphone"}); status != 422 {
		t.Errorf("a second one of that name: got %d, wanted 422", status)
	}
	if status, got, _ := r.ask("DELETE", "/api/shelf/instruments/my%20vibraphone", nil); status != http.StatusNoContent {
		t.Errorf("removed: got %d %s", status, got)
	}
}
