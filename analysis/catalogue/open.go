package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	sqlite "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

const (
	databaseFile = "shelf.sqlite"
	lockFile     = "lock"
)

// Options says how a shelf is opened. The zero value is what a program wants.
type Options struct {
	Now   func() time.Time          // the clock; nil: time.Now
	NewID func(at time.Time) string // IDs of objects and voices; nil: ULIDs
	Queue int                       // how much work may wait for the writer; 0: 64
}

// Reader reads a shelf. Its methods may be called at once from anywhere.
type Reader struct {
	dir string
	db  *sql.DB
}

// Dir returns the folder the shelf is in.
func (r *Reader) Dir() string { return r.dir }

// dsn is a database's file with what every handle of ours wants. busy_timeout
// comes first: setting the rest may have to wait. SQL in the schema, should a
// stranger have put it there, may do nothing (trusted_schema).
func dsn(file string, more ...string) string {
	return address(file, append([]string{"_pragma=busy_timeout(5000)", "_pragma=trusted_schema(0)", "_pragma=cell_size_check(1)", "_pragma=foreign_keys(1)"}, more...)...)
}

func address(file string, settings ...string) string {
	return "file:" + (&url.URL{Path: filepath.ToSlash(file)}).EscapedPath() + "?" + strings.Join(settings, "&")
}

func writeDSN(file string) string {
	return dsn(file, "_pragma=journal_mode(WAL)", "_pragma=synchronous(FULL)", "_txlock=immediate")
}

func readDSN(file string) string {
	return dsn(file, "mode=ro", "_pragma=query_only(1)")
}

// OpenReader opens a shelf to read only; another program may be writing to it.
// It returns an error that wraps fs.ErrNotExist where there is no shelf,
// ErrNewer, ErrOlder, ErrForeign or ErrDamaged.
func OpenReader(ctx context.Context, dir string) (*Reader, error) {
	file := filepath.Join(dir, databaseFile)
	if _, err := os.Stat(file); err != nil {
		return nil, fmt.Errorf("catalogue: open shelf %s: %w", dir, err)
	}
	from := readDSN(file)
	if _, err := os.Stat(file + "-wal"); errors.Is(err, fs.ErrNotExist) && !writable(dir) {
		// Beside the file SQLite makes another for readers to meet in, which
		// cannot be here; nobody else can write here either.
		from += "&immutable=1"
	}
	r, err := openReader(ctx, dir, from)
	if err != nil {
		return nil, fmt.Errorf("catalogue: open shelf %s: %w", dir, err)
	}
	return r, nil
}

func openReader(ctx context.Context, dir, from string) (*Reader, error) {
	db, err := sql.Open("sqlite", from)
	if err != nil {
		return nil, explain(err)
	}
	v, err := version(ctx, db)
	switch {
	case err != nil:
	case v == 0:
		err = ErrForeign
	case v > schemaVersion():
		err = ErrNewer
	case v < schemaVersion():
		err = ErrOlder
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return &Reader{dir: dir, db: db}, nil
}

// Close closes the handles. The shelf itself was safe all along.
func (r *Reader) Close() error { return r.db.Close() }

// writable reports whether a file can be made in a folder.
func writable(dir string) bool {
	f, err := os.CreateTemp(dir, ".try-*")
	if err != nil {
		return false
	}
	f.Close()
	return os.Remove(f.Name()) == nil
}

// ErrOlder: an older ringwell wrote this shelf. Open brings it up to date.
var ErrOlder = errors.New("an older ringwell wrote it, and it must be opened once to write before it can be read")

// ErrFull: the disk is full.
var ErrFull = errors.New("the disk is full; nothing kept before is lost; make room and keep it again")

// ErrReadOnly: nothing may be written there.
var ErrReadOnly = errors.New("nothing can be written there; nothing kept before is lost; make the folder writable, or use another with --shelf")

// explain adds to SQLite's errors what can be done about them.
func explain(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%w (%w)", ErrDamaged, err)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w (%w)", ErrFull, err)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return fmt.Errorf("%w (%w)", ErrReadOnly, err)
	}
	return err
}
