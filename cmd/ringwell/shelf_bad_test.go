package main

import (
	"context"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
	"ringwell/audio"
)

// Whatever is wrong with the shelf, the ear gets one to go on with, and the
// words say what is so and what to do.
func TestAShelfThatCannotBeOpened(t *testing.T) {
	ctx := context.Background()
	fresh := func() (dir, database string) {
		dir = filepath.Join(t.TempDir(), "shelf")
		s, err := catalogue.Open(ctx, dir, catalogue.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.AddObject(ctx, catalogue.Object{Name: "drum"}); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		return dir, filepath.Join(dir, "shelf.sqlite")
	}
	write := func(file string, change func([]byte) []byte) {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, change(data), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		what, words string
		spoil       func(dir, database string)
		reads       bool
	}{
		{"another daemon has it", "another ringwell has it open; end that one", func(dir, _ string) {
			s, err := catalogue.Open(ctx, dir, catalogue.Options{})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
		}, true},
		// The schema version stands in bytes 60 to 63 of the file (sqlite.org/fileformat.html, from memory, checked by this test).
		{"a newer one wrote it", "a newer ringwell wrote it", func(_, database string) {
			write(database, func(b []byte) []byte { b[63]++; return b })
		}, false},
		{"cut short", "restore a backup", func(_, database string) { write(database, func(b []byte) []byte { return b[:5000] }) }, false},
		{"no database", "restore a backup", func(_, database string) {
			write(database, func(b []byte) []byte { return []byte(strings.Repeat("no database ", 500)) })
		}, false},
		{"another's database", "not a shelf", func(_, database string) { write(database, func(b []byte) []byte { copy(b[68:], "XXXX"); return b }) }, false},
		{"a file in its place", "", func(dir, _ string) {
			if err := os.RemoveAll(dir); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(dir, nil, 0o666); err != nil {
				t.Fatal(err)
			}
		}, false},
	} {
		dir, database := fresh()
		c.spoil(dir, database)
		o, done := (&shelfPlace{Shelf: dir}).open(ctx, slog.New(slog.DiscardHandler), func(string) {})
		if o.Write != nil || (o.Read != nil) != c.reads || !strings.Contains(o.Notice, c.words) || !strings.HasSuffix(o.Notice, ".") {
			t.Errorf("%s: got write %v, read %v, %q, want nothing to write, read %v, %q", c.what, o.Write != nil, o.Read != nil, o.Notice, c.reads, c.words)
		}
		done()
	}
}

// A walk along the lowest bars of a vibraphone whose tuning is 6 cents high, one
// bar struck twice and one left out, and then it is an instrument everywhere.
func TestShelfWalk(t *testing.T) {
	home(t, "")
	base, err := instrument.ByName("vibraphone", 440)
	if err != nil {
		t.Fatal(err)
	}
	scene := audio.Scene{Room: 1e-4, Seed: 3}
	for _, i := range []int{0, 1, 1, 2, 4} {
		f := base.Notes[i].Targets[0].Shift(6)
		at := 0.5 + 2*float64(len(scene.Events))
		scene.Events = append(scene.Events, audio.Event{Start: at, Object: "bar", Kind: analysis.Bar, Pitched: true, Heard: f, Contact: 0.002,
			Modes: []audio.Mode{{Frequency: f, T60: 3, Amplitude: 0.2}, {Frequency: 4 * f, T60: 0.8, Amplitude: 0.03}}})
	}
	scene.Seconds = 2*float64(len(scene.Events)) + 1
	var sound []float32
	for _, x := range scene.Render(48000) {
		sound = append(sound, float32(x))
	}
	tape := filepath.Join(t.TempDir(), "bars.wav")
	write(t, tape, 48000, sound)
	status, out, complaints := ran("shelf", "walk", "mine", tape, "--skip", base.Notes[3].Label)
	if status != 0 || !strings.Contains(out, "4 of 37 notes measured") || strings.Count(out, "+6.") < 3 {
		t.Fatalf("got status %d, %q, %q, want 4 of 37 notes, 6 cents high", status, out, complaints)
	}
	shelf := &shelfPlace{}
	in, err := (&held{Instrument: ptr("mine")}).instrument(shelf)
	if err != nil {
		t.Fatal(err)
	}
	if l := in.Land(base.Notes[1].Targets[0].Shift(6), instrument.Aim{}); math.Abs(float64(l.Cents)) > 0.5 || l.Instrument != "mine" {
		t.Errorf("its second bar: got %+v, want 0 cents", l)
	}
	if status, out, complaints := ran("measure", tape, "--instrument", "mine"); status != 0 || !strings.Contains(out, base.Notes[0].Label) {
		t.Errorf("measure on it: got status %d, %q, %q", status, out, complaints)
	}
	if status, _, complaints := ran("measure", tape, "--instrument", "yours"); status == 0 || !strings.Contains(complaints, "no instrument") {
		t.Errorf("on another: got status %d, %q", status, complaints)
	}
}
