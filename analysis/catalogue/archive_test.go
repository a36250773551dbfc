package catalogue

import (
	"archive/tar"
	"bytes"
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/analysis"
)

// stocked is a shelf with something of everything.
func stocked(t testing.TB, dir string) *Shelf {
	t.Helper()
	ctx := context.Background()
	s := openShelf(t, dir)
	o, v := jar(t, s)
	away, va := jar(t, s)
	pinned, err := s.AddVoice(ctx, Voice{Object: o.ID, Place: "=middle", PinnedHz: 1999})
	if err != nil {
		t.Fatal(err)
	}
	for n := range 3 {
		keep(t, s, v.ID, n)
	}
	keep(t, s, pinned.ID, 4)
	keep(t, s, va.ID, 5)
	for _, err := range []error{
		s.SetPhoto(ctx, o.ID, slate(t)),
		s.SetState(ctx, o.ID, Condition{State: Suspect, Note: "rings short"}),
		s.PutAway(ctx, ObjectPart, away.ID),
		s.PutAway(ctx, StrikePart, strikeOf(v.ID, 2).ID),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func export(t testing.TB, r *Reader) string {
	t.Helper()
	var b strings.Builder
	if err := r.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func figures(t testing.TB, r *Reader) string {
	t.Helper()
	var b strings.Builder
	if err := r.WriteCSV(context.Background(), VoiceTable, &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestImportGivesTheSameShelf(t *testing.T) {
	s := stocked(t, t.TempDir())
	want := export(t, &s.Reader)
	to := openShelf(t, t.TempDir())
	if err := to.Import(context.Background(), strings.NewReader(want)); err != nil {
		t.Fatal(err)
	}
	if got := export(t, &to.Reader); got != want {
		t.Errorf("exported again: got\n%s\nwant\n%s", got, want)
	}
	if got, want := figures(t, &to.Reader), figures(t, &s.Reader); got != want {
		t.Errorf("figures: got\n%s\nwant\n%s", got, want)
	}
	soundly(t, &to.Reader)
	if err := to.Import(context.Background(), strings.NewReader(want)); !errors.Is(err, ErrNotEmpty) {
		t.Errorf("into a shelf that holds something: got %v, want ErrNotEmpty", err)
	}
}

// Where the file system has no links a backup still overwrites nothing.
func TestANameIsReserved(t *testing.T) {
	dir := t.TempDir()
	whole, file := filepath.Join(dir, "whole"), filepath.Join(dir, "b.tar")
	if err := os.WriteFile(whole, []byte("new"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := reserveName(whole, file); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(file); string(got) != "new" {
		t.Errorf("got %q, want new", got)
	}
	if err := os.WriteFile(whole, []byte("newer"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := reserveName(whole, file); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a file: got %v, want fs.ErrExist", err)
	}
	if got, _ := os.ReadFile(file); string(got) != "new" {
		t.Errorf("after that: got %q, want new", got)
	}
}

func TestImportIsAllOrNothing(t *testing.T) {
	s := stocked(t, t.TempDir())
	whole := export(t, &s.Reader)
	lines := strings.SplitAfter(whole, "\n")
	for name, bad := range map[string]string{
		"nothing":           "",
		"no shelf":          `{"type":"object"}` + "\n",
		"newer":             strings.Replace(whole, `"version":1`, `"version":2`, 1),
		"cut in a line":     whole[:len(whole)/2],
		"end missing":       strings.Join(lines[:len(lines)-2], ""),
		"line missing":      strings.Join(append(append([]string{}, lines[:3]...), lines[4:]...), ""),
		"unknown field":     strings.Replace(whole, `"material":`, `"metal":1,"material":`, 1),
		"wrong sound":       strings.Replace(whole, `"wav":"c29`, `"wav":"d29`, 1),
		"unfit name":        strings.Replace(whole, `"name":"jar 7"`, `"name":"\u001b[2J"`, 1),
		"something follows": whole + lines[1],
		"a number too much": strings.Replace(whole, `"frequency_hz":7`, `"frequency_hz":-7`, 1),
	} {
		to := openShelf(t, t.TempDir())
		err := to.Import(context.Background(), strings.NewReader(bad))
		if _, ok := errors.AsType[*ImportError](err); !ok {
			t.Errorf("%s: got %v, want an ImportError", name, err)
		}
		if got := soundly(t, &to.Reader); got.Objects+got.Voices+got.Strikes+got.Recordings > 0 {
			t.Errorf("%s: got %+v, want an empty shelf", name, got)
		}
	}
}

func TestBackupAndRestore(t *testing.T) {
	ctx := context.Background()
	s := stocked(t, t.TempDir())
	dir := t.TempDir()
	file := filepath.Join(dir, "monday.tar")
	if err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	if err := s.Backup(ctx, file); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a file: got %v, want fs.ErrExist", err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	to := filepath.Join(dir, "new", "shelf")
	if err := Restore(ctx, file, to); err != nil {
		t.Fatal(err)
	}
	if err := Restore(ctx, file, to); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a shelf: got %v, want fs.ErrExist", err)
	}
	again := openShelf(t, to)
	if got, want := export(t, &again.Reader), export(t, &s.Reader); got != want {
		t.Errorf("restored: got\n%s\nwant\n%s", got, want)
	}
	if odd := soundly(t, &again.Reader); len(odd.Orphans) > 0 {
		t.Errorf("orphans: %v, want none", odd.Orphans)
	}
}

// repack rewrites an archive member by member; a nil answer leaves one out.
func repack(t *testing.T, file string, change func(name string, data []byte) (string, []byte)) string {
	t.Helper()
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for r := tar.NewReader(in); ; {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		data, err2 := io.ReadAll(r)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if name, data := change(h.Name, data); data != nil {
			if err := addMember(w, name, int64(len(data)), bytes.NewReader(data)); err != nil {
				t.Fatal(err)
			}
		}
	}
	w.Close()
	out := filepath.Join(t.TempDir(), "changed.tar")
	if err := os.WriteFile(out, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return out
}

// altered runs SQL on a database given as bytes, as a stranger could.
func altered(t *testing.T, data []byte, statements string) []byte {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.sqlite")
	if err := os.WriteFile(file, data, 0o666); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(statements); err != nil {
		t.Fatal(err)
	}
	db.Close()
	data, err = os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestRestoreRefuses(t *testing.T) {
	ctx := context.Background()
	s := stocked(t, t.TempDir())
	file := filepath.Join(t.TempDir(), "b.tar")
	if err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	withSQL := func(statements string) func(string, []byte) (string, []byte) {
		return func(name string, data []byte) (string, []byte) {
			if name == databaseFile {
				data = altered(t, data, statements)
			}
			return name, data
		}
	}
	seen := 0
	for name, c := range map[string]struct {
		change func(string, []byte) (string, []byte)
		want   error
	}{
		"a trigger":     {withSQL(`CREATE TRIGGER x AFTER INSERT ON strike BEGIN DELETE FROM object; END`), ErrForeign},
		"a view":        {withSQL(`CREATE VIEW x AS SELECT 1`), ErrForeign},
		"a table more":  {withSQL(`CREATE TABLE x (y)`), ErrForeign},
		"no shelf":      {withSQL(`PRAGMA application_id = 7`), ErrForeign},
		"newer":         {withSQL(`PRAGMA user_version = 99`), ErrNewer},
		"a row astray":  {withSQL(`PRAGMA foreign_keys = 0; UPDATE voice SET object = 'nobody'`), ErrNotBackup},
		"no recordings": {func(name string, data []byte) (string, []byte) { return name, only(name == databaseFile, data) }, ErrNotBackup},
		"no database":   {func(name string, data []byte) (string, []byte) { return name, only(name != databaseFile, data) }, ErrNotBackup},
		"a way out": {func(name string, data []byte) (string, []byte) {
			if name != databaseFile {
				name = "../" + name
			}
			return name, data
		}, ErrNotBackup},
		"a flipped bit": {func(name string, data []byte) (string, []byte) {
			if name != databaseFile {
				data[100] ^= 1
			}
			return name, data
		}, ErrNotBackup},
	} {
		seen++
		to := filepath.Join(t.TempDir(), "to")
		if err := Restore(ctx, repack(t, file, c.change), to); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", name, err, c.want)
		}
		if left, _ := os.ReadDir(filepath.Dir(to)); len(left) > 0 {
			t.Errorf("%s: left behind %v", name, left)
		}
	}
	if err := os.Truncate(file, 20000); err != nil {
		t.Fatal(err)
	}
	if err := Restore(ctx, file, filepath.Join(t.TempDir(), "to")); !errors.Is(err, ErrNotBackup) && !errors.Is(err, ErrDamaged) {
		t.Errorf("cut short: got %v, want ErrNotBackup or ErrDamaged", err)
	}
}

func only(yes bool, data []byte) []byte {
	if yes {
		return data
	}
	return nil
}

func TestCSV(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	for _, name := range []string{`=1+1`, `+1`, `-1`, `@x`, `plain, "quoted"`} {
		if _, err := s.AddObject(ctx, Object{Name: name, Notes: "=two\nlines"}); err != nil {
			t.Fatal(err)
		}
	}
	var b strings.Builder
	if err := s.WriteCSV(ctx, ObjectTable, &b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil || len(rows) != 6 {
		t.Fatalf("got %d rows, %v, want 6", len(rows), err)
	}
	for _, want := range []string{`'=1+1`, `'+1`, `'-1`, `'@x`, `plain, "quoted"`} {
		found := false
		for _, r := range rows[1:] {
			found = found || r[1] == want && r[len(r)-1] == "'=two\nlines"
		}
		if !found {
			t.Errorf("no row is named %q: %q", want, rows)
		}
	}
}

// The sqlite3 command line and Python's csv module read what we write: somebody
// else's readers of the same formats.
func TestOutsidersRead(t *testing.T) {
	dir := t.TempDir()
	s := stocked(t, dir)
	table := filepath.Join(t.TempDir(), "v.csv")
	if err := os.WriteFile(table, []byte(figures(t, &s.Reader)), 0o666); err != nil {
		t.Fatal(err)
	}
	s.Close()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"sqlite3", filepath.Join(dir, databaseFile), `PRAGMA integrity_check; SELECT name, place, strikes, round(pitch_hz, 1)
			FROM figure JOIN voice ON voice.id = voice JOIN object ON object.id = object WHERE object.put_away IS NULL ORDER BY strikes`},
			"ok\njar 7|=middle|1|2007.9\njar 7|rim|2|740.7\n"},
		{[]string{"python3", "-c", `import csv, sys
for r in csv.DictReader(open(sys.argv[1], newline="")): print(r["name"], r["place"], r["strikes"], round(float(r["pitch_hz"]), 1))`, table},
			"jar 7 rim 2 740.7\njar 7 '=middle 1 2007.9\n"},
	} {
		t.Run(c.args[0], func(t *testing.T) {
			if _, err := exec.LookPath(c.args[0]); err != nil {
				t.Skipf("%s is not installed", c.args[0])
			}
			got, err := exec.Command(c.args[0], c.args[1:]...).CombinedOutput()
			if err != nil || string(got) != c.want {
				t.Errorf("got %q, %v, want %q", got, err, c.want)
			}
		})
	}
}

// A measured instrument, the files that were heard and the mark of a demo go
// out and come in with the rest.
func TestInstrumentsFilesAndTheMark(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	if err := s.MarkDemo(ctx); err != nil {
		t.Fatal(err)
	}
	in := Instrument{Name: "prepared piano", Alike: "piano", Notes: []InstrumentNote{
		{Key: 60, Label: "C4", Strikes: 2, Targets: []analysis.Hz{261.2, 524.1}, Partials: []NotePartial{{261.2, 0.1, 0, 3}}},
		{Key: 62, Label: "D4, felt"},
	}}
	if err := s.SetInstrument(ctx, in); err != nil {
		t.Fatal(err)
	}
	if err := s.AddHeardFile(ctx, HeardFile{Content: "abc", Name: "take 1.wav", Strikes: 3}); err != nil {
		t.Fatal(err)
	}
	got, err := s.Instrument(ctx, in.Name)
	if err != nil || len(got.Notes) != 2 || got.Notes[0].Targets[1] != 524.1 || got.Notes[0].Partials[0].T60 != 3 || len(got.Notes[1].Targets) != 0 {
		t.Errorf("got %+v, %v, want it as it was", got, err)
	}
	want := export(t, &s.Reader)
	to := openShelf(t, t.TempDir())
	if err := to.Import(ctx, strings.NewReader(want)); err != nil {
		t.Fatal(err)
	}
	if got := export(t, &to.Reader); got != want {
		t.Errorf("exported again: got\n%s\nwant\n%s", got, want)
	}
	if demo, err := to.Demo(ctx); err != nil || !demo {
		t.Errorf("imported: got demo %v, %v, want that it is one", demo, err)
	}
	if f, err := to.HeardFile(ctx, "abc"); err != nil || f.Strikes != 3 {
		t.Errorf("file: got %+v, %v, want 3 strikes", f, err)
	}
	if err := to.RemoveInstrument(ctx, in.Name); err != nil {
		t.Error(err)
	}
	for name, bad := range map[string]Instrument{
		"no name":     {Notes: in.Notes},
		"no notes":    {Name: "x"},
		"a key twice": {Name: "x", Notes: []InstrumentNote{{Key: 60}, {Key: 60}}},
		"no place":    {Name: "x", Notes: []InstrumentNote{{Key: 60, Targets: []analysis.Hz{-1}}}},
	} {
		if _, ok := errors.AsType[*Fault](to.SetInstrument(ctx, bad)); !ok {
			t.Errorf("%s: got no Fault", name)
		}
	}
	jar(t, to)
	if err := to.MarkDemo(ctx); !errors.Is(err, ErrDemo) {
		t.Errorf("a shelf that holds something: got %v, want ErrDemo", err)
	}
}
