package catalogue

import (
	"archive/tar"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"time"
)

// Backup writes the whole shelf into one file: a tar archive of the database
// as it stood at one moment, and the recordings it names. Somebody may be
// writing to the shelf meanwhile. A file of that name stays as it is and the
// error wraps fs.ErrExist. A recording that is missing or damaged is an error,
// and then there is no file: a backup is whole.
func (r *Reader) Backup(ctx context.Context, file string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("catalogue: back up shelf %s to %s: %w", r.dir, file, err)
		}
	}()
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("a backup does not overwrite; give another name: %w", fs.ErrExist)
	}
	folder := filepath.Dir(file)
	scratch, err := os.MkdirTemp(folder, ".ringwell-backup-*")
	if err != nil {
		return explainFile(err)
	}
	defer os.RemoveAll(scratch)
	snapshot := filepath.Join(scratch, databaseFile)
	if err := r.snapshot(ctx, snapshot); err != nil {
		return err
	}
	whole := filepath.Join(scratch, "archive")
	if err := r.archive(ctx, snapshot, whole); err != nil {
		return explainFile(err)
	}
	if err := giveName(whole, file); err != nil {
		return explainFile(err)
	}
	return explainFile(flushFolder(folder))
}

// giveName gives a finished file its name, unless the name has been taken
// meanwhile. A link does so at once; sticks formatted for every system know no
// links, and there the name is reserved by an empty file first.
func giveName(whole, file string) error {
	err := os.Link(whole, file)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	return reserveName(whole, file)
}

func reserveName(whole, file string) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	err = errors.Join(f.Close(), os.Rename(whole, file))
	if err != nil {
		os.Remove(file)
	}
	return err
}

// snapshot copies the database as it stands at one moment.
func (r *Reader) snapshot(ctx context.Context, file string) error {
	// A handle of its own: query_only forbids what VACUUM INTO does.
	db, err := sql.Open("sqlite", dsn(filepath.Join(r.dir, databaseFile), "mode=ro"))
	if err != nil {
		return explain(err)
	}
	defer db.Close()
	_, err = db.ExecContext(ctx, `VACUUM INTO ?`, file)
	return explain(err)
}

func (r *Reader) archive(ctx context.Context, snapshot, to string) (err error) {
	db, err := sql.Open("sqlite", readDSN(snapshot))
	if err != nil {
		return explain(err)
	}
	defer db.Close()
	recordings, err := recordingRows(ctx, db)
	if err != nil {
		return err
	}
	f, err := os.Create(to)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := tar.NewWriter(f)
	database, err := os.Open(snapshot)
	if err != nil {
		return err
	}
	defer database.Close()
	info, err := database.Stat()
	if err != nil {
		return err
	}
	if err := addMember(w, databaseFile, info.Size(), database); err != nil {
		return err
	}
	for _, rec := range recordings {
		if err := ctx.Err(); err != nil {
			return err
		}
		data, err := store{r.recordings()}.read(rec.hash)
		if err != nil {
			return fmt.Errorf("a recording is not whole, see ringwell shelf check: %w", err)
		}
		if err := addMember(w, memberOf(rec.hash), int64(len(data)), readerOf(data)); err != nil {
			return err
		}
	}
	return errors.Join(w.Close(), f.Sync())
}

// memberOf is a recording's name within an archive.
func memberOf(hash string) string { return path.Join(recordingsDir, hash[:2], hash+".wav") }

func addMember(w *tar.Writer, name string, size int64, from io.Reader) error {
	// One time for all: the same shelf gives the same archive.
	h := &tar.Header{Name: name, Mode: 0o644, Size: size, ModTime: time.Unix(0, 0), Format: tar.FormatPAX}
	if err := w.WriteHeader(h); err != nil {
		return err
	}
	_, err := io.Copy(w, from)
	return err
}
