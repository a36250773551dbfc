package catalogue

import (
	"archive/tar"
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

func readerOf(data []byte) io.Reader { return bytes.NewReader(data) }

// ErrNotBackup: the file is no whole backup of a shelf.
var ErrNotBackup = errors.New("it is no whole backup of a shelf")

// mostRecording is the largest recording that is restored, in bytes.
const mostRecording = 1 << 30

// Restore makes a shelf in a folder out of a backup. A folder that is there
// and holds anything stays as it is, and the error wraps fs.ErrExist. A backup
// comes from anywhere: nothing in it is used before its database has been found
// to hold the shelf's schema and nothing else, no trigger and no view, and
// each recording to be what its name says. What is not whole leaves nothing
// behind.
func Restore(ctx context.Context, file, dir string) error {
	if err := restore(ctx, file, dir); err != nil {
		return fmt.Errorf("catalogue: restore %s into %s: %w", file, dir, err)
	}
	return nil
}

func restore(ctx context.Context, file, dir string) error {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return fmt.Errorf("there is something in it already; give another folder with --shelf: %w", fs.ErrExist)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	above := filepath.Dir(filepath.Clean(dir))
	if err := makeFolder(above); err != nil {
		return explainFile(err)
	}
	scratch, err := os.MkdirTemp(above, ".ringwell-restore-*")
	if err != nil {
		return explainFile(err)
	}
	defer os.RemoveAll(scratch)
	if err := unpack(ctx, f, scratch); err != nil {
		return err
	}
	if err := trust(ctx, scratch); err != nil {
		return err
	}
	// An empty folder may be in the way; one that has filled stays and fails us.
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.Rename(scratch, dir); err != nil {
		return explainFile(err)
	}
	return explainFile(flushFolder(above))
}

// unpack writes the members of an archive that a backup can have, and refuses
// any other.
func unpack(ctx context.Context, f io.Reader, dir string) error {
	files := store{filepath.Join(dir, recordingsDir)}
	if err := makeFolder(files.dir); err != nil {
		return explainFile(err)
	}
	seen := false
	for r := tar.NewReader(f); ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return fmt.Errorf("%w (%v)", ErrNotBackup, err)
		}
		name, isRecording := recordingMember(h.Name)
		switch {
		case h.Typeflag != tar.TypeReg:
			return fmt.Errorf("%w: %q in it is no plain file", ErrNotBackup, h.Name)
		case h.Name == databaseFile && !seen:
			seen = true
			if err := copyDatabase(filepath.Join(dir, databaseFile), r); err != nil {
				return err
			}
		case isRecording && seen:
			data, err := io.ReadAll(io.LimitReader(r, mostRecording+1))
			if err != nil {
				return fmt.Errorf("%w (%v)", ErrNotBackup, err)
			}
			if hash(data) != name {
				return fmt.Errorf("%w: recording %s in it is damaged", ErrNotBackup, name)
			}
			if _, err := files.add(data); err != nil {
				return err
			}
		default:
			return fmt.Errorf("%w: %q in it does not belong there", ErrNotBackup, h.Name)
		}
	}
	if !seen {
		return ErrNotBackup
	}
	return nil
}

func copyDatabase(file string, from io.Reader) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return explainFile(err)
	}
	_, err = io.Copy(f, from)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%w (%w)", ErrNotBackup, explainFile(err))
	}
	return nil
}

// recordingMember returns the hash in a member's name.
func recordingMember(name string) (string, bool) {
	parts := strings.Split(name, "/")
	if len(parts) != 3 {
		return "", false
	}
	h, ok := strings.CutSuffix(parts[2], ".wav")
	return h, ok && hashed(h) && name == memberOf(h)
}

// trust looks through an unpacked shelf. The schema comes first, read as data:
// until it is known to be ours no statement is run that could run another's.
func trust(ctx context.Context, dir string) error {
	db, err := sql.Open("sqlite", dsn(filepath.Join(dir, databaseFile), "mode=ro", "immutable=1", "_pragma=query_only(1)"))
	if err != nil {
		return explain(err)
	}
	defer db.Close()
	v, err := version(ctx, db)
	switch {
	case err != nil:
		return err
	case v == 0:
		return ErrForeign
	case v > schemaVersion():
		return ErrNewer
	}
	odd, err := foreign(ctx, db, v)
	if err != nil {
		return err
	}
	if len(odd) > 0 {
		return fmt.Errorf("its database holds what is not the shelf's and could do harm: %s: %w", strings.Join(odd, ", "), ErrForeign)
	}
	r := &Reader{dir: dir, db: db}
	report, err := r.Check(ctx, nil)
	if err != nil {
		return err
	}
	if !report.Sound() {
		return fmt.Errorf("%w: %s", ErrNotBackup, strings.Join(report.Faults, " "))
	}
	return nil
}
