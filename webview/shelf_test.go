package webview

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// shelfRig is a server with a shelf, and the trio at its microphone.
type shelfRig struct {
	*rig
	rnd    *rand.Rand
	struck int
}

// rawEncode and rawDecode are the recordings of these tests: the rate, then the
// samples.
func rawEncode(rate analysis.Rate, sound []float32, _ int, _ *analysis.Pitch) ([]byte, error) {
	b := binary.LittleEndian.AppendUint64(nil, math.Float64bits(float64(rate)))
	for _, x := range sound {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b, nil
}

func rawDecode(b []byte) (sound []float64, rate analysis.Rate, err error) {
	if len(b) < 8 {
		return nil, 0, fmt.Errorf("%d bytes are no recording", len(b))
	}
	rate = analysis.Rate(math.Float64frombits(binary.LittleEndian.Uint64(b)))
	for b = b[8:]; len(b) >= 4; b = b[4:] {
		sound = append(sound, float64(math.Float32frombits(binary.LittleEndian.Uint32(b))))
	}
	return sound, rate, nil
}

func shelved(t *testing.T) *shelfRig {
	t.Helper()
	s, err := catalogue.Open(context.Background(), t.TempDir(), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := start(t, Config{Shelf: &ShelfOptions{Write: s, Ear: "ear 1", Encode: rawEncode, Decode: rawDecode,
		Invented: func(source string) bool { return source == "demo scene" }}})
	t.Cleanup(func() { r.stop(); s.Close() })
	return &shelfRig{r, rand.New(rand.NewPCG(1, 2)), 0}
}

// object is an invented thing: partials that ring shorter the higher they lie.
func object(root float64, ratios ...float64) []analysis.Partial {
	var ps []analysis.Partial
	for i, x := range append([]float64{1}, ratios...) {
		ps = append(ps, analysis.Partial{Frequency: analysis.Hz(root * x), Sigma: 0.3, Level: -6 * float64(i), SigmaLevel: 0.3, T60: 2 / float64(i+1), SigmaT60: 0.02})
	}
	return ps
}

func lowJar() []analysis.Partial  { return object(740, 2.4, 4.1, 6.3) }
func highJar() []analysis.Partial { return object(1130, 2.6, 4.9) }

const strikeRate = 8000

// strike has the ear hear a thing once, moved by cents, to the end.
func (r *shelfRig) strike(partials []analysis.Partial, cents float64) string {
	r.t.Helper()
	r.struck++
	s := analysis.Strike{ID: fmt.Sprintf("01KAX%021d", r.struck), Revision: 1, Stage: analysis.Final, Source: "hall pair", Rate: strikeRate,
		Onset: 800, From: 0, To: 8800, Time: time.Date(2026, 11, 25, 10, 0, r.struck, 0, time.UTC), Used: 1, ClockPPM: 29, Peak: 0.3}
	sound := make([]float32, 8800)
	for _, p := range partials {
		p.Frequency = p.Frequency.Shift(analysis.Cents(cents + 0.4*r.rnd.NormFloat64()))
		p.Level += r.rnd.NormFloat64()
		p.T60 *= math.Exp(0.03 * r.rnd.NormFloat64())
		s.Partials = append(s.Partials, p)
		for i := range sound[800:] {
			at := float64(i) / strikeRate
			sound[800+i] += float32(0.1 * math.Pow(10, p.Level/20-3*at/p.T60) * math.Sin(2*math.Pi*float64(p.Frequency)*at))
		}
	}
	if len(partials) > 0 {
		s.Heard = &analysis.Pitch{Frequency: s.Partials[0].Frequency, Sigma: 0.3, Basis: analysis.OnPartial, Likelihood: 0.9}
	}
	r.Hear(s)
	r.Keep(s, sound)
	return s.ID
}

// told waits until a strike is told so.
func (r *shelfRig) told(id, what string, so func(Strike) bool) (s Strike) {
	r.t.Helper()
	eventually(r.t, what, func() bool {
		r.mustAsk("GET", "/api/strikes/"+id, nil, &s)
		return so(s)
	})
	return s
}

func (r *shelfRig) keep(id string, as any) (k Keeping) {
	r.t.Helper()
	r.mustAsk("POST", "/api/strikes/"+id+"/keep", as, &k)
	if k.Kept == nil || k.Kept.Strike != id {
		r.t.Fatalf("keep %s as %v: got %+v", id, as, k)
	}
	return k
}

type m = map[string]any

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

// Five things, each struck three times, are found, likened, paired and compared.
func TestFindAlikePairsCompare(t *testing.T) {
	r := shelved(t)
	things := map[string][]analysis.Partial{
		"jar 7": lowJar(), "jar 9": object(741.5, 2.41, 4.12, 6.31), "high jar": highJar(), "slate": object(320, 1.7, 2.9), "pipe": object(790, 2.75, 5.4),
	}
	names := []string{"high jar", "jar 7", "jar 9", "pipe", "slate"}
	ids, kept := map[string]string{}, map[string]string{}
	for _, name := range names {
		for range 3 {
			id := r.strike(things[name], 0)
			ids[name], kept[name] = r.keepAs(id, name), id
		}
	}
	var got struct{ Voices []VoiceForm }
	r.mustAsk("GET", "/api/shelf/voices", nil, &got)
	if len(got.Voices) != 5 || !slices.IsSortedFunc(got.Voices, func(a, b VoiceForm) int { return strings.Compare(a.ObjectName, b.ObjectName) }) {
		t.Errorf("all: got %d voices, wanted 5 by name", len(got.Voices))
	}
	if v := got.Voices[1]; v.Strikes != 3 || v.Landing == nil || v.Landing.Note != "F#5" || v.Level == nil || *v.Level > -10 || v.Ring == nil || v.Spread == nil {
		t.Errorf("jar 7: got %+v, wanted three strikes near F#5", v)
	}
	r.mustAsk("GET", "/api/shelf/voices?near=F%235&within_cents=15", nil, &got)
	if len(got.Voices) != 2 || got.Voices[0].ObjectName != "jar 7" || got.Voices[0].Off == nil {
		t.Errorf("near F#5: got %+v, wanted jar 7 and jar 9", got.Voices)
	}
	r.mustAsk("GET", "/api/shelf/voices?near=790&within_cents=5", nil, &got)
	if len(got.Voices) != 1 || got.Voices[0].ObjectName != "pipe" {
		t.Errorf("near 790 Hz: got %+v, wanted the pipe", got.Voices)
	}
	var alike struct{ Alike []AlikeForm }
	r.mustAsk("GET", "/api/shelf/voices/"+ids["jar 7"]+"/alike?n=2", nil, &alike)
	if len(alike.Alike) != 2 || alike.Alike[0].Voice.ObjectName != "jar 9" || alike.Alike[0].Distance > 0.3 || len(alike.Alike[0].Reasons) == 0 || alike.Alike[0].Reasons[0].Words == "" {
		t.Errorf("most like jar 7: got %+v, wanted jar 9", alike.Alike)
	}
	var pairs struct{ Pairs []PairForm }
	r.mustAsk("GET", "/api/shelf/pairs", nil, &pairs)
	if len(pairs.Pairs) != 1 || math.Abs(pairs.Pairs[0].Beat-1.5) > 0.6 || pairs.Pairs[0].A.ObjectName != "jar 7" || pairs.Pairs[0].Sigma == nil {
		t.Errorf("pairs: got %+v, wanted jar 7 and jar 9 at 1.5 Hz", pairs.Pairs)
	}
	// On foam the second partial rings 2.3 times as long; still on the trail.
	foam := lowJar()
	foam[1].T60 *= 2.3
	on := r.strike(foam, 0)
	var c CompareForm
	r.mustAsk("GET", "/api/shelf/compare?a="+kept["jar 7"]+"&b="+on, nil, &c)
	if c.A.Label != "jar 7" || c.A.Voice == nil || c.B.Voice != nil || *c.B.Sound != "/api/strikes/"+on+".wav" || len(c.Partials) != 4 {
		t.Fatalf("compare: got %+v, %+v, %d pairs", c.A, c.B, len(c.Partials))
	}
	if d := c.Partials[1].Ring; d == nil || !d.Significant || math.Abs(d.By-2.3) > 0.5 || len(c.Words) == 0 || !strings.Contains(strings.Join(c.Words, " "), "times as long") {
		t.Errorf("on foam: got %+v, %q, wanted 2.3 times as long", d, c.Words)
	}
	if c.Spectra == nil || len(c.Spectra.Frequency) != len(c.Spectra.A) || len(c.Spectra.A) != len(c.Spectra.B) || c.Decay == nil || len(c.Decay.Time) < 40 {
		t.Errorf("curves: got %+v", c.Spectra)
	}
	if c.A.Gain == nil || c.B.Gain == nil || max(*c.A.Gain, *c.B.Gain) != 0 || min(*c.A.Gain, *c.B.Gain) < -6 {
		t.Errorf("gains: got %v and %v dB, wanted 0 and a little less", c.A.Gain, c.B.Gain)
	}
	for _, file := range []string{"shelf.jsonl", "objects.csv", "voices.csv", "strikes.csv"} {
		if status, got, h := r.ask("GET", "/api/shelf/export/"+file, nil); status != http.StatusOK || len(got) < 100 || !strings.Contains(h.Get("Content-Disposition"), file) {
			t.Errorf("%s: got %d, %d bytes, %v", file, status, len(got), h)
		}
	}
}

func (r *shelfRig) keepAs(id, name string) (voice string) {
	r.t.Helper()
	var list struct{ Objects []ObjectForm }
	r.mustAsk("GET", "/api/shelf/objects", nil, &list)
	for _, o := range list.Objects {
		if o.Name == name {
			return r.keep(id, m{"object": o.ID}).Kept.Voice
		}
	}
	return r.keep(id, m{"name": name}).Kept.Voice
}

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
	if status, got, _ := r.ask("DELETE", "/api/shelf/instruments/my%20vibraphone", nil); status != http.StatusNoContent {
		t.Errorf("removed: got %d %s", status, got)
	}
}

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
