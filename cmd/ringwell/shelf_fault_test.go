package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/analysis/catalogue"
	"ringwell/webview"
)

// ask sends a request that changes something, as the page does.
func (l *listening) ask(method, path string, body any) (status int, answer string) {
	l.t.Helper()
	data, err := json.Marshal(body)
	if err != nil {
		l.t.Fatal(err)
	}
	req, err := http.NewRequest(method, l.url+path, bytes.NewReader(data))
	if err != nil {
		l.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("X-Ringwell-Token", get[struct{ Token string }](l, "/api/token").Token)
	r, err := http.DefaultClient.Do(req)
	if err != nil {
		l.t.Fatal(err)
	}
	defer r.Body.Close()
	got, err := io.ReadAll(r.Body)
	if err != nil {
		l.t.Fatal(err)
	}
	return r.StatusCode, string(got)
}

func (l *listening) shelf() webview.ShelfForm { return get[webview.ShelfForm](l, "/api/shelf") }

// refuses checks that keeping a strike is refused with the words, and that the
// ear goes on: the recording is heard once more, to its end.
func (l *listening) refuses(id string, status int, words string) {
	l.t.Helper()
	if got, answer := l.ask("POST", "/api/strikes/"+id+"/keep", map[string]any{"name": "jar"}); got != status || !strings.Contains(answer, words) {
		l.t.Errorf("keep: got %d %s, want %d and %q", got, answer, status, words)
	}
	l.again()
}

// again has the recording heard once more and returns its strike.
func (l *listening) again() (id string) {
	l.t.Helper()
	before := len(l.finals())
	if got, answer := l.ask("POST", "/api/source", map[string]any{"choice": fromFile}); got != http.StatusOK {
		l.t.Errorf("hear it once more: got %d %s, want 200", got, answer)
	}
	eventually(l.t, "the ear hears on", func() bool {
		f := l.finals()
		if len(f) > before && f[before].Sound {
			id = f[before].ID
		}
		return id != ""
	})
	return id
}

func (l *listening) keeps(id, as string) {
	l.t.Helper()
	if got, answer := l.ask("POST", "/api/strikes/"+id+"/keep", map[string]any{"name": as}); got != http.StatusOK {
		l.t.Errorf("keep: got %d %s, want 200", got, answer)
	}
}

// earOn is a daemon that has heard a strike and has a shelf.
func earOn(t *testing.T, dir string) (l *listening, strike string) {
	t.Helper()
	tape := filepath.Join(t.TempDir(), "jar.wav")
	bar(t, tape, 523.5, 1)
	l = start(t, nil, "--from", tape, "--shelf", dir)
	t.Cleanup(l.end)
	eventually(t, "the strike is heard and its sound is held", func() bool {
		f := l.finals()
		return len(f) == 1 && f[0].Sound
	})
	return l, l.finals()[0].ID
}

// whole checks that a shelf is as it should be, with so many strikes.
func whole(t *testing.T, dir string, strikes int) {
	t.Helper()
	r, err := catalogue.OpenReader(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if report, err := r.Check(context.Background(), nil); err != nil || !report.Sound() || report.Strikes != strikes {
		t.Errorf("check: got %+v, %v, want %d strikes and nothing amiss", report, err, strikes)
	}
}

// onSmallDisk runs the test that calls it again, in a mount of its own on a
// disk of 3 MB, and returns the disk's folder there; here it waits for that and
// returns "".
func onSmallDisk(t *testing.T) string {
	t.Helper()
	const disk = "RINGWELL_TEST_SMALL_DISK"
	if dir := os.Getenv(disk); dir != "" {
		home(t, "")
		return dir
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := exec.LookPath("unshare"); err != nil {
		t.Skip("unshare is not installed")
	}
	cmd := exec.Command("unshare", "--mount", "--map-root-user", "sh", "-c",
		`mount -t tmpfs -o size=3m none "$`+disk+`" || exit 77; exec "$0" -test.run "^$1\$" -test.v`, self, t.Name())
	cmd.Env = append(os.Environ(), disk+"="+t.TempDir())
	out, err := cmd.CombinedOutput()
	if e, ok := errors.AsType[*exec.ExitError](err); ok && (e.ExitCode() == 77 || strings.Contains(string(out), "unshare:")) {
		t.Skipf("this system lets nobody mount: %s", out)
	}
	if err != nil || !strings.Contains(string(out), "--- PASS: "+t.Name()) {
		t.Errorf("on a small disk: %v\n%s", err, out)
	}
	return ""
}

// On a full disk keeping is refused and says so, what was kept stays, the ear
// goes on, and with room again so does keeping.
func TestAFullDiskOverHTTP(t *testing.T) {
	disk := onSmallDisk(t)
	if disk == "" {
		return
	}
	dir := filepath.Join(disk, "shelf")
	l, strike := earOn(t, dir)
	l.keeps(strike, "jar")
	strike = l.again()
	ballast, err := os.Create(filepath.Join(disk, "ballast"))
	if err != nil {
		t.Fatal(err)
	}
	for err == nil {
		_, err = ballast.Write(make([]byte, 512))
	}
	ballast.Close()
	l.refuses(strike, http.StatusInsufficientStorage, "the disk is full")
	if got := get[struct{ Objects []webview.ObjectForm }](l, "/api/shelf/objects").Objects; len(got) != 1 || got[0].Name != "jar" {
		t.Errorf("what is on it: got %+v, want the jar", got)
	}
	voice := l.finals()[0].Kept.Voice
	l.ask("PATCH", "/api/shelf", map[string]any{"stand": voice})
	l.again()
	eventually(t, "that nothing is kept on the stand is told", func() bool {
		n := l.shelf().Notice
		return n != nil && strings.HasPrefix(*n, "A strike on the stand was not kept: the disk is full;")
	})
	if err := os.Remove(ballast.Name()); err != nil {
		t.Fatal(err)
	}
	l.keeps(strike, "jar")
	if n := l.shelf().Notice; n != nil {
		t.Errorf("once there is room: got %q, want nothing to tell", *n)
	}
	whole(t, dir, 2)
}

// A shelf on a disk that became read-only is read; once it can be written again
// it is, without a restart.
func TestAReadOnlyShelfOverHTTP(t *testing.T) {
	disk := onSmallDisk(t)
	if disk == "" {
		return
	}
	dir := filepath.Join(disk, "shelf")
	drum(t, dir)
	remount := func(how string) {
		t.Helper()
		if out, err := exec.Command("mount", "-o", "remount,"+how, disk).CombinedOutput(); err != nil {
			t.Fatalf("remount %s: %v: %s", how, err, out)
		}
	}
	remount("ro")
	l, strike := earOn(t, dir)
	if s := l.shelf(); !s.Open || s.Writable || s.Objects != 1 || s.Notice == nil || !strings.Contains(*s.Notice, "make the folder writable") {
		t.Errorf("got %+v, want it to be read only, and what to do", s)
	}
	l.refuses(strike, http.StatusServiceUnavailable, "make the folder writable")
	remount("rw")
	eventually(t, "it is opened by itself", func() bool { s := l.shelf(); return s.Writable && s.Notice == nil && s.Objects == 1 })
	l.keeps(strike, "jar")
	whole(t, dir, 1)
}

// Two daemons on one shelf: the second reads, says why it does not write, and
// takes over once the first has let go.
func TestTwoDaemonsOnOneShelf(t *testing.T) {
	home(t, "")
	dir := filepath.Join(t.TempDir(), "shelf")
	a, first := earOn(t, dir)
	b, second := earOn(t, dir)
	if s := b.shelf(); !s.Open || s.Writable || s.Notice == nil || !strings.Contains(*s.Notice, "another ringwell has it open; end that one") {
		t.Errorf("the second: got %+v, want it to read only, and why", s)
	}
	a.keeps(first, "jar")
	if got := get[struct{ Objects []webview.ObjectForm }](b, "/api/shelf/objects").Objects; len(got) != 1 {
		t.Errorf("what the first keeps: the second reads %+v, want the jar", got)
	}
	b.refuses(second, http.StatusServiceUnavailable, "another ringwell has it open")
	a.end()
	eventually(t, "the second takes over", func() bool { s := b.shelf(); return s.Writable && s.Notice == nil && s.Strikes == 1 })
	b.keeps(second, "drum")
	whole(t, dir, 2)
}

// A shelf that is newer, another's or damaged is told with what to do, left as
// it is, and the ear goes on.
func TestASpoiledShelfOverHTTP(t *testing.T) {
	for _, c := range []struct {
		what, words string
		spoil       func([]byte) []byte
	}{
		{"a newer one wrote it", "a newer ringwell wrote it; update this one", func(b []byte) []byte { b[63]++; return b }}, // user_version: bytes 60 to 63, sqlite.org/fileformat.html (from memory, checked by this test)
		{"cut short", "restore a backup", func(b []byte) []byte { return b[:len(b)/2] }},
		{"no database", "restore a backup", func(b []byte) []byte { return bytes.Repeat([]byte("x"), len(b)) }},
		{"a bit of each page's kind flipped", "restore a backup", func(b []byte) []byte {
			for at := 4096; at < len(b); at += 4096 {
				b[at] ^= 0x40
			}
			return b
		}},
	} {
		if raced && c.what != "cut short" {
			continue // the same ways, and hearing takes ten times as long
		}
		t.Run(c.what, func(t *testing.T) {
			home(t, "")
			dir := filepath.Join(t.TempDir(), "shelf")
			drum(t, dir)
			file := filepath.Join(dir, "shelf.sqlite")
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			data = c.spoil(data)
			if err := os.WriteFile(file, data, 0o666); err != nil {
				t.Fatal(err)
			}
			l, strike := earOn(t, dir)
			if s := l.shelf(); s.Notice == nil || !strings.Contains(*s.Notice, c.words) {
				t.Errorf("got %+v, want %q", s, c.words)
			}
			l.refuses(strike, http.StatusServiceUnavailable, c.words)
			if after, err := os.ReadFile(file); err != nil || !bytes.Equal(after, data) {
				t.Errorf("the database was changed (%v), want it left as it was", err)
			}
		})
	}
}

// drum makes a shelf with a drum on it.
func drum(t *testing.T, dir string) {
	t.Helper()
	ctx := context.Background()
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
}
