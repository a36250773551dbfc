package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"ringwell/analysis/catalogue"
	"ringwell/audio"
)

// recorded writes a recording of a found thing struck once or more.
func recorded(t testing.TB, path string, seed uint64, strikes int) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(seed, 5))
	f := dig(rnd)
	scene := audio.Scene{Seconds: 2*float64(strikes) + 0.5, Room: 1e-4, Seed: seed}
	for n := range strikes {
		scene.Events = append(scene.Events, f.strike(rnd, 0.5+2*float64(n), 0.3, 0.0005))
	}
	var sound []float32
	for _, x := range scene.Render(48000) {
		sound = append(sound, float32(x))
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	write(t, path, 48000, sound)
}

// A folder of old recordings: objects by folder and by file, a twin, a file that
// is none; asked again nothing is heard twice, and what was removed for good can
// be heard anew.
func TestMeasureKeep(t *testing.T) {
	home(t, "")
	top := t.TempDir()
	dir, shelf := filepath.Join(top, "old tapes"), filepath.Join(top, "shelf")
	recorded(t, filepath.Join(dir, "jar 7", "take 1.wav"), 1, 2)
	recorded(t, filepath.Join(dir, "jar 7", "take 2.wav"), 2, 1)
	recorded(t, filepath.Join(dir, "slate.wav"), 3, 1)
	recorded(t, filepath.Join(dir, "the same slate.wav"), 3, 1)
	for name, text := range map[string]string{"broken.wav": "RIFF", "notes.txt": "not sound"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	run := func(status int, out string) {
		t.Helper()
		got, said, complaints := ran("measure", dir, "--keep", "--shelf", shelf)
		if got != status || !strings.Contains(said, out) || strings.Count(complaints, "\n") != 1 || !strings.Contains(complaints, "broken.wav") {
			t.Errorf("got status %d, %q, %q, want %d, %q and one line on broken.wav", got, said, complaints, status, out)
		}
	}
	run(exitFault, "4 strikes from 3 files; 1 file known already, 1 that could not be heard.")
	run(exitFault, "0 strikes from 0 files; 4 files known already, 1 that could not be heard.")
	_, list, _ := shelfRun(shelf, "list")
	if !strings.Contains(list, "jar 7") || !strings.Contains(list, "3 strikes") || !strings.Contains(list, "slate") {
		t.Errorf("list: got %q, want jar 7 with 3 strikes, and a slate", list)
	}
	shelfRun(shelf, "away", "jar 7")
	shelfRun(shelf, "empty", "jar 7")
	run(exitFault, "3 strikes from 2 files; 2 files known already, 1 that could not be heard.")
	for _, c := range []struct {
		args     []string
		complain string
	}{
		{[]string{"measure", dir, "--keep", "--json"}, "leave out --json"},
		{[]string{"measure", t.TempDir(), "--keep", "--shelf", shelf}, "holds no recordings"},
		{[]string{"measure", filepath.Join(dir, "slate.wav"), "--keep", "--shelf", "demo"}, "never on one shelf"},
	} {
		if status, _, complaints := ran(c.args...); status != exitFault || !strings.Contains(complaints, c.complain) {
			t.Errorf("%q: got status %d, %q, want %d, %q", c.args, status, complaints, exitFault, c.complain)
		}
	}
}

func TestProgress(t *testing.T) {
	g := gathering{done: 250, of: 1000, strikes: 300, known: 50, seconds: 800}
	want := "[######..................] 250 of 1000, 300 strikes, 40 x real time, 75 s left"
	if got := g.progress(20 * time.Second); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for d, want := range map[time.Duration]string{0: "1 s", 89 * time.Second: "89 s", 10 * time.Minute: "10 min", 3 * time.Hour: "3.0 h"} {
		if got := leftWords(d); got != want {
			t.Errorf("%v: got %q, want %q", d, got, want)
		}
	}
}

// BenchmarkImport keeps a thousand recordings of 2.5 seconds, one strike each,
// once.
func BenchmarkImport(b *testing.B) {
	dir := b.TempDir()
	const files, seconds = 1000, 2.5
	for i := range files {
		recorded(b, filepath.Join(dir, fmt.Sprintf("thing %d.wav", i)), uint64(i), 1)
	}
	for b.Loop() {
		ctx := context.Background()
		s, err := catalogue.Open(ctx, b.TempDir(), catalogue.Options{})
		if err != nil {
			b.Fatal(err)
		}
		var complaints strings.Builder
		g := &gathering{command: &measureCommand{}, shelf: s, named: []string{dir}, err: &complaints, voices: map[string]string{}, inHand: map[string]bool{}, begun: time.Now(), of: files}
		names, err := filesOf([]string{dir})
		if err != nil {
			b.Fatal(err)
		}
		from := time.Now()
		if err := g.run(ctx, names); err != nil || g.strikes < files*99/100 { // some thing may ring too short to be one
			b.Fatal(g.strikes, err, complaints.String())
		}
		b.ReportMetric(files*seconds/time.Since(from).Seconds(), "x-real-time")
		b.ReportMetric(peakMemory(), "MB-peak")
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(runtime.GOMAXPROCS(0)), "cores")
}
