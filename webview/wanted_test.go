package webview

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/wanted"
)

// plainWAV stands for the encoder, which is another package's.
func plainWAV(w io.Writer, _ analysis.Rate, sound []float32, _ int, _ *analysis.Pitch) error {
	_, err := w.Write(bytes.Repeat([]byte{'w'}, len(sound)))
	return err
}

// strikeAt is a strike with a pitch.
func strikeAt(id string, f float64, stage analysis.Stage, revision int) analysis.Strike {
	return analysis.Strike{
		ID: id, Revision: revision, Stage: stage, Source: "shop", Rate: 48000, Used: 0.1, ClockPPM: 29,
		Heard: &analysis.Pitch{Frequency: analysis.Hz(f), Sigma: 0.2, Basis: analysis.OnPartial, Partial: -1, Likelihood: 0.95},
	}
}

func (r *rig) want(text string) Wanted {
	r.t.Helper()
	var got Wanted
	r.mustAsk("PUT", "/api/wanted", map[string]string{"text": text}, &got)
	return got
}

func (r *rig) changeWanted(body string) Wanted {
	r.t.Helper()
	var got Wanted
	r.mustAsk("PATCH", "/api/wanted", json.RawMessage(body), &got)
	return got
}

func (r *rig) verdict(id string) *Verdict {
	r.t.Helper()
	var got Strike
	r.mustAsk("GET", "/api/strikes/"+id, nil, &got)
	return got.Verdict
}

func TestWantedIsWrittenAndLocated(t *testing.T) {
	r := start(t, Config{})
	got := r.want("# jars\nA4 +10\nF#\n")
	if len(got.Places) != 1 || got.Places[0].Text != "A4 +10" || got.Places[0].Line != 2 || got.Text != "# jars\nA4 +10\nF#\n" {
		t.Errorf("a list with a fault: got %+v, wanted the good line as a place and all of the text kept", got)
	}
	if len(got.Errors) != 1 || got.Errors[0].Line != 3 || got.Errors[0].Column != 1 || got.Errors[0].Length != 2 || !strings.Contains(got.Errors[0].Words, "octave") {
		t.Errorf("F# without an octave: got %+v, wanted an error at line 3, column 1 that speaks of the octave", got.Errors)
	}
	if got.Places[0].Tolerance != 10 || got.Places[0].State != placeOpen {
		t.Errorf("a place that does not say: got %+v, wanted the session's 10 cents, open", got.Places[0])
	}
	var again Wanted
	r.mustAsk("GET", "/api/wanted", nil, &again)
	if again.Text != got.Text || len(again.Errors) != 1 {
		t.Errorf("asked again: got %+v, wanted the same", again)
	}
}

func TestWantedRefused(t *testing.T) {
	r := start(t, Config{})
	r.want("A4\nB4")
	r.Hear(strikeAt("01A", 700, analysis.Final, 1))
	silent := strikeAt("01B", 0, analysis.Final, 1)
	silent.Heard = nil
	r.Hear(silent)
	before := r.Wanted()
	for name, c := range map[string]struct {
		method, body string
		status       int
	}{
		"nothing":                  {"PATCH", `{}`, 422},
		"two changes":              {"PATCH", `{"tick":"w1","undo":true}`, 422},
		"an unknown change":        {"PATCH", `{"burn":true}`, 400},
		"an unknown place":         {"PATCH", `{"tick":"w9"}`, 422},
		"an order that leaves out": {"PATCH", `{"order":["w1"]}`, 422},
		"an order that repeats":    {"PATCH", `{"order":["w1","w1"]}`, 422},
		"an unknown strike":        {"PATCH", `{"found":{"strike":"../../etc/passwd","place":"w1"}}`, 404},
		"a strike without a pitch": {"PATCH", `{"found":{"strike":"01B","place":"w1"}}`, 409},
		"found for an unknown":     {"PATCH", `{"found":{"strike":"01A","place":"w9"}}`, 422},
		"lost, that fills nothing": {"PATCH", `{"lost":"01A"}`, 404},
		"no text":                  {"PUT", `{}`, 422},
		"text that is no text":     {"PUT", `{"text":7}`, 400},
		"text longer than can be":  {"PUT", `{"text":"` + strings.Repeat("A4\\n", bodyLimit/4) + `"}`, 413},
	} {
		status, got, _ := r.ask(c.method, "/api/wanted", json.RawMessage(c.body))
		var answer struct{ Error Refusal }
		if err := json.Unmarshal(got, &answer); err != nil || status != c.status || answer.Error.Words == "" {
			t.Errorf("%s: got %d %s, wanted %d and words", name, status, got, c.status)
		}
	}
	if got := r.Wanted(); got.Revision != before.Revision || got.Text != before.Text {
		t.Errorf("after refusals only: got %+v, wanted %+v", got, before)
	}
	r.changeWanted(`{"undo":true}`) // what start wrote
	if status, got, _ := r.ask("PATCH", "/api/wanted", json.RawMessage(`{"undo":true}`)); status != 409 {
		t.Errorf("nothing to take back: got %d %s, wanted 409", status, got)
	}
}

// A strike carries its verdict from the first telling on, on the socket too.
func TestVerdictIsTold(t *testing.T) {
	r := start(t, Config{})
	r.want("A4 +-20 x2")
	p := r.dial()
	p.expect(typeHello)
	r.Hear(strikeAt("01A", 442, analysis.Early, 1))
	if v := p.expect(typeStrike).Strike.Verdict; v == nil || v.Answer != wanted.Yes || v.Place == nil || *v.Place != "w1" || v.Words == "" {
		t.Errorf("442 Hz for A4 +-20: got %+v, wanted yes for w1, with words", v)
	}
	r.want("C5\n")
	p.expect(typeWanted)
	if v := p.expect(typeTrail).Strikes[0].Verdict; v == nil || v.Answer != wanted.NotWanted {
		t.Errorf("442 Hz once only C5 is wanted: got %+v, wanted not-wanted", v)
	}
	r.want("")
	if v := r.verdict("01A"); v != nil {
		t.Errorf("an empty list: got verdict %+v, wanted null", v)
	}
}

// The kind that counts is the one in the hand when it was struck.
func TestVerdictKeepsTheKind(t *testing.T) {
	r := start(t, Config{})
	r.want("A4 bottle")
	r.mustAsk("PATCH", "/api/session", json.RawMessage(`{"kind":"bottle"}`), &struct{}{})
	r.Hear(strikeAt("01A", 440, analysis.Final, 1))
	r.mustAsk("PATCH", "/api/session", json.RawMessage(`{"kind":"bell"}`), &struct{}{})
	r.Hear(strikeAt("01B", 440, analysis.Final, 1))
	if a, b := r.verdict("01A"), r.verdict("01B"); a.Answer != wanted.Yes || b.Answer != wanted.NotWanted || b.Reason != wanted.OtherKind {
		t.Errorf("a bottle and a bell at 440 Hz for A4 bottle: got %s and %s (%s), wanted yes and not-wanted (other-kind)", a.Answer, b.Answer, b.Reason)
	}
}

func TestFoundIsKept(t *testing.T) {
	clock := newClock()
	path := filepath.Join(t.TempDir(), "state", "wanted.json")
	cfg := Config{WantedPath: path, Now: clock.Now, EncodeWAV: plainWAV}
	r := start(t, cfg)
	r.want("A4 +-20\nA4 +50 +-20\n")
	early := strikeAt("01A", 441, analysis.Early, 1)
	r.Hear(early)
	if got := r.changeWanted(`{"found":{"strike":"01A"}}`); got.Places[0].State != placeFilled || len(got.Places[0].Fills) != 1 || got.Places[0].Fills[0].Strike != "01A" {
		t.Fatalf("found: got %+v, wanted w1 filled by 01A", got.Places[0])
	}
	// It is still told better, and named.
	final := strikeAt("01A", 440.5, analysis.Final, 2)
	r.Hear(final)
	r.Keep(final, make([]float32, 4800))
	r.mustAsk("POST", "/api/strikes/01A/name", json.RawMessage(`{"name":"green one"}`), &struct{}{})
	fill := r.Wanted().Places[0].Fills[0]
	if fill.Frequency != 440.5 || fill.Name == nil || *fill.Name != "green one" || !fill.Sound {
		t.Errorf("after its last telling: got %+v, wanted 440.5 Hz, its name and sound", fill)
	}
	if v := r.verdict("01A"); v.Answer != wanted.Yes || v.Reason != wanted.FillsIt {
		t.Errorf("the verdict of what fills a place: got %+v, wanted yes (fills)", v)
	}
	// A much better one beats it, one that is as good does not.
	r.Hear(strikeAt("01B", 440.05, analysis.Final, 1))
	r.Hear(strikeAt("01C", 440.51, analysis.Final, 1))
	if b, c := r.verdict("01B"), r.verdict("01C"); b.Reason != wanted.Better || b.Beats == nil || *b.Beats != "01A" || c.Reason == wanted.Better {
		t.Errorf("beside 440.5 Hz for A4: got 440.05 Hz %+v, 440.51 Hz %+v, wanted the first better than 01A, the second not", b, c)
	}
	// The strike outlives the trail's ten minutes, with its sound; others go.
	r.tick(clock.forward(trailAge + time.Minute))
	if r.trail.find("01A") == nil || r.trail.find("01B") != nil {
		t.Errorf("after %v: got found %v, other %v, wanted the found strike only", trailAge, r.trail.find("01A") != nil, r.trail.find("01B") != nil)
	}
	sound := func(r *rig) int {
		t.Helper()
		status, body, _ := r.ask("GET", "/api/strikes/01A.wav", nil)
		if status != http.StatusOK {
			return -status
		}
		return len(body)
	}
	if got := sound(r); got != 4800 {
		t.Errorf("its sound: got %d, wanted 4800 bytes", got)
	}
	r.stop()
	for _, file := range []string{path, filepath.Join(filepath.Dir(path), "found", "01A.wav")} {
		info, err := os.Stat(file)
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: got %v, %v, wanted a file only its owner can read", file, info, err)
		}
	}
	// And the program.
	r = start(t, cfg)
	got := r.Wanted()
	if len(got.Places) != 2 || len(got.Places[0].Fills) != 1 || got.Places[0].Fills[0].Frequency != 440.5 || !got.Places[0].Fills[0].Sound {
		t.Errorf("after a restart: got %+v, wanted w1 filled as before", got.Places)
	}
	if got := sound(r); got != 4800 {
		t.Errorf("its sound after a restart: got %d, wanted 4800 bytes", got)
	}
	r.changeWanted(`{"lost":"01A"}`)
	if got := r.changeWanted(`{"undo":true}`); len(got.Places[0].Fills) != 1 || !got.Places[0].Fills[0].Sound {
		t.Errorf("lost and taken back: got %+v, wanted it to fill the place again, with sound", got.Places[0])
	}
	r.changeWanted(`{"lost":"01A"}`)
	r.stop()
	r = start(t, cfg) // nothing can be undone any more
	r.want("A4\n")
	r.stop()
	if _, err := os.Stat(filepath.Join(filepath.Dir(path), "found", "01A.wav")); !os.IsNotExist(err) {
		t.Errorf("the sound of what is no longer kept: got %v, wanted no file", err)
	}
}

// A strike that was none takes what it filled with it.
func TestWithdrawnFillsNothing(t *testing.T) {
	r := start(t, Config{})
	r.want("A4")
	r.Hear(strikeAt("01A", 440, analysis.Early, 1))
	r.changeWanted(`{"found":{"strike":"01A","place":"w1"}}`)
	r.Hear(strikeAt("01A", 440, analysis.Withdrawn, 2))
	if got := r.Wanted().Places[0]; len(got.Fills) != 0 || got.State != placeOpen {
		t.Errorf("filled by a strike that was none: got %+v, wanted it open", got)
	}
}

func TestWantedUndoOrderTick(t *testing.T) {
	r := start(t, Config{})
	r.want("A4\nB4 x2\nC5\n")
	if got := r.changeWanted(`{"order":["w3","w1","w2"]}`); got.Text != "C5\nA4\nB4 x2\n" {
		t.Errorf("reordered: got %q", got.Text)
	}
	if got := r.changeWanted(`{"tick":"w1"}`); got.Places[1].State != placeTicked {
		t.Errorf("ticked: got %+v", got.Places[1])
	}
	if got := r.changeWanted(`{"untick":"w1"}`); got.Places[1].State != placeOpen {
		t.Errorf("taken back: got %+v", got.Places[1])
	}
	// An edit keeps the places that stay, and their IDs are not used again.
	if got := r.want("B4 +10 x2\nD5\n"); got.Places[0].ID != "w2" || got.Places[1].ID != "w4" {
		t.Errorf("edited: got %+v, wanted w2 to stay and a new w4", got.Places)
	}
	for range 2 {
		r.changeWanted(`{"undo":true}`)
	}
	if got := r.Wanted(); got.Places[1].State != placeTicked || got.Text != "C5\nA4\nB4 x2\n" || got.Undo != 3 {
		t.Errorf("two changes taken back: got %+v, wanted A4 ticked and three more to take back", got)
	}
}

// A broken file is moved aside, and the list starts empty.
func TestWantedBrokenFile(t *testing.T) {
	for name, content := range map[string]string{
		"no JSON":                `{"v":1,`,
		"another version":        `{"v":7}`,
		"a line that is none":    `{"v":1,"places":[{"id":"w1","line":"Q9"}]}`,
		"two of one ID":          `{"v":1,"places":[{"id":"w1","line":"A4"},{"id":"w1","line":"A4"}]}`,
		"a fill that leads away": `{"v":1,"places":[{"id":"w1","line":"A4","fills":[{"strike":"../../x","frequency_hz":440}]}]}`,
		"a fill without a pitch": `{"v":1,"places":[{"id":"w1","line":"A4","fills":[{"strike":"01A","frequency_hz":-1}]}]}`,
	} {
		path := filepath.Join(t.TempDir(), "wanted.json")
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		r := start(t, Config{WantedPath: path})
		got := r.Wanted()
		aside, err := os.ReadFile(path + ".broken-1")
		if len(got.Places) != 0 || got.Notice == nil || !strings.Contains(*got.Notice, "broken-1") || string(aside) != content {
			t.Errorf("%s: got %+v, aside %q, %v, wanted an empty list, the file aside and a notice", name, got, aside, err)
		}
		r.stop()
	}
}

// Pinned sound is not given up for newer sound; what does not fit is not kept.
func TestPinnedSoundStays(t *testing.T) {
	tr := newTrail()
	tr.limit = 4 * 100
	tr.pins = map[string]bool{strikeN(1).ID: true}
	for i := 1; i <= 3; i++ {
		tr.put(strikeN(i), newClock().Now())
	}
	tr.keep(strikeN(1).ID, make([]float32, 60))
	if kept, silenced := tr.keep(strikeN(2).ID, make([]float32, 60)); kept || len(silenced) > 0 || tr.bytes != 240 {
		t.Errorf("beside pinned sound: got kept %v, %d silenced, %d bytes, wanted nothing kept and 240 bytes", kept, len(silenced), tr.bytes)
	}
	tr.find(strikeN(1).ID).stored = true
	if kept, silenced := tr.keep(strikeN(3).ID, make([]float32, 60)); !kept || len(silenced) != 1 || tr.bytes != 240 {
		t.Errorf("once the pinned one is in a file: got kept %v, %d silenced, %d bytes, wanted it kept in its place", kept, len(silenced), tr.bytes)
	}
}
