package catalogue

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// kept makes a shelf with some strikes and closes it.
func kept(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	s := stocked(t, dir)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestANewerShelfIsLeftAsItIs(t *testing.T) {
	ctx := context.Background()
	dir := kept(t)
	file := filepath.Join(dir, databaseFile)
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	data = altered(t, data, fmt.Sprintf(`PRAGMA user_version = %d`, schemaVersion()+1))
	if err := os.WriteFile(file, data, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, dir, Options{}); !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "update this one") {
		t.Errorf("to write: got %v, want ErrNewer and what to do", err)
	}
	if _, err := OpenReader(ctx, dir); !errors.Is(err, ErrNewer) {
		t.Errorf("to read: got %v, want ErrNewer", err)
	}
	if after, _ := os.ReadFile(file); string(after) != string(data) {
		t.Error("the database was changed")
	}
}

func TestAnotherDatabaseIsLeftAsItIs(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, databaseFile)
	if err := os.WriteFile(file, altered(t, nil, `CREATE TABLE x (y)`), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), dir, Options{}); !errors.Is(err, ErrForeign) {
		t.Errorf("got %v, want ErrForeign", err)
	}
}

// steps lead from every version to the next, and a copy of what was stays.
func TestMigration(t *testing.T) {
	ctx := context.Background()
	dir := kept(t)
	file := filepath.Join(dir, databaseFile)
	s := openShelf(t, dir)
	more := append(steps(), `ALTER TABLE object ADD COLUMN colour TEXT NOT NULL DEFAULT 'plain'`)
	copied := 0
	if err := migrate(ctx, s.write, more, func(from int) error { copied = from; return s.copyAside(ctx, file+".before-2") }); err != nil {
		t.Fatal(err)
	}
	var v, n, before int
	if err := s.write.QueryRow(`SELECT (SELECT user_version FROM pragma_user_version), count(*) FROM object WHERE colour = 'plain'`).Scan(&v, &n); err != nil || v != 2 || n != 2 {
		t.Errorf("got version %d, %d objects, %v, want 2 and 2", v, n, err)
	}
	if err := s.write.QueryRow(`ATTACH ? AS old; SELECT count(*) FROM old.object`, file+".before-2").Scan(&before); err != nil || before != 2 || copied != 1 {
		t.Errorf("the copy of version %d holds %d objects, %v, want version 1 and 2", copied, before, err)
	}
	// A step that fails leaves the version before.
	bad := append(more, `ALTER TABLE object ADD COLUMN a TEXT; ALTER TABLE nothing ADD COLUMN a TEXT`)
	if err := migrate(ctx, s.write, bad, func(int) error { return nil }); err == nil {
		t.Error("a step that cannot be: got no error")
	}
	if got, err := version(ctx, s.write); err != nil || got != 2 {
		t.Errorf("after a step that failed: got version %d, %v, want 2", got, err)
	}
}

// Whatever bit of a database is flipped, nobody panics, and what is read as
// sound is as it was: either somebody complains or nothing has changed.
func TestFlippedBits(t *testing.T) {
	ctx := context.Background()
	dir := kept(t)
	file := filepath.Join(dir, databaseFile)
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	r.Close()
	told := 0
	for i := range 60 {
		bad := append([]byte{}, whole...)
		at := (i*7919 + 13) * 31 % len(bad)
		bad[at] ^= 1 << (i % 8)
		if err := os.WriteFile(file, bad, 0o666); err != nil {
			t.Fatal(err)
		}
		r, err := OpenReader(ctx, dir)
		if err != nil {
			told++
			continue
		}
		if report, err := r.Check(ctx, nil); err != nil || !report.Sound() {
			told++
		}
		r.Close()
	}
	// Most of a page holds numbers and text of which no check can know what
	// they were; the rest is structure.
	if told == 0 {
		t.Error("of 60 flipped bits none was noticed")
	}
	t.Logf("of 60 flipped bits %d were noticed", told)
}

func TestATruncatedDatabaseIsTold(t *testing.T) {
	ctx := context.Background()
	for _, keep := range []int64{100, 4096, 20000, -4096} {
		dir := kept(t)
		file := filepath.Join(dir, databaseFile)
		if keep < 0 {
			info, err := os.Stat(file)
			if err != nil {
				t.Fatal(err)
			}
			keep += info.Size()
		}
		if err := os.Truncate(file, keep); err != nil {
			t.Fatal(err)
		}
		r, err := OpenReader(ctx, dir)
		if err == nil {
			var report *Report
			report, err = r.Check(ctx, nil)
			if err == nil && !report.Sound() {
				err = ErrDamaged
			}
			r.Close()
		}
		if !errors.Is(err, ErrDamaged) {
			t.Errorf("cut to %d bytes: got %v, want ErrDamaged", keep, err)
		}
	}
}

func TestADamagedRecordingIsTold(t *testing.T) {
	ctx := context.Background()
	dir := kept(t)
	r, err := OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	files := store{r.recordings()}
	missing, changed := hash(soundOf(0)), hash(soundOf(1))
	if err := os.Remove(files.path(missing)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(files.path(changed), []byte("noise"), 0o666); err != nil {
		t.Fatal(err)
	}
	report, err := r.Check(ctx, nil)
	if err != nil || len(report.Faults) != 2 {
		t.Errorf("check: got %+v, %v, want two faults", report, err)
	}
	if _, err := r.Recording(missing); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the missing one: got %v, want fs.ErrNotExist", err)
	}
	if _, err := r.Recording(changed); err == nil || !strings.Contains(err.Error(), "has changed on the disk") {
		t.Errorf("the changed one: got %v, want that it has changed", err)
	}
	backup := filepath.Join(t.TempDir(), "b.tar")
	if err := r.Backup(ctx, backup); err == nil {
		t.Error("a backup of it was made, want an error")
	}
	if _, err := os.Stat(backup); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a backup that is not whole was left: %v", err)
	}
}

// smallDisk runs this test again within a mount of its own, a disk of 3 MB,
// where the system lets it.
func smallDisk(t *testing.T, name, script string) string {
	t.Helper()
	if _, err := exec.LookPath("unshare"); err != nil {
		t.Skip("unshare is not installed")
	}
	dir := t.TempDir()
	cmd := exec.Command("unshare", "--mount", "--map-root-user", "sh", "-c", `mount -t tmpfs -o size=3m none "$1" || exit 77; `+script, "sh", dir)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Env = append(os.Environ(), onDisk+"="+name, "SHELF="+dir, "SELF="+self)
	out, err := cmd.CombinedOutput()
	if e, ok := errors.AsType[*exec.ExitError](err); ok && (e.ExitCode() == 77 || strings.Contains(string(out), "unshare")) {
		t.Skipf("this system lets nobody mount: %s", out)
	}
	if err != nil {
		t.Errorf("on a small disk: %v: %s", err, out)
	}
	return string(out)
}

// What a full disk does to a shelf: what was acknowledged stays, the rest is
// refused with ErrFull, and once there is room again it goes on.
func TestAFullDisk(t *testing.T) { smallDisk(t, "full", `exec "$SELF"`) }

func onFullDisk(dir string) error {
	ctx := context.Background()
	if err := os.WriteFile(filepath.Join(dir, "ballast"), make([]byte, 1<<20), 0o666); err != nil {
		return err
	}
	s, err := Open(ctx, filepath.Join(dir, "shelf"), Options{})
	if err != nil {
		return err
	}
	o, err := s.AddObject(ctx, Object{Name: "pipe"})
	if err != nil {
		return err
	}
	v, err := s.AddVoice(ctx, Voice{Object: o.ID})
	if err != nil {
		return err
	}
	n := 0
	for ; n < 2000 && err == nil; n++ {
		err = s.Keep(ctx, strikeOf(v.ID, n), []byte(strings.Repeat(fmt.Sprint(n, " "), 4000)))
	}
	if !errors.Is(err, ErrFull) || n < 3 {
		return fmt.Errorf("after %d strikes: got %v, want ErrFull", n, err)
	}
	acknowledged := n - 1
	report, err := s.Check(ctx, nil)
	if err != nil || !report.Sound() || report.Strikes != acknowledged {
		return fmt.Errorf("on the full disk: got %+v, %v, want %d strikes", report, err, acknowledged)
	}
	if err := os.Remove(filepath.Join(dir, "ballast")); err != nil {
		return err
	}
	if err := s.Keep(ctx, strikeOf(v.ID, n), soundOf(n)); err != nil {
		return fmt.Errorf("with room again: %w", err)
	}
	return s.Close()
}

func TestAReadOnlyDisk(t *testing.T) {
	smallDisk(t, "read-only", `WHEN=before "$SELF" && mount -o remount,ro "$SHELF" && WHEN=after exec "$SELF"`)
}

func onReadOnlyDisk(dir string) error {
	ctx := context.Background()
	shelf := filepath.Join(dir, "shelf")
	if os.Getenv("WHEN") == "before" {
		s, err := Open(ctx, shelf, Options{})
		if err != nil {
			return err
		}
		if _, err := s.AddObject(ctx, Object{Name: "pipe"}); err != nil {
			return err
		}
		return s.Close()
	}
	if _, err := Open(ctx, shelf, Options{}); !errors.Is(err, ErrReadOnly) {
		return fmt.Errorf("to write: got %v, want ErrReadOnly", err)
	}
	if _, err := Open(ctx, filepath.Join(dir, "new"), Options{}); !errors.Is(err, ErrReadOnly) {
		return fmt.Errorf("a new one: got %v, want ErrReadOnly", err)
	}
	r, err := OpenReader(ctx, shelf)
	if err != nil {
		return fmt.Errorf("to read: %w", err)
	}
	defer r.Close()
	if on, err := r.Objects(ctx, false); err != nil || len(on) != 1 {
		return fmt.Errorf("to read: got %d objects, %v, want 1", len(on), err)
	}
	return nil
}
