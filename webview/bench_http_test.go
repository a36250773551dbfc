package webview

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/bench"
)

// rimOf is a jar of 300 ml that follows t = 1 + 2·(fill/300)^5, struck.
func rimOf(fill float64) float64 { return 930 / math.Sqrt(1+2*math.Pow(fill/300, 5)) }

// rung is a settled or final strike on it: a wall's two modes.
func rung(id string, f float64, stage analysis.Stage) analysis.Strike {
	s := strikeAt(id, f, stage, map[analysis.Stage]int{analysis.Early: 1, analysis.Settled: 2}[stage])
	if s.Revision == 0 {
		s.Revision = 3
	}
	s.Heard.Partial = 0
	s.Partials = []analysis.Partial{
		{Frequency: analysis.Hz(f), Sigma: .2, T60: 2, SigmaT60: .02},
		{Frequency: analysis.Hz(2.7 * f), Sigma: .4, Level: -12, T60: 1, SigmaT60: .02},
	}
	return s
}

// breath is a held tone.
func breath(id string, f float64) analysis.Strike {
	s := strikeAt(id, f, analysis.Final, 1)
	s.Heard.Basis = analysis.Periodic
	s.Partials = []analysis.Partial{{Frequency: analysis.Hz(f)}, {Frequency: analysis.Hz(2 * f), Level: -20}}
	return s
}

func jarSpec(aim string) map[string]any {
	return map[string]any{"way": "struck", "holds_ml": 300, "aim": aim, "pour": "scale", "vessel": "blue jar"}
}

func (r *rig) bench(method, path string, body any) Bench {
	r.t.Helper()
	var got Bench
	r.mustAsk(method, path, body, &got)
	return got
}

// until waits for a state of the bench; the ear's strikes are followed by a
// goroutine of the server's.
func (r *rig) until(what string, is func(Bench) bool) (b Bench) {
	r.t.Helper()
	eventually(r.t, what, func() bool {
		b = r.Bench()
		return is(b)
	})
	return b
}

func TestBenchByTypedNumbers(t *testing.T) {
	r := start(t, Config{})
	if b := r.bench("GET", "/api/bench", nil); b.Job != nil || b.Advice != nil || b.Cautions == nil {
		t.Errorf("an empty bench: got %+v", b)
	}
	b := r.bench("POST", "/api/bench", jarSpec("F#5 +30"))
	if b.Job.Vessel != "blue jar" || b.Aim.Name != "F#5 bent +30" || b.Advice.Step != bench.Sound || b.Advice.Now != nil || len(b.Cautions) == 0 {
		t.Errorf("a job begun: got %+v %+v %+v", b.Job, b.Aim, b.Advice)
	}
	b = r.bench("POST", "/api/bench/entries", map[string]any{"hz": rimOf(0)})
	if b.Advice.Step != bench.Add || b.Advice.Amount <= 0 || b.Advice.Promise == nil || len(b.Advice.Path) == 0 {
		t.Errorf("after the first strike: got %+v", b.Advice)
	}
	b = r.bench("POST", "/api/bench/pour", map[string]any{"ml": 150})
	if b.Pending != 150 || b.Advice.Step != bench.Sound || b.Advice.Says != "Strike it now." || b.Undo != 2 {
		t.Errorf("after a pour: got pending %g, %+v", b.Pending, b.Advice)
	}
	// 20 g are 20.04 ml of water at 20 °C (0.9982 g/ml).
	if b = r.bench("POST", "/api/bench/pour", map[string]any{"g": 20}); math.Abs(b.Pending-170.04) > 0.01 {
		t.Errorf("20 g more: got %g ml, wanted 170.04", b.Pending)
	}
	if b = r.bench("POST", "/api/bench/undo", nil); b.Pending != 150 {
		t.Errorf("undone: got %g ml, wanted 150", b.Pending)
	}
	b = r.bench("POST", "/api/bench/entries", map[string]any{"hz": rimOf(150)})
	if len(b.Advice.Sounds) != 2 || b.Advice.Sounds[1].Fill != 150 {
		t.Errorf("two entries: got %+v", b.Advice.Sounds)
	}
	away := b.Advice.Now.Value
	if b = r.bench("PATCH", "/api/bench", map[string]any{"aim": "F#5"}); math.Abs(b.Advice.Now.Value-away-30) > 0.01 {
		t.Errorf("an aim 30 c lower: now %.2f c above it, was %.2f", b.Advice.Now.Value, away)
	}
	// The aim follows the reference pitch.
	r.mustAsk("PATCH", "/api/session", map[string]any{"reference_hz": 442}, &Session{})
	r.until("the aim at A4 of 442 Hz", func(b Bench) bool { return b.Aim.Target > 743 && b.Aim.Target < 744 })
	if b = r.bench("DELETE", "/api/bench", nil); b.Job != nil {
		t.Errorf("put away: got %+v", b.Job)
	}
}

func TestBenchRefuses(t *testing.T) {
	r := start(t, Config{})
	refused := func(why, method, path string, body any, status int, field string) {
		t.Helper()
		got, text, _ := r.ask(method, path, body)
		var is struct {
			Error Refusal `json:"error"`
		}
		json.Unmarshal(text, &is)
		if got != status || is.Error.Field != field || !strings.HasSuffix(is.Error.Words, ".") {
			t.Errorf("%s: got %d %s, wanted %d and the field %q", why, got, text, status, field)
		}
	}
	refused("no job", "POST", "/api/bench/pour", map[string]any{"ml": 5}, http.StatusConflict, "")
	for why, row := range map[string]struct {
		change map[string]any
		field  string
	}{
		"no way":      {map[string]any{"way": ""}, "way"},
		"no capacity": {map[string]any{"holds_ml": 0}, "holds_ml"},
		"a bucket":    {map[string]any{"pour": "bucket"}, "pour"},
		"no note":     {map[string]any{"aim": "X9"}, "aim"},
		"two notes":   {map[string]any{"aim": "A4\nA5"}, "aim"},
		"hot water":   {map[string]any{"water_celsius": 80}, "water_celsius"},
		"overfull":    {map[string]any{"already_ml": 900}, "already_ml"},
	} {
		spec := jarSpec("A4")
		for k, v := range row.change {
			spec[k] = v
		}
		refused(why, "POST", "/api/bench", spec, http.StatusUnprocessableEntity, row.field)
	}
	r.bench("POST", "/api/bench", jarSpec("A4"))
	refused("too much", "POST", "/api/bench/pour", map[string]any{"ml": 900}, http.StatusUnprocessableEntity, "ml")
	refused("ml and g", "POST", "/api/bench/pour", map[string]any{"ml": 9, "g": 9}, http.StatusUnprocessableEntity, "ml")
	refused("no such strike", "POST", "/api/bench/entries", map[string]any{"strike": "01J"}, http.StatusNotFound, "strike")
	refused("silence", "POST", "/api/bench/entries", map[string]any{"hz": 0}, http.StatusUnprocessableEntity, "hz")
	refused("nothing to undo", "POST", "/api/bench/undo", nil, http.StatusConflict, "")
	refused("a path as a thermometer", "POST", "/api/temperature", map[string]any{"file": "/etc/passwd"}, http.StatusBadRequest, "")
	refused("Fahrenheit", "POST", "/api/temperature", map[string]any{"celsius": 72}, http.StatusUnprocessableEntity, "celsius")
}

func TestBenchFollowsStrikes(t *testing.T) {
	r := start(t, Config{})
	r.bench("POST", "/api/bench", jarSpec("F#5"))
	page := r.dial()
	r.Hear(rung("01A", rimOf(0), analysis.Early))
	r.Hear(rung("01A", rimOf(0)+3, analysis.Settled))
	r.until("the first strike", func(b Bench) bool { return len(b.Advice.Sounds) == 1 })
	r.Hear(rung("01A", rimOf(0), analysis.Final))
	b := r.until("its last telling", func(b Bench) bool { return b.Advice.Sounds[0].Heard == rimOf(0) })
	if len(b.Advice.Sounds) != 1 || *b.Advice.Sounds[0].Strike != "01A" {
		t.Errorf("one strike told three times: got %+v", b.Advice.Sounds)
	}
	for {
		var m benchMessage
		_, data, err := page.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		if json.Unmarshal(data, &m) == nil && m.Type == typeBench && m.Bench.Advice != nil && len(m.Bench.Advice.Sounds) == 1 {
			break
		}
	}
	// Blown by mistake: it asks, and takes it only when told.
	r.bench("POST", "/api/bench/pour", map[string]any{"ml": 100})
	r.Hear(breath("01B", 410))
	b = r.until("a question", func(b Bench) bool { return b.Asks != nil })
	if b.Asks.Strike != "01B" || b.Asks.Way != bench.Blown || len(b.Advice.Sounds) != 1 || !strings.Contains(b.Asks.Words, "Was it blown?") {
		t.Errorf("a breath where a strike is meant: got %+v and %d entries", b.Asks, len(b.Advice.Sounds))
	}
	if status, _, _ := r.ask("POST", "/api/bench/entries", map[string]any{"strike": "01B"}); status != http.StatusConflict {
		t.Errorf("taken without more: got %d, wanted 409", status)
	}
	if b = r.bench("POST", "/api/bench/entries", map[string]any{"strike": "01B", "anyway": true}); len(b.Advice.Sounds) != 2 || b.Asks != nil {
		t.Errorf("taken anyway: got %d entries, asks %+v", len(b.Advice.Sounds), b.Asks)
	}
	if b = r.bench("POST", "/api/bench/undo", nil); len(b.Advice.Sounds) != 1 || b.Pending != 100 {
		t.Errorf("undone: got %d entries and %g ml pending, wanted 1 and 100", len(b.Advice.Sounds), b.Pending)
	}
	// What was no strike is taken back.
	r.Hear(rung("01C", rimOf(100), analysis.Settled))
	r.until("a strike", func(b Bench) bool { return len(b.Advice.Sounds) == 2 })
	gone := rung("01C", rimOf(100), analysis.Withdrawn)
	r.Hear(gone)
	r.until("its withdrawal", func(b Bench) bool { return len(b.Advice.Sounds) == 1 && b.Pending == 100 })
	// And nothing is followed while it is told not to.
	r.bench("PATCH", "/api/bench", map[string]any{"follow": false})
	r.Hear(rung("01D", rimOf(100), analysis.Final))
	if b = r.bench("POST", "/api/bench/entries", map[string]any{"strike": "01D"}); len(b.Advice.Sounds) != 2 {
		t.Errorf("a strike named by hand: got %d entries, wanted 2", len(b.Advice.Sounds))
	}
}

func TestBenchOutlivesTheProgram(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.json")
	r := start(t, Config{BenchPath: path})
	r.bench("POST", "/api/bench", jarSpec("F#5"))
	r.bench("POST", "/api/bench/entries", map[string]any{"hz": rimOf(0)})
	before := r.bench("POST", "/api/bench/pour", map[string]any{"ml": 120})
	r.mustAsk("POST", "/api/drift", map[string]any{"voice": "plank", "material": "wood", "hz": 440, "celsius": 19}, &DriftAnswer{})
	r.stop()
	again := start(t, Config{BenchPath: path})
	after := again.Bench()
	if after.Job == nil || after.Pending != 120 || after.Advice.Says != before.Advice.Says || len(after.Advice.Sounds) != 1 {
		t.Errorf("after a restart: got %+v, wanted what was before", after)
	}
	var d DriftAnswer
	again.mustAsk("GET", "/api/drift", nil, &d)
	if len(d.Voices) != 1 || len(d.Voices[0].Readings) != 1 {
		t.Errorf("drift after a restart: got %+v", d.Voices)
	}
}

func TestTemperatureAndDrift(t *testing.T) {
	degrees, fault := 18.0, error(nil)
	r := start(t, Config{Thermometer: func() (float64, error) { return degrees, fault }})
	var d DriftAnswer
	r.mustAsk("POST", "/api/drift", map[string]any{"voice": "bowl", "material": "steel"}, &d)
	r.mustAsk("POST", "/api/drift/follow", map[string]any{"voice": "bowl"}, &d)
	failed := false
	for i, c := range []float64{18, 20, 22, 24, 26} {
		if i > 0 { // the first comes by the thermometer
			r.mustAsk("POST", "/api/temperature", map[string]any{"celsius": c, "humidity_percent": 40}, &struct{}{})
		} else {
			r.readThermometer(&failed)
		}
		s := rung("01D"+string(rune('A'+i)), 440*math.Exp2(-.24*(c-20)/1200), analysis.Final)
		s.Time = time.Date(2026, 5, 3, 9+i, 0, 0, 0, time.UTC)
		r.Hear(s)
		r.until("a reading", func(Bench) bool {
			r.mustAsk("GET", "/api/drift?stage_celsius=30&here_celsius=20", nil, &d)
			return len(d.Voices[0].Readings) == i+1
		})
	}
	line := d.Voices[0].Line
	if line == nil || math.Abs(line.Slope.Value+.24) > 0.06 || line.Slope.Low > -.24 || line.Slope.High < -.24 || *line.Expected > -.2 {
		t.Fatalf("steel at -0.24 c a degree: got %+v", line)
	}
	// The vibraphone's aluminium falls by 0.45 c a degree, the bowl by 0.24.
	if line.Stage == nil || math.Abs(line.Stage.Away.Value-2.1) > 0.7 || line.Stage.Leaves || d.Instrument == nil || d.Instrument.Material != "aluminium" {
		t.Errorf("at 30 degrees: got %+v against %+v, wanted 2.1 c high and within", line.Stage, d.Instrument)
	}
	r.mustAsk("POST", "/api/drift/bowl/undo", nil, &d)
	if len(d.Voices[0].Readings) != 4 {
		t.Errorf("undone: got %d readings, wanted 4", len(d.Voices[0].Readings))
	}
	r.mustAsk("DELETE", "/api/drift/bowl", nil, &d)
	// A page of a notebook is typed within a minute: that is no lag.
	for i, c := range []float64{18, 18.5, 19.5, 21.5, 25.5} {
		r.mustAsk("POST", "/api/drift", map[string]any{"voice": "slate", "celsius": c, "hz": 440 * math.Exp2((-0.45*c+0.3*float64(i%2))/1200)}, &d)
	}
	if l := d.Voices[0].Line; d.Voices[0].Readings[0].Time != "" || l == nil || math.Abs(l.Slope.Value+0.45) > 0.1 || l.Slope.High-l.Slope.Low > 1 {
		t.Errorf("five typed readings of -0.45 c a degree: got %+v, line %+v", d.Voices[0].Readings, l)
	}
	r.mustAsk("DELETE", "/api/drift/slate", nil, &d)
	if len(d.Voices) != 0 || d.Follow != nil {
		t.Errorf("removed: got %+v", d)
	}
	fault = errors.New("unplugged")
	if r.readThermometer(&failed); !failed {
		t.Error("a thermometer that fails: not noticed")
	}
	if status, _, _ := r.ask("GET", "/api/drift?stage_celsius=hot", nil); status != http.StatusBadRequest {
		t.Errorf("a stage of words: got %d, wanted 400", status)
	}
}

// A sensor's token is good for that one call.
func TestSensorToken(t *testing.T) {
	r := start(t, Config{})
	var granted struct {
		Secret string `json:"secret"`
	}
	status, text, _ := r.ask("POST", "/api/scripts", map[string]string{"name": "hall sensor", "call": "POST /api/temperature"})
	if json.Unmarshal(text, &granted); granted.Secret == "" {
		t.Fatalf("a token for a sensor: got %d %s", status, text)
	}
	call := func(path, body string) int {
		req, err := http.NewRequest("POST", "http://"+r.addr+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Authorization", "Bearer "+granted.Secret)
		got, _, _ := r.do(req)
		return got
	}
	if got := call("/api/temperature", `{"celsius":21.5}`); got != http.StatusOK {
		t.Errorf("the sensor's own call: got %d, wanted 200", got)
	}
	if got := call("/api/bench/undo", `{}`); got == http.StatusOK || got == http.StatusConflict {
		t.Errorf("another call with the sensor's token: got %d, wanted a refusal", got)
	}
}

func TestRowOverHTTP(t *testing.T) {
	r := start(t, Config{})
	var got RowForm
	r.mustAsk("POST", "/api/bench/row", json.RawMessage(`{"way":"blown","pour":"scale","aims":["A2","D3","C2"],"vessels":[
		{"name":"wine","holds_ml":750,"sounds":[{"in_ml":0,"hz":108.4}]},
		{"name":"brown","holds_ml":500,"sounds":[{"in_ml":0,"hz":136.1},{"in_ml":150,"hz":160.4}]}]}`), &got)
	if len(got.Placed) != 2 || got.Placed[0].Vessel != "wine" || got.Placed[1].Vessel != "brown" || len(got.Bare) != 1 || got.Bare[0] != "C2" || got.Spare == nil {
		t.Errorf("got %+v", got)
	}
	if status, _, _ := r.ask("POST", "/api/bench/row", json.RawMessage(`{"way":"blown","aims":[],"vessels":[]}`)); status != http.StatusUnprocessableEntity {
		t.Errorf("an empty row: got %d, wanted 422", status)
	}
}

// What the page reads: testdata/wire/bench.
func TestWireOfTheBench(t *testing.T) {
	humidity := 45.0
	interval := Interval{1, .5, 0, 2}
	words, strike := "286 ml in it. "+hostile, "01JDHZ8Q2R00000000000000A1"
	promise := 7.5
	full := Bench{
		Revision: 7, Job: &BenchSpec{Way: bench.Struck, Holds: 300, Aim: "F#5 +30", Pour: bench.Eye, Vessel: hostile},
		Aim: &BenchAim{"F#5 bent +30", 752.99, 5}, Pending: 12.5, Undo: 3,
		Asks:   &BenchAsk{strike, bench.Blown, 410.2, "That sounds blown, and struck is meant: water moves the two opposite ways. Was it blown?"},
		Warmth: &Warmth{Celsius: 21.5, Humidity: &humidity, At: "2026-11-25T09:30:00Z"}, Cautions: cautions(bench.Struck),
		Advice: &Advice{Step: bench.Add, Amount: 24, Grams: 23.96, Sigma: 1.9, Chance: .62, Fill: 262, FillG: 261.53, Now: &interval, Aim: &interval, Empty: &interval, Full: &interval,
			Within: 7.5, Promise: &promise, Path: []BenchPoint{{0, 360, 358, 362}}, Parts: []BenchPart{{2580, 2100, interval, 3, false}}, Says: "Add 24 ml ±2, then strike again.", Words: &words,
			Sounds: []SoundedFill{{0, 0, 931.2, 367.6, nil}, {262, 262, 795.1, 94.1, &strike}}},
	}
	material, expected, lag := "wood", -2.02, 1350.0
	for name, what := range map[string]any{
		"bench/bench":       benchMessage{head(typeBench), full},
		"bench/bench-empty": benchMessage{head(typeBench), Bench{Cautions: []string{}}},
		"bench/row":         RowForm{Placed: []RowPlace{{"A2", "wine", 22, 22, 3, 22, .97, bench.Add}}, Bare: []string{"C2"}, Spare: []string{hostile}},
		"bench/drift": DriftAnswer{Warmth: full.Warmth, Follow: &material, Instrument: &DriftPlace{"vibraphone", "aluminium", -.449, "from memory"}, Materials: []string{"steel", "wood"},
			Voices: []DriftEntry{{Voice: "plank", Material: &material, Readings: []DriftReading{{"2026-11-25T09:30:00Z", 21.5, 440, .2, &strike}},
				Line: &Drift{Readings: 8, Slope: interval, At: 21.7, Pitch: 438.8, Scatter: .4, Lag: &lag, Outliers: []int{5}, Material: &material, Expected: &expected, Remark: &words,
					Stage: &StageForm{20, 29, interval, -17.3, 4.04, 10, .02, true, 13.2}}},
				{Voice: "new", Readings: []DriftReading{}, Words: &words}}},
	} {
		var got strings.Builder
		e := json.NewEncoder(&got)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		if err := e.Encode(json.RawMessage(encode(what))); err != nil {
			t.Fatal(err)
		}
		golden(t, name+".json", []byte(got.String()))
	}
}
