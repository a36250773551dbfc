package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A folder with one good pair among everything that can be wrong: the good one
// is measured, each of the others is named with its reason, and the status
// says that not all was well.
func TestAccuracyOfAFolder(t *testing.T) {
	home(t, "")
	dir := t.TempDir()
	put := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	read := func(name string) []byte {
		data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "strikes-exact", name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	sound, truth := read("bottle.wav"), string(read("bottle.json"))
	put("good.wav", sound)
	put("good.json", []byte(truth))
	status, out, complaints := ran("accuracy", dir)
	if status != 0 || complaints != "" || !strings.Contains(out, "clean") {
		t.Fatalf("one good pair: got status %d, %q on standard error, table\n%s", status, complaints, out)
	}
	if strings.Contains(out, "went wrong") || strings.Contains(out, "NaN") {
		t.Errorf("one good pair, heard right before: got\n%s", out)
	}

	bad := map[string]string{ // file named -> what is said of it
		"alone.wav":     "no alone.json",
		"silent.json":   "no silent.wav",
		"broken.wav":    "",
		"text.json":     "not the JSON",
		"fields.json":   "heard.frequency_hz",
		"late.json":     "the recording is over",
		"rate.json":     "sample_rate_hz",
		"te\x1bxt.json": `no te\x1bxt.wav`,
	}
	put("alone.wav", sound)
	put("silent.json", []byte(truth))
	put("broken.wav", []byte("RIFF\x10\x00\x00\x00WAVEjunk"))
	put("broken.json", []byte(truth))
	for _, name := range []string{"text", "fields", "late", "rate"} {
		put(name+".wav", sound)
	}
	put("text.json", []byte("not at all"))
	put("fields.json", []byte(`{"strikes":[{"onset_s":1,"pitched":true,"heard":{"frequency_hz":"A4"}}]}`))
	put("late.json", []byte(`{"strikes":[{"onset_s":100,"pitched":true,"heard":{"frequency_hz":440}}]}`))
	put("rate.json", []byte(`{"sample_rate_hz":44100,"strikes":[]}`))
	put("te\x1bxt.json", []byte(truth))
	status, again, complaints := ran("accuracy", dir)
	if status != exitFault || again != out {
		t.Errorf("beside broken ones: got status %d, want %d, and a table\n%s\nwant that of the good pair\n%s", status, exitFault, again, out)
	}
	lines := strings.Split(strings.TrimSuffix(complaints, "\n"), "\n")
	if len(lines) != len(bad) || strings.Contains(complaints, "\x1b") {
		t.Errorf("got %d lines on standard error, want %d, and no escapes:\n%s", len(lines), len(bad), complaints)
	}
	for name, why := range bad {
		found := false
		for _, l := range lines {
			found = found || strings.Contains(l, clean(name)) && strings.Contains(l, why)
		}
		if !found {
			t.Errorf("%q: no line names it and says %q:\n%s", name, why, complaints)
		}
	}

	status, _, complaints = ran("accuracy", t.TempDir())
	if status != exitFault || !strings.Contains(complaints, "put WAV files there") {
		t.Errorf("an empty folder: got %d, %q", status, complaints)
	}
	if status, _, complaints = ran("accuracy", filepath.Join(dir, "nowhere")); status != exitFault || !strings.Contains(complaints, "nowhere") {
		t.Errorf("no folder: got %d, %q", status, complaints)
	}
}
