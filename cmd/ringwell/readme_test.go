package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// README's examples of the bench print exactly what is shown there: each is a
// line that begins with bin/ringwell bench and the block that follows it. The
// files they name lie in testdata/bench.
func TestReadmeOfTheBench(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Chdir(filepath.Join(root, "testdata", "bench"))
	const indent = "    "
	lines := strings.Split(string(text), "\n")
	ran := 0
	for i, line := range lines {
		command, ok := strings.CutPrefix(line, indent+"bin/ringwell bench ")
		if !ok {
			continue
		}
		var want strings.Builder
		for k := i + 2; k < len(lines) && strings.HasPrefix(lines[k], indent); k++ {
			want.WriteString(strings.TrimPrefix(lines[k], indent) + "\n")
		}
		var out, complaints bytes.Buffer
		status := run(append([]string{"bench"}, words(command)...), stdio{strings.NewReader(""), &out, &complaints})
		if status != 0 || out.String() != want.String() {
			t.Errorf("bench %s: got status %d, %s\n%swanted\n%s", command, status, complaints.String(), out.String(), want.String())
		}
		ran++
	}
	if ran < 5 {
		t.Errorf("README: got %d examples of the bench, wanted 5 at least", ran)
	}
}

// words splits a command line at spaces, but for those in double quotes.
func words(line string) (all []string) {
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			all = append(all, part)
		} else {
			all = append(all, strings.Fields(part)...)
		}
	}
	return all
}
