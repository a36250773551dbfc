package webview

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

func TestChangeRefused(t *testing.T) {
	var muted []bool
	r := start(t, Config{SetMuted: func(on bool) { muted = append(muted, on) }})
	before := r.Session()
	for name, c := range map[string]struct {
		body   string
		status int
		field  string
	}{
		"a reference too low":            {`{"reference_hz":414}`, 422, "reference_hz"},
		"a reference too high":           {`{"reference_hz":467}`, 422, "reference_hz"},
		"an unknown instrument":          {`{"instrument":"kazoo"}`, 422, "instrument"},
		"an empty instrument":            {`{"instrument":""}`, 422, "instrument"},
		"a hostile instrument":           {`{"instrument":"../../etc/passwd"}`, 422, "instrument"},
		"a bend too low":                 {`{"bend_cents":-100.1}`, 422, "bend_cents"},
		"a bend too high":                {`{"bend_cents":101}`, 422, "bend_cents"},
		"no tolerance":                   {`{"tolerance_cents":0}`, 422, "tolerance_cents"},
		"a tolerance too wide":           {`{"tolerance_cents":1e300}`, 422, "tolerance_cents"},
		"a target too low":               {`{"target":-1}`, 422, "target"},
		"a target too high":              {`{"target":128}`, 422, "target"},
		"an unknown kind":                {`{"kind":"spoon"}`, 422, "kind"},
		"an unknown purpose":             {`{"purpose":{"for":"everything"}}`, 422, "purpose"},
		"to stay with a strike, of none": {`{"frozen":true}`, 409, "frozen"},
		"to stay with an unknown strike": {`{"frozen":true,"frozen_id":"x"}`, 422, "frozen_id"},
		"one good and one bad":           {`{"bend_cents":10,"kind":"spoon"}`, 422, "kind"},
	} {
		status, got, _ := r.ask("PATCH", "/api/session", json.RawMessage(c.body))
		var answer struct{ Error Refusal }
		if err := json.Unmarshal(got, &answer); err != nil {
			t.Fatalf("%s: %v in %s", name, err, got)
		}
		if status != c.status || answer.Error.Field != c.field || answer.Error.Words == "" {
			t.Errorf("%s %s: got %d %s, wanted %d, field %q and words", name, c.body, status, got, c.status, c.field)
		}
	}
	if got := r.Session(); !reflect.DeepEqual(got, before) {
		t.Errorf("after refusals only: got %+v, wanted %+v", got, before)
	}
	if status, got, _ := r.ask("POST", "/api/tone", json.RawMessage(`{"on":true}`)); status != 409 {
		t.Errorf("a tone with nothing to aim at: got %d %s, wanted 409", status, got)
	}
	if status, got, _ := r.ask("POST", "/api/tone", json.RawMessage(`{}`)); status != 422 {
		t.Errorf("a tone neither on nor off: got %d %s, wanted 422", status, got)
	}
	if len(muted) > 0 {
		t.Errorf("after refusals only: the ear was told muted %v, wanted nothing", muted)
	}
}

// NaN cannot come as JSON, but a flag can hold it.
func TestChangeRefusesNaN(t *testing.T) {
	nan := math.NaN()
	for _, c := range []Change{{Reference: &nan}, {Bend: &nan}, {Tolerance: &nan}} {
		var r *Refusal
		if got, err := defaultSession(nil).with(c); !errors.As(err, &r) {
			t.Errorf("%+v: got %+v, %v, wanted a refusal", c, got, err)
		}
	}
}

func TestPatchSession(t *testing.T) {
	var kinds []analysis.Kind
	r := start(t, Config{SetKind: func(k analysis.Kind) { kinds = append(kinds, k) }})
	var got Session
	patch := func(body string) Session {
		t.Helper()
		got = Session{}
		r.mustAsk("PATCH", "/api/session", json.RawMessage(body), &got)
		return got
	}
	patch(`{"instrument":"Tubular Bells","reference_hz":443.5,"target":69,"bend_cents":-12.5,"tolerance_cents":3,"kind":"bell"}`)
	want := defaultSession([]string{"mic"})
	target := 69
	want.Revision, want.Instrument, want.Reference, want.Target, want.Bend, want.Tolerance, want.Kind = 1, "tubular bells", 443.5, &target, -12.5, 3, analysis.Bell
	// The note aimed at, bent: A4 at 443.5 Hz, 12.5 c lower.
	want.Tone.Frequency = number(math.Round(443.5*math.Pow(2, -12.5/1200)*1e6) / 1e6)
	if !strings.EqualFold(got.Instrument, "tubular bells") && !strings.EqualFold(got.Instrument, "tubular-bells") {
		t.Errorf("instrument: got %q, wanted the tubular bells by their own name", got.Instrument)
	}
	want.Instrument = got.Instrument
	if !reflect.DeepEqual(got, want) {
		t.Errorf("after a change of everything: got %+v, wanted %+v", got, want)
	}
	if patch(`{"bend_cents":-12.5}`); got.Revision != 1 {
		t.Errorf("after a change to the same: got revision %d, wanted 1", got.Revision)
	}
	if patch(`{"target":null}`); got.Target != nil || got.Tone.Frequency != nil || got.Bend != -12.5 {
		t.Errorf("target null: got %+v, wanted no target, no tone and the rest as it was", got)
	}
	if patch(`{"aim":false}`); got.Aim || got.Bend != -12.5 {
		t.Errorf("no aim: got %+v, wanted no aim and the bend kept for later", got)
	}
	if patch(`{}`); got.Revision != 3 {
		t.Errorf("nothing changed: got revision %d, wanted 3", got.Revision)
	}
	if wantKinds := []analysis.Kind{analysis.Unknown, analysis.Bell}; !reflect.DeepEqual(kinds, wantKinds) {
		t.Errorf("the ear was told kinds %v, wanted %v", kinds, wantKinds)
	}
}

func TestSessionKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "state", "ringwell", "session.json")
	cfg := Config{SessionPath: path, ChooseSource: func(Source) error { return nil }}
	first := start(t, cfg)
	first.Hear(jar())
	var want Session
	first.mustAsk("POST", "/api/source", Source{"demo", ""}, &want)
	first.mustAsk("PATCH", "/api/session", json.RawMessage(`{"instrument":"marimba","reference_hz":442,"target":60,"bend_cents":30,"aim":true,"kind":"plate","frozen":true}`), &want)
	first.mustAsk("POST", "/api/tone", json.RawMessage(`{"on":true}`), &want)
	first.stop()

	for file, mode := range map[string]os.FileMode{path: 0o600, filepath.Dir(path): 0o700 | os.ModeDir} {
		info, err := os.Stat(file)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode() != mode {
			t.Errorf("%s: got mode %v, wanted %v", file, info.Mode(), mode)
		}
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("beside the session: got %v, %v, wanted nothing else", left, err)
	}

	got := start(t, cfg).Session()
	want.Frozen, want.FrozenID, want.Tone.On, want.Muted = false, nil, false, false // these do not outlive the program
	if !reflect.DeepEqual(got, want) {
		t.Errorf("after a restart: got %+v, wanted %+v", got, want)
	}
}

func TestSessionFileBroken(t *testing.T) {
	fresh := defaultSession([]string{"mic", "demo"})
	for name, c := range map[string]struct {
		file   string
		aside  bool   // it is moved aside
		notice string // what is said must hold this
		want   func(*Session)
	}{
		"empty":                      {"", true, "broken", nil},
		"cut short":                  {`{"v":1,"session":{"instr`, true, "broken", nil},
		"not JSON":                   {"\x00\x01\x02", true, "broken", nil},
		"another type":               {`{"v":1,"session":{"bend_cents":"wide"}}`, true, "broken", nil},
		"of a newer program":         {`{"v":2,"session":{}}`, true, "version is 2", nil},
		"of no version":              {`{"session":{}}`, true, "version is 0", nil},
		"an instrument now unknown":  {`{"v":1,"session":{"instrument":"kazoo","reference_hz":442,"kind":"bell"}}`, false, "kazoo", func(s *Session) { s.Reference, s.Kind = 442, analysis.Bell }},
		"a reference out of range":   {`{"v":1,"session":{"reference_hz":5,"kind":"bell"}}`, false, "reference pitch", func(s *Session) { s.Kind = analysis.Bell }},
		"a source no longer offered": {`{"v":1,"session":{"source":{"choice":"file","input":"x"},"kind":"bell"}}`, false, "", func(s *Session) { s.Kind = analysis.Bell }},
		"fields of a later version":  {`{"v":1,"session":{"kind":"bell","shelf":3}}`, false, "", func(s *Session) { s.Kind = analysis.Bell }},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "session.json")
			if err := os.WriteFile(path, []byte(c.file), 0o600); err != nil {
				t.Fatal(err)
			}
			got := start(t, Config{SessionPath: path}).Session()
			said := ""
			if got.Notice != nil {
				said = *got.Notice
			}
			if (said == "") != (c.notice == "") || !strings.Contains(said, c.notice) {
				t.Errorf("%s: said %q, wanted it to hold %q", c.file, said, c.notice)
			}
			want := fresh
			if c.want != nil {
				c.want(&want)
			}
			got.Notice = nil
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%s: got %+v, wanted %+v", c.file, got, want)
			}
			if c.aside {
				moved, err := os.ReadFile(path + ".broken-1")
				if err != nil || string(moved) != c.file {
					t.Errorf("moved aside: got %q, %v, wanted %q: nothing may be lost", moved, err, c.file)
				}
			}
		})
	}
}

func TestSessionFileBrokenTwice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "session.json")
	for _, content := range []string{"first", "second"} {
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		f := sessionFile{path}
		f.load(defaultSession(nil))
	}
	for n, want := range map[string]string{".broken-1": "first", ".broken-2": "second"} {
		if got, err := os.ReadFile(path + n); err != nil || string(got) != want {
			t.Errorf("%s: got %q, %v, wanted %q", path+n, got, err, want)
		}
	}
}

// A session that cannot be kept is still held, and every page is told why it
// would be lost; once it can be kept, the words go away.
func TestSessionCannotBeKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state")
	if err := os.WriteFile(dir, nil, 0o600); err != nil { // a file where the folder should be
		t.Fatal(err)
	}
	r := start(t, Config{SessionPath: filepath.Join(dir, "session.json")}, func(s *Server) {
		s.file.path = filepath.Join(dir, "session.json") // reading it has failed already
		s.session.Notice = nil
	})
	p := r.dial()
	p.expect(typeHello)
	kind := func(k analysis.Kind) {
		t.Helper()
		if _, err := r.Change(Change{Kind: &k}); err != nil {
			t.Fatal(err)
		}
	}
	kind(analysis.Bell)
	for f := p.next(); f.Session.Notice == nil; f = p.next() {
	}
	if got := r.Session(); got.Kind != analysis.Bell || !strings.Contains(*got.Notice, "cannot be kept") {
		t.Errorf("unkept: got %+v, wanted the kind bell and words", got)
	}
	if err := os.Remove(dir); err != nil {
		t.Fatal(err)
	}
	kind(analysis.Glass)
	for f := p.next(); f.Session.Notice != nil; f = p.next() {
	}
	if _, err := os.Stat(filepath.Join(dir, "session.json")); err != nil {
		t.Errorf("the words have gone, but: %v", err)
	}
}

// A file that cannot be read is left alone, and nothing is written over it.
func TestSessionFileUnreadable(t *testing.T) {
	path := filepath.Join(t.TempDir(), "session.json")
	if err := os.Mkdir(path, 0o700); err != nil { // reading a folder fails for root too
		t.Fatal(err)
	}
	r := start(t, Config{SessionPath: path})
	if n := r.Session().Notice; n == nil || !strings.Contains(*n, "not kept") {
		t.Errorf("notice: got %v, wanted words that settings are not kept", n)
	}
	aim := false
	if _, err := r.Change(Change{Aim: &aim}); err != nil {
		t.Fatal(err)
	}
	r.stop()
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		t.Errorf("what could not be read: got %v, %v, wanted it as it was", info, err)
	}
}

func TestChooseSource(t *testing.T) {
	var mu sync.Mutex
	var chosen []Source
	r := start(t, Config{ChooseSource: func(to Source) error {
		mu.Lock()
		defer mu.Unlock()
		if to.Input == "gone" {
			return errors.New("there is no input \"gone\": plug it in")
		}
		chosen = append(chosen, to)
		return nil
	}})
	var got Session
	r.mustAsk("POST", "/api/source", Source{"mic", "hall"}, &got)
	if want := (Source{"mic", "hall"}); got.Source != want || !reflect.DeepEqual(chosen, []Source{want}) {
		t.Errorf("got session %+v, chosen %v, wanted %v", got.Source, chosen, want)
	}
	for body, want := range map[string]int{
		`{"choice":"radio","input":""}`:                              422,
		`{"choice":"mic","input":"\u001b[31m"}`:                      422,
		`{"choice":"mic","input":"` + strings.Repeat("é", 81) + `"}`: 422,
		`{"choice":"mic","input":"gone"}`:                            409,
	} {
		if status, got, _ := r.ask("POST", "/api/source", json.RawMessage(body)); status != want {
			t.Errorf("%s: got %d %s, wanted %d", body, status, got, want)
		}
	}
	if got := r.Session().Source; got != (Source{"mic", "hall"}) {
		t.Errorf("after refusals: got %v, wanted the source as it was", got)
	}
}

func TestTone(t *testing.T) {
	var mu sync.Mutex
	var muted []bool
	c := newClock()
	r := start(t, Config{Now: c.Now, SetMuted: func(on bool) {
		mu.Lock()
		defer mu.Unlock()
		muted = append(muted, on)
	}})
	post := func(on bool) (got Session) {
		t.Helper()
		r.mustAsk("POST", "/api/tone", map[string]bool{"on": on}, &got)
		return got
	}
	r.Hear(jar())
	// No note is aimed at: where the last strike was to lie, A5 at 440 Hz.
	if got := post(true); !got.Tone.On || !got.Muted || got.Tone.Frequency == nil || *got.Tone.Frequency != 880 {
		t.Errorf("on after a strike near A5: got %+v, wanted 880 Hz and the ear muted", got)
	}
	bend, target := 30.0, 69
	got, err := r.Change(Change{Target: Key{true, &target}, Bend: &bend})
	if err != nil {
		t.Fatal(err)
	}
	if want := 440 * math.Pow(2, 30./1200); got.Tone.Frequency == nil || math.Abs(*got.Tone.Frequency-want) > 1e-6 || !got.Tone.On {
		t.Errorf("A4 bent 30 c while it sounds: got %v Hz, wanted %g Hz", show(got.Tone.Frequency), want)
	}
	r.tick(c.forward(toneLease / 2))
	post(true) // asked for again
	r.tick(c.forward(toneLease / 2))
	if got := r.Session(); !got.Tone.On {
		t.Error("asked for again within the lease: it ended")
	}
	r.tick(c.forward(toneLease / 2))
	if got := r.Session(); got.Tone.On || got.Muted || got.Tone.Frequency == nil {
		t.Errorf("the lease over: got %+v, wanted silence, an open ear, and the target's frequency", got)
	}
	post(true)
	post(false)
	mu.Lock()
	defer mu.Unlock()
	if want := []bool{true, false, true, false}; !reflect.DeepEqual(muted, want) {
		t.Errorf("the ear was told muted %v, wanted %v", muted, want)
	}
}

// A prepared note sounds at the first of its own targets, not where the scale
// would have it.
func TestToneOfPreparedNote(t *testing.T) {
	in := glockenspiel(t)
	key := in.Notes[0].Key
	in.Notes[0].Targets = []analysis.Hz{500, 700}
	if got := toneOf(in, instrument.Aim{Key: &key}); got == nil || *got != 500 {
		t.Errorf("targets 500 and 700 Hz: got %v Hz, wanted 500 Hz", show(got))
	}
}
