package webview

import (
	"fmt"
	"net/http"
	"path/filepath"
	"testing"

	"ringwell/analysis"
)

// basin is a strike on an enamel basin of which the ear takes the lowest mode;
// by is how far all of it lies from the first one, in cents.
func basin(n int, by analysis.Cents) analysis.Strike {
	s := analysis.Strike{
		ID: fmt.Sprintf("01JDHZ8Q2R%016d", n), Revision: 1, Stage: analysis.Final, Source: "hall pair", Rate: 48000,
		Heard: &analysis.Pitch{Frequency: analysis.Hz(311).Shift(by), Sigma: .2, Basis: analysis.OnPartial, Partial: 0, Likelihood: .7},
	}
	for i, f := range []analysis.Hz{311, 842, 1565, 2410} {
		s.Partials = append(s.Partials, analysis.Partial{Frequency: f.Shift(by), Sigma: .3, Level: -3 * float64(i), T60: 2 / float64(i+1)})
	}
	return s
}

// plank is another thing with a partial where the basin has one.
func plank(n int) analysis.Strike {
	s := basin(n, 0)
	s.Partials = []analysis.Partial{{Frequency: 318, T60: .3}, {Frequency: 845, T60: .2, Level: -5}, {Frequency: 1490, T60: .1, Level: -12}}
	s.Heard = &analysis.Pitch{Frequency: 318, Basis: analysis.OnPartial, Likelihood: .98}
	return s
}

// A pin on one strike holds for those of the same object before and after it,
// for no others, across a restart, until it is taken away.
func TestPin(t *testing.T) {
	path := filepath.Join(t.TempDir(), "session.json")
	r := start(t, Config{SessionPath: path})
	r.Hear(basin(1, 0))
	r.Hear(basin(2, 5))
	r.Hear(plank(3))
	p := r.dial()
	p.expect(typeHello)

	var got Strike
	r.mustAsk("POST", "/api/strikes/"+basin(2, 0).ID+"/pin", map[string]any{"partial": 1}, &got)
	if !got.Pinned || got.Heard.Partial == nil || *got.Heard.Partial != 1 || got.Heard.Likelihood != 1 || got.Landing == nil || got.Landing.Note != "G#5" {
		t.Errorf("the pinned strike: got pinned %v, heard %+v, landing %+v; wanted partial 1, a G#5", got.Pinned, got.Heard, got.Landing)
	}
	if got.Second == nil || got.Second.Partial == nil || *got.Second.Partial != 0 {
		t.Errorf("the pinned strike: got second %+v, wanted what the ear says", got.Second)
	}
	told := p.expect(typeTrail)
	want := func(when string, all []Strike, pinned ...bool) {
		t.Helper()
		if len(all) != len(pinned) {
			t.Fatalf("%s: got %d strikes, wanted %d", when, len(all), len(pinned))
		}
		for i := range all {
			if all[i].Pinned != pinned[i] || all[i].Verdict != nil {
				t.Errorf("%s, strike %d: got pinned %v, heard %+v; wanted pinned %v", when, i+1, all[i].Pinned, all[i].Heard, pinned[i])
			}
		}
	}
	want("after the pin", told.Strikes, true, true, false)

	r.Hear(basin(4, -12))
	if s := p.expect(typeStrike).Strike; !s.Pinned || s.Heard.Frequency < 830 {
		t.Errorf("the same object struck again: got pinned %v, %.1f Hz; wanted its second mode", s.Pinned, s.Heard.Frequency)
	}
	if f := r.Form(basin(9, 3)); !f.Pinned {
		t.Error("a strike shown elsewhere: got it not pinned")
	}
	r.stop()

	again := start(t, Config{SessionPath: path})
	again.Hear(basin(5, 2))
	again.Hear(plank(6))
	var all struct{ Strikes []Strike }
	again.mustAsk("GET", "/api/strikes", nil, &all)
	want("after a restart", all.Strikes, true, false)
	again.mustAsk("DELETE", "/api/strikes/"+basin(5, 0).ID+"/pin", nil, &got)
	if got.Pinned || got.Heard.Frequency > 400 {
		t.Errorf("taken away: got pinned %v, %.1f Hz; wanted what the ear says", got.Pinned, got.Heard.Frequency)
	}
	again.Hear(basin(7, 0))
	again.mustAsk("GET", "/api/strikes", nil, &all)
	want("with the pin taken away", all.Strikes, false, false, false)
}

// Pinned anew, the later pin holds alone; a later telling of a strike keeps it.
func TestPinAnew(t *testing.T) {
	r := start(t, Config{})
	s := basin(1, 0)
	r.Hear(s)
	var got Strike
	for _, c := range []struct {
		body any
		at   int
	}{{map[string]any{"partial": 1}, 1}, {map[string]any{"frequency_hz": 1570}, 2}} {
		if r.mustAsk("POST", "/api/strikes/"+s.ID+"/pin", c.body, &got); got.Heard.Partial == nil || *got.Heard.Partial != c.at {
			t.Errorf("%v: got %+v, wanted partial %d", c.body, got.Heard, c.at)
		}
	}
	s.Revision = 2
	s.Partials = append([]analysis.Partial{{Frequency: 120, Level: -30, T60: .2}}, s.Partials...)
	s.Heard.Partial = 1
	r.Hear(s)
	if r.mustAsk("GET", "/api/strikes/"+s.ID, nil, &got); !got.Pinned || *got.Heard.Partial != 3 {
		t.Errorf("told again with one more partial: got pinned %v, partial %v; wanted partial 3", got.Pinned, *got.Heard.Partial)
	}
	if r.mustAsk("DELETE", "/api/strikes/"+s.ID+"/pin", nil, &got); got.Pinned {
		t.Error("one DELETE after two pins: still pinned")
	}
}

func TestPinRefused(t *testing.T) {
	r := start(t, Config{})
	r.Hear(basin(1, 0))
	k := knock()
	r.Hear(k)
	for _, c := range []struct {
		why    string
		id     string
		body   any
		status int
	}{
		{"no such strike", "01JDHZ8Q2R0000000000000099", map[string]any{"partial": 0}, http.StatusNotFound},
		{"a knock", k.ID, map[string]any{"partial": 0}, http.StatusConflict},
		{"no such partial", basin(1, 0).ID, map[string]any{"partial": 4}, http.StatusUnprocessableEntity},
		{"a partial before the first", basin(1, 0).ID, map[string]any{"partial": -1}, http.StatusUnprocessableEntity},
		{"no partial there", basin(1, 0).ID, map[string]any{"frequency_hz": 500}, http.StatusUnprocessableEntity},
		{"not a frequency", basin(1, 0).ID, map[string]any{"frequency_hz": -1}, http.StatusUnprocessableEntity},
		{"neither", basin(1, 0).ID, map[string]any{}, http.StatusUnprocessableEntity},
		{"both", basin(1, 0).ID, map[string]any{"partial": 0, "frequency_hz": 311}, http.StatusUnprocessableEntity},
		{"a word", basin(1, 0).ID, map[string]any{"partial": "second"}, http.StatusBadRequest},
	} {
		if status, got, _ := r.ask("POST", "/api/strikes/"+c.id+"/pin", c.body); status != c.status {
			t.Errorf("%s: got %d %s, wanted %d", c.why, status, got, c.status)
		}
	}
	if status, _, _ := r.ask("DELETE", "/api/strikes/01JDHZ8Q2R0000000000000099/pin", nil); status != http.StatusNotFound {
		t.Errorf("taking a pin from no strike: got %d, wanted 404", status)
	}
}

// A file that somebody wrote by hand makes no pin that is none.
func TestPinsLoaded(t *testing.T) {
	many := make([]savedPin, pinsKept+5)
	for i := range many {
		many[i] = savedPin{"x", float64(100 + i), nil}
	}
	got := loadPins(append([]savedPin{{"a", -1, nil}, {"b", 0, nil}, {"c", 440, []savedBeside{{-1, 0}, {2, 90}, {3, -6}}}}, many...))
	if len(got) != pinsKept || got[pinsKept-1].Frequency != 100+pinsKept+4 {
		t.Errorf("got %d pins, wanted the last %d", len(got), pinsKept)
	}
	if got := loadPins([]savedPin{{"c", 440, []savedBeside{{-1, 0}, {2, 90}, {3, -6}}}}); len(got) != 1 || len(got[0].Beside) != 1 {
		t.Errorf("got %+v, wanted one pin with one partial beside it", got)
	}
}
