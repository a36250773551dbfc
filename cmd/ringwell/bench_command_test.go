package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/webview"
)

// atTheBench runs a command of the bench.
func atTheBench(args ...string) (status int, out, complaints string) {
	return ran(append([]string{"bench"}, args...)...)
}

func TestBenchJSON(t *testing.T) {
	status, out, complaints := atTheBench("water", "--json", "--struck", "--holds", "300", "--aim", "F#5 +30", "0=931.2", "200=878.6", "262=795.1")
	var a webview.Advice
	if err := json.Unmarshal([]byte(out), &a); status != 0 || err != nil {
		t.Fatalf("got status %d, %v, %s%s", status, err, out, complaints)
	}
	if a.Step != "add" || a.Amount < 20 || a.Amount > 28 || len(a.Path) != 41 || len(a.Sounds) != 3 || a.Says != "Add 24 ml ±2, then strike again." {
		t.Errorf("got %+v", a)
	}
}

// Grams are millilitres over the density of the water: 0.9982 g at 20 °C, so
// that 261.53 g are the 262 ml of the other.
func TestBenchByWeight(t *testing.T) {
	_, byVolume, _ := atTheBench("water", "--struck", "--holds", "300", "--aim", "F#5", "0=931.2", "200=878.6", "262=795.1")
	status, byWeight, complaints := atTheBench("water", "--struck", "--holds", "300", "--aim", "F#5", "0g=931.2", "199.64g=878.6", "261.53g=795.1")
	if status != 0 || byWeight != byVolume {
		t.Errorf("by weight: got status %d, %s%s, wanted what it is by volume:\n%s", status, byWeight, complaints, byVolume)
	}
}

// A recording is heard with the same ear, and the other way of sounding it is
// noticed.
func TestBenchHearsRecordings(t *testing.T) {
	struck := filepath.Join(root, "testdata", "strikes", "vibes_a3.wav")
	if status, out, complaints := atTheBench("water", "--struck", "--holds", "500", "--aim", "A3", "0="+struck); status != 0 || !strings.HasPrefix(out, "There: A3") {
		t.Errorf("a bar at A3: got status %d, %s%s", status, out, complaints)
	}
	if status, out, complaints := atTheBench("water", "--blown", "--holds", "500", "--aim", "A4", "0="+struck); status != exitFault || out != "" || !strings.Contains(complaints, "it was struck, and blown is meant") {
		t.Errorf("a bar, blown meant: got status %d, %s%s", status, out, complaints)
	}
}

func TestBenchRefusals(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	good := []string{"water", "--struck", "--holds", "300", "--aim", "D5"}
	for why, args := range map[string][]string{
		"no way":                  {"water", "--holds", "300", "--aim", "D5", "0=900"},
		"both ways":               {"water", "--struck", "--blown", "--holds", "300", "--aim", "D5", "0=900"},
		"no such note":            {"water", "--struck", "--holds", "300", "--aim", "X9", "0=900"},
		"no fill":                 append(good, "900"),
		"more than it holds":      append(good, "0=900", "500=800"),
		"less than nothing":       append(good, "-20=900"),
		"not a number":            append(good, "NaN=900"),
		"no such recording":       append(good, "0=none.wav"),
		"hot water":               append(good, "--water", "80", "0=900"),
		"half a bottle's measure": {"water", "--blown", "--holds", "300", "--aim", "D5", "--neck-bore", "18", "0=300"},
		"a stage without here":    {"water", "--blown", "--holds", "300", "--aim", "D5", "--stage", "29", "0=300"},
		"one reading":             {"drift", "20=440"},
		"no span":                 {"drift", "20=440", "20.1=441"},
		"a reading of words":      {"drift", "20=warm", "22=440"},
		"no such material":        {"drift", "--material", "cheese", "20=440", "25=439"},
		"a table without hz":      {"drift", file("a.csv", "celsius,cents\n20,3\n")},
		"a table with words":      {"drift", file("b.csv", "celsius,hz\n20,loud\n")},
		"no vessel":               {"row", "--struck", "--aim", "D5", file("c.csv", "name,holds_ml,in_ml,hz\n")},
		"three columns":           {"row", "--struck", "--aim", "D5", file("d.csv", "jar,300,0\n")},
		"no aims":                 {"row", "--struck", file("e.csv", "jar,300,0,900\n")},
	} {
		status, out, complaints := atTheBench(args...)
		if status == 0 || out != "" || strings.TrimSpace(complaints) == "" || strings.Contains(complaints, "panic") {
			t.Errorf("%s: got status %d, %q, %q", why, status, out, complaints)
		}
	}
}
