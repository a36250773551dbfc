package catalogue

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// disk is what a program did to files, and how much of it the power cannot
// take: of a file what it held when it was last flushed, of a folder the names
// it had then.
type disk struct {
	names map[string]*inode            // as the program sees them; nil for folders
	safe  map[string]map[string]*inode // by folder, as after a loss of power
}

type inode struct {
	folder  bool
	now     []byte
	flushed []byte
	pending []func([]byte) []byte // writes since
}

func write(data []byte, at int64) func([]byte) []byte {
	return func(b []byte) []byte {
		if grow := int(at) + len(data) - len(b); grow > 0 {
			b = append(b, make([]byte, grow)...)
		}
		copy(b[at:], data)
		return b
	}
}

func truncate(to int64) func([]byte) []byte {
	return func(b []byte) []byte {
		if int(to) <= len(b) {
			return b[:to]
		}
		return append(b, make([]byte, int(to)-len(b))...)
	}
}

func (n *inode) do(f func([]byte) []byte) {
	n.now = f(n.now)
	n.pending = append(n.pending, f)
}

// take does what a call did, and reports whether it made anything safe.
func (d *disk) take(c call) bool {
	n := d.names[c.path]
	if n == nil && (c.name == "write" || c.name == "pwrite64" || c.name == "ftruncate") {
		panic("nobody opened " + c.path)
	}
	switch c.name {
	case "open", "openat":
		if strings.Contains(c.mode, "O_DIRECTORY") || n != nil && n.folder {
			return false
		}
		if n == nil && strings.Contains(c.mode, "O_CREAT") {
			d.names[c.path] = &inode{}
		} else if n != nil && strings.Contains(c.mode, "O_TRUNC") {
			n.do(truncate(0))
		}
	case "mkdir", "mkdirat":
		d.names[c.path] = &inode{folder: true}
	case "write":
		n.do(write(c.data, int64(len(n.now))))
	case "pwrite64":
		n.do(write(c.data, c.at))
	case "ftruncate":
		n.do(truncate(c.at))
	case "rename", "renameat", "renameat2":
		d.names[c.to] = n
		delete(d.names, c.path)
	case "unlink", "unlinkat":
		delete(d.names, c.path)
	case "fsync", "fdatasync":
		if n == nil || n.folder {
			d.safe[c.path] = d.within(c.path)
		} else {
			n.flushed, n.pending = slices.Clone(n.now), nil
		}
		return true
	}
	return false
}

func (d *disk) within(folder string) map[string]*inode {
	in := map[string]*inode{}
	for path, n := range d.names {
		if filepath.Dir(path) == folder {
			in[path] = n
		}
	}
	return in
}

// build writes the folder as it may be found after a loss of power. Without
// rnd whatever was not flushed is gone; with it, each such write, and each
// folder's names, is there or not by chance.
func (d *disk) build(t *testing.T, folder, to string, rnd *rand.Rand) {
	t.Helper()
	in := d.safe[folder]
	if rnd != nil && rnd.IntN(2) == 0 {
		in = d.within(folder)
	}
	if err := os.MkdirAll(to, 0o777); err != nil {
		t.Fatal(err)
	}
	for _, path := range slices.Sorted(maps.Keys(in)) {
		n, dst := in[path], filepath.Join(to, filepath.Base(path))
		if n.folder {
			d.build(t, path, dst, rnd)
			continue
		}
		data := slices.Clone(n.flushed)
		for _, f := range n.pending {
			if rnd != nil && rnd.IntN(2) == 0 {
				data = f(data)
			}
		}
		if err := os.WriteFile(dst, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

const tracedStrikes = 12

// At whatever moment the power goes, the shelf opens, is whole and holds what
// was acknowledged.
func TestCrashImages(t *testing.T) {
	top := t.TempDir()
	calls := traced(t, keeper(t, filepath.Join(top, "shelf"), 0, tracedStrikes), top)
	d := &disk{names: map[string]*inode{}, safe: map[string]map[string]*inode{}}
	rnd := rand.New(rand.NewPCG(3, 4))
	images, done := 0, 0
	look := func(rnd *rand.Rand) {
		images++
		to := t.TempDir()
		d.build(t, top, to, rnd)
		shelf := filepath.Join(to, "shelf")
		if _, err := os.Stat(filepath.Join(shelf, databaseFile)); errors.Is(err, fs.ErrNotExist) && done == 0 {
			return
		}
		s, err := Open(context.Background(), shelf, Options{})
		if err == nil {
			err = s.Close()
		}
		if err == nil {
			err = acknowledged(shelf, 0, done, true)
		}
		if err != nil {
			t.Errorf("image %d, %d strikes acknowledged: %v", images, done, err)
		}
	}
	for _, c := range calls {
		if c.path == "stdout" {
			if n, err := strconv.Atoi(strings.TrimSpace(strings.TrimPrefix(string(c.data), "kept "))); err == nil {
				done = n + 1
				look(nil)
			}
			continue
		}
		// The worst moment for what is not flushed is just before it would be.
		if c.name == "fsync" || c.name == "fdatasync" {
			for range 3 {
				look(rnd)
			}
		}
		if d.take(c) {
			look(nil)
		}
	}
	t.Logf("%d images of %d calls", images, len(calls))
	if done != tracedStrikes {
		t.Errorf("%d strikes were acknowledged in the trace, want %d", done, tracedStrikes)
	}
}

// The order in which one strike is made safe, as the system saw it.
func TestOrderOfFlushes(t *testing.T) {
	top := t.TempDir()
	calls := traced(t, keeper(t, filepath.Join(top, "shelf"), 0, tracedStrikes), top)
	for n := range tracedStrikes {
		name := store{filepath.Join(top, "shelf", recordingsDir)}.path(hash(soundOf(n)))
		steps := []struct {
			what string
			is   func(call) bool
		}{
			{"the recording is flushed", func(c call) bool {
				return c.name == "fsync" && filepath.Dir(c.path) == filepath.Dir(name) && strings.HasPrefix(filepath.Base(c.path), unfinished)
			}},
			{"it gets its name", func(c call) bool { return strings.HasPrefix(c.name, "rename") && c.to == name }},
			{"its folder is flushed", func(c call) bool { return c.name == "fsync" && c.path == filepath.Dir(name) }},
			{"the row is written", func(c call) bool {
				return c.name == "pwrite64" && strings.HasSuffix(c.path, databaseFile+"-wal")
			}},
			{"the row is flushed", func(c call) bool {
				return (c.name == "fsync" || c.name == "fdatasync") && strings.HasSuffix(c.path, databaseFile+"-wal")
			}},
			{"it is acknowledged", func(c call) bool { return c.path == "stdout" && string(c.data) == "kept "+strconv.Itoa(n)+"\n" }},
		}
		// A window from the acknowledgement before to this one.
		begin := 0
		if n > 0 {
			begin = 1 + slices.IndexFunc(calls, func(c call) bool {
				return c.path == "stdout" && string(c.data) == "kept "+strconv.Itoa(n-1)+"\n"
			})
		}
		at := begin
		for _, s := range steps {
			i := slices.IndexFunc(calls[at:], s.is)
			if i < 0 {
				t.Fatalf("strike %d: not in order: %s", n, s.what)
			}
			at += i + 1
		}
		for _, c := range calls[begin : at-1] {
			if c.path == "stdout" {
				t.Errorf("strike %d: acknowledged before it was safe: %q", n, c.data)
			}
		}
	}
}
