package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/webview"
)

// bar writes a recording of a damped sine: half a second of silence, then f at
// a quarter of full scale, 60 dB lower after ring seconds.
func bar(t testing.TB, path string, f, ring float64) {
	t.Helper()
	const rate = 48000
	sound := make([]float32, 3*rate)
	for i := range len(sound) - rate/2 {
		at := float64(i) / rate
		sound[rate/2+i] = float32(0.25 * math.Exp(-6.907755*at/ring) * math.Sin(2*math.Pi*f*at))
	}
	for i := range sound { // a faint floor: no recording is without
		sound[i] += float32(1e-5 * math.Sin(float64(i*i%9973)))
	}
	write(t, path, rate, sound)
}

func TestMeasureJSON(t *testing.T) {
	home(t, "")
	dir := t.TempDir()
	var files []string
	heard := []float64{440, 523.2511, 660, 880.5, 1046.5023, 1400}
	for i, f := range heard {
		files = append(files, filepath.Join(dir, string(rune('a'+i))+".wav"))
		bar(t, files[i], f, 2)
	}
	bad := []string{filepath.Join(dir, "no-such.wav"), mustWrite(t, "empty.wav", ""), mustWrite(t, "te\x1bxt.wav", "hello, this is no sound at all")}
	args := append([]string{"measure", "--json", "--instrument", "piano"}, files[:3]...)
	args = append(append(args, bad...), files[3:]...)
	status, out, complaints := ran(args...)

	if status != exitFault {
		t.Errorf("with broken files: status %d, want %d", status, exitFault)
	}
	lines := strings.Split(strings.TrimSuffix(complaints, "\n"), "\n")
	if len(lines) != len(bad) {
		t.Fatalf("got %d lines on standard error, want one for each of %d broken files:\n%s", len(lines), len(bad), complaints)
	}
	for i, l := range lines {
		if name := clean(bad[i]); !strings.HasPrefix(l, name+": ") || len(l) < len(name)+8 || strings.Contains(l, "\x1b") {
			t.Errorf("complaint %d: got %q, want %q and the fault", i, l, name)
		}
	}
	decoder := json.NewDecoder(strings.NewReader(out))
	for i, f := range heard {
		var m struct {
			File    string           `json:"file"`
			Rate    float64          `json:"sample_rate_hz"`
			Strikes []webview.Strike `json:"strikes"`
		}
		if err := decoder.Decode(&m); err != nil {
			t.Fatal(err)
		}
		if m.File != files[i] || m.Rate != 48000 || len(m.Strikes) != 1 {
			t.Errorf("object %d: got %s, %g Hz, %d strikes; want %s, 48000 Hz, 1", i, m.File, m.Rate, len(m.Strikes), files[i])
			continue
		}
		s := m.Strikes[0]
		// 0.1 cents: the finest that is told.
		if s.Heard == nil || math.Abs(1200*math.Log2(s.Heard.Frequency/f)) > 0.1 {
			t.Errorf("%g Hz: heard %+v", f, s.Heard)
		}
		if math.Abs(s.OnsetS-0.5) > 0.003 {
			t.Errorf("%g Hz: onset at %g s, want 0.5 s within 3 ms", f, s.OnsetS)
		}
		if s.Landing == nil || s.Landing.Instrument != "piano" || s.Time != nil {
			t.Errorf("%g Hz: landing %+v, time %v; want the piano and no time", f, s.Landing, s.Time)
		}
		if len(s.Partials) != 1 || s.Partials[0].T60 == nil || math.Abs(*s.Partials[0].T60-2) > 0.04 {
			t.Errorf("%g Hz: partials %+v, want one that rings 2 s within 2 %%", f, s.Partials)
		}
	}
	if decoder.More() {
		t.Error("more objects than files that could be measured")
	}
}

// The names and the shape that programs were promised.
func TestMeasureJSONForm(t *testing.T) {
	home(t, "")
	file := filepath.Join(t.TempDir(), "x.wav")
	bar(t, file, 440.1, 1.9)
	_, out, complaints := ran("measure", "--json", file)
	var m map[string]any
	if err := json.Unmarshal([]byte(out), &m); err != nil || strings.Count(out, "\n") != 1 {
		t.Fatalf("got %q, %q: want one object on one line: %v", out, complaints, err)
	}
	has := func(what string, v any, names ...string) {
		o, ok := v.(map[string]any)
		for _, n := range names {
			if _, there := o[n]; !ok || !there {
				t.Errorf("%s has no %q: %v", what, n, v)
			}
		}
	}
	has("the object", m, "file", "sample_rate_hz", "strikes")
	strikes, _ := m["strikes"].([]any)
	if len(strikes) != 1 {
		t.Fatalf("got %d strikes, want 1", len(strikes))
	}
	has("a strike", strikes[0], "onset_s", "pitched", "heard", "landing", "partials")
	s := strikes[0].(map[string]any)
	has("heard", s["heard"], "frequency_hz", "sigma_cents")
	has("landing", s["landing"], "note", "midi", "cents", "instrument")
	partials, _ := s["partials"].([]any)
	if len(partials) == 0 {
		t.Fatal("no partials")
	}
	has("a partial", partials[0], "frequency_hz", "sigma_cents", "level_db", "t60_s", "beat_hz")
	if s["pitched"] != true || s["landing"].(map[string]any)["note"] != "A4" {
		t.Errorf("440.1 Hz: got %v, landing %v", s["pitched"], s["landing"])
	}
}

func TestMeasureTable(t *testing.T) {
	home(t, "")
	dir := t.TempDir()
	ring, silence := filepath.Join(dir, "ring.wav"), filepath.Join(dir, "silence.wav")
	bar(t, ring, 440.5, 2)
	bar(t, silence, 0, 2)
	status, out, complaints := ran("measure", "--instrument", "crotales", ring, silence)
	if status != 0 || complaints != "" {
		t.Fatalf("status %d, %q", status, complaints)
	}
	for _, want := range []string{
		"ring.wav: 48 kHz, 3.0 s, 1 strike\n", "A4, 2.0 c high", "below the crotales", "440.5 Hz", "2.0 s",
		"silence.wav: 48 kHz, 3.0 s, 0 strikes\n",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the table lacks %q:\n%s", want, out)
		}
	}
}

func TestMeasureOnOnesOwnInstrument(t *testing.T) {
	home(t, "")
	file := filepath.Join(t.TempDir(), "x.wav")
	bar(t, file, 440, 2)
	landing := func(args ...string) webview.Landing {
		t.Helper()
		status, out, complaints := ran(append([]string{"measure", "--json", file}, args...)...)
		var m struct{ Strikes []webview.Strike }
		if err := json.Unmarshal([]byte(out), &m); status != 0 || err != nil || len(m.Strikes) != 1 {
			t.Fatalf("%v: status %d, %q, %q, %v", args, status, out, complaints, err)
		}
		return *m.Strikes[0].Landing
	}
	if l := landing("--instrument", mustWrite(t, "pots.csv", "note,hz,label\nA4,430,big pot\n")); l.Instrument != "pots" || l.Note != "big pot" || math.Abs(l.Cents-39.80) > 0.1 {
		t.Errorf("an instrument of one's own: got %+v, want 39.80 cents above the big pot's 430 Hz", l)
	}
	// 1200·log2(440/442) = -7.85 cents (closed form).
	if l := landing("--tuning", mustWrite(t, "bars.csv", "note;hz\nA4;442,0\n")); l.Instrument != "vibraphone (measured)" || math.Abs(l.Cents+7.85) > 0.1 {
		t.Errorf("measured bars: got %+v, want 7.85 cents below the measured A4", l)
	}
	status, _, complaints := ran("measure", "--instrument", mustWrite(t, "bad.csv", "note,hz\nA4,loud\n"), file)
	if status != exitFault || !strings.Contains(complaints, "line 2, column 4") {
		t.Errorf("a broken CSV: got status %d, %q; want line and column", status, complaints)
	}
	both := []string{"measure", "--instrument", mustWrite(t, "a.csv", "note\nA4\n"), "--tuning", mustWrite(t, "b.csv", "note\nA4\n"), file}
	if status, _, complaints := ran(both...); status != exitFault || !strings.Contains(complaints, "--tuning") {
		t.Errorf("both a CSV and a tuning: got status %d, %q", status, complaints)
	}
}
