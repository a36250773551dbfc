package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func list(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "wanted.txt")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestWantedCommand(t *testing.T) {
	good := list(t, "# jars\nA4 +10 +-15 glass x2\n500 Hz\n")
	status, out, complaints := ran("wanted", "--reference", "442", good)
	// A4 at 442 Hz, ten cents higher: 442·2^(10/1200) = 444.56 Hz.
	if status != 0 || complaints != "" || !strings.Contains(out, "A4 bent +10") || !strings.Contains(out, "444.56 Hz") || !strings.Contains(out, "2 wanted") || !strings.Contains(out, "500 Hz") {
		t.Errorf("a good list: got status %d, %q, %q", status, out, complaints)
	}
	bad := list(t, "A4\nA4 jar\n\nF#\n")
	status, out, complaints = ran("wanted", bad)
	for _, want := range []string{bad + ":2:4: ", bad + ":4:1: ", "for a jar write glass"} {
		if !strings.Contains(complaints, want) {
			t.Errorf("a list with faults: got %q, wanted %q in it", complaints, want)
		}
	}
	if status != exitFault || !strings.Contains(out, "A4") {
		t.Errorf("a list with faults: got status %d and %q, wanted %d and the good line", status, out, exitFault)
	}
	// What is no list is not told line by line.
	status, _, complaints = ran("wanted", list(t, "A4\n"+strings.Repeat("nonsense\n", 200)))
	if lines := strings.Split(strings.TrimSpace(complaints), "\n"); status != exitFault || len(lines) < mostFaults || !strings.Contains(lines[mostFaults], "180 more lines") {
		t.Errorf("200 lines that cannot be read: got status %d and %d lines, wanted %d and \"180 more lines\" after %d", status, len(lines), exitFault, mostFaults)
	}
	for name, args := range map[string][]string{
		"no such file":  {"wanted", filepath.Join(t.TempDir(), "none")},
		"an empty list": {"wanted", list(t, "# nothing yet\n")},
		"too long":      {"wanted", list(t, strings.Repeat("# padding\n", longestList/10+1))},
	} {
		if status, out, complaints := ran(args...); status != exitFault || out != "" || strings.Count(complaints, "\n") != 1 {
			t.Errorf("%s: got status %d, %q, %q, wanted %d and one line of complaint", name, status, out, complaints, exitFault)
		}
	}
}

// The recording of a glockenspiel's C6 is held against a list.
func TestMeasureWanted(t *testing.T) {
	file := filepath.Join(root, "testdata", "strikes", "glock_c6.wav")
	wants := list(t, "C8 +-50\nC6 +-50\n")
	status, out, complaints := ran("measure", "--json", "--wanted", wants, file)
	var m struct {
		Strikes []struct {
			Heard *struct {
				Frequency float64 `json:"frequency_hz"`
			}
			Verdict *struct{ Answer, Place, Words string }
		}
	}
	if err := json.Unmarshal([]byte(out), &m); err != nil || status != 0 || len(m.Strikes) == 0 {
		t.Fatalf("measure --wanted: got status %d, %q, %q", status, out, complaints)
	}
	if v := m.Strikes[0].Verdict; v == nil || v.Answer != "yes" || v.Words == "" {
		t.Errorf("measure --wanted, JSON: got %+v heard %+v, wanted a yes with words", v, m.Strikes[0].Heard)
	}
	if status, out, _ := ran("measure", "--wanted", wants, file); status != 0 || !strings.Contains(out, "Yes: C") {
		t.Errorf("measure --wanted, table: got status %d, %q, wanted the verdict in words", status, out)
	}
	if status, out, complaints := ran("measure", "--wanted", list(t, "C6 +-50\nnonsense\n"), file); status != exitFault || !strings.Contains(complaints, ":2:1: ") || !strings.Contains(out, "Yes: C6") {
		t.Errorf("measure with a list with a fault: got status %d, %q, %q, wanted %d, the fault and the verdict all the same", status, out, complaints, exitFault)
	}
}
