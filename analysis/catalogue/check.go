package catalogue

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Report is what Check has found.
type Report struct {
	Objects, Voices, Strikes int   // on the shelf and put away
	Recordings               int   // that rows name
	Bytes                    int64 // of them
	// Faults say what is lost or damaged, one sentence each.
	Faults []string
	// Orphans are recordings that no row names, and what was left unfinished:
	// a crash leaves them, nothing is lost by them and Empty removes them.
	Orphans []string
	// Strangers are files that are not the shelf's.
	Strangers []string
}

// Sound reports whether nothing is lost or damaged.
func (r *Report) Sound() bool { return len(r.Faults) == 0 }

func (r *Report) fault(format string, args ...any) {
	r.Faults = append(r.Faults, fmt.Sprintf(format, args...))
}

// Check reads the whole shelf: the database by SQLite's own check, its schema,
// every reference, and every recording against its name. progress, when not
// nil, is called with how many of how many recordings were read. An error
// means that it could not go on; what was found until then stands in the
// report.
func (r *Reader) Check(ctx context.Context, progress func(done, of int)) (*Report, error) {
	out := &Report{}
	if err := r.checkDatabase(ctx, out); err != nil {
		return out, fmt.Errorf("catalogue: check shelf %s: %w", r.dir, err)
	}
	if err := r.checkRecordings(ctx, out, progress); err != nil {
		return out, fmt.Errorf("catalogue: check shelf %s: %w", r.dir, err)
	}
	return out, nil
}

func (r *Reader) checkDatabase(ctx context.Context, out *Report) error {
	v, err := version(ctx, r.db)
	if err != nil {
		return err
	}
	odd, err := foreign(ctx, r.db, v)
	if err != nil {
		return err
	}
	for _, t := range odd {
		out.fault("The database does not have the shelf's schema: %s.", t)
	}
	text := func(row scanner) (s string, err error) { err = row.Scan(&s); return }
	words, err := list(ctx, r.db, text, `PRAGMA integrity_check`)
	if err != nil {
		return err
	}
	for _, w := range words {
		if w != "ok" {
			out.fault("The database is damaged: %s.", strings.TrimSpace(w))
		}
	}
	broken, err := list(ctx, r.db, text, `SELECT "table" || ' row ' || coalesce(rowid, '?') || ' needs a ' || parent FROM pragma_foreign_key_check`)
	if err != nil {
		return err
	}
	for _, w := range broken {
		out.fault("A reference leads nowhere: %s.", w)
	}
	return r.db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM object), (SELECT count(*) FROM voice), (SELECT count(*) FROM strike)`).
		Scan(&out.Objects, &out.Voices, &out.Strikes)
}

// recordingRow is a row of the table recording.
type recordingRow struct {
	hash, added string
	bytes       int64
}

func scanRecording(row scanner) (recordingRow, error) {
	var rec recordingRow
	err := row.Scan(&rec.hash, &rec.bytes, &rec.added)
	return rec, err
}

func recordingRows(ctx context.Context, db querier) ([]recordingRow, error) {
	return list(ctx, db, scanRecording, `SELECT hash, bytes, added FROM recording ORDER BY hash`)
}

func (r *Reader) checkRecordings(ctx context.Context, out *Report, progress func(done, of int)) error {
	files := store{r.recordings()}
	// Files first: what is kept meanwhile has a row by the time rows are read.
	var lying []found
	if err := files.walk(func(f found) error { lying = append(lying, f); return nil }); err != nil {
		return err
	}
	rows, err := recordingRows(ctx, r.db)
	if err != nil {
		return err
	}
	named := map[string]bool{}
	for i, rec := range rows {
		if err := ctx.Err(); err != nil {
			return err
		}
		named[rec.hash] = true
		out.Recordings++
		out.Bytes += rec.bytes
		if progress != nil {
			progress(i+1, len(rows))
		}
		if !hashed(rec.hash) {
			out.fault("Recording %q has no proper name.", rec.hash)
			continue
		}
		switch got, n, err := sum(files.path(rec.hash)); {
		case err != nil:
			out.fault("A recording cannot be read: %v.", err)
		case got != rec.hash || n != rec.bytes:
			out.fault("Recording %s has changed on the disk: it was %d bytes and is %d.", files.path(rec.hash), rec.bytes, n)
		}
	}
	for _, f := range lying {
		switch {
		case f.name == "" && !f.unfinished:
			out.Strangers = append(out.Strangers, f.path)
		case !named[f.name]:
			out.Orphans = append(out.Orphans, f.path)
		}
	}
	return nil
}

func (r *Reader) recordings() string { return filepath.Join(r.dir, recordingsDir) }

// found is a file below the folder of recordings.
type found struct {
	path       string
	name       string // its hash; "" where it is no recording
	unfinished bool
}

// walk calls visit with every file in the store.
func (s store) walk(visit func(found) error) error {
	return filepath.WalkDir(s.dir, func(path string, d fs.DirEntry, err error) error {
		if os.IsNotExist(err) {
			return nil // no store yet, or gone while we walk
		}
		if err != nil {
			return err
		}
		if d.IsDir() {
			return nil
		}
		f := found{path: path, unfinished: strings.HasPrefix(d.Name(), unfinished)}
		if name, ok := strings.CutSuffix(d.Name(), ".wav"); ok && hashed(name) && path == s.path(name) {
			f.name = name
		}
		return visit(f)
	})
}
