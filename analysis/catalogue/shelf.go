package catalogue

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/oklog/ulid/v2"
)

// Shelf is a shelf open to write, by one program at a time. Its methods may be
// called at once from anywhere; what is written is safe when they return.
type Shelf struct {
	Reader
	write *sql.DB
	lock  *lock
	now   func() time.Time
	newID func(time.Time) string
	files store

	queue  chan job
	closed chan struct{} // closed when the writer has ended
	mu     sync.RWMutex  // over stop: no send on a closed queue
	stop   bool
}

// ErrTaken: another program writes to this shelf.
var ErrTaken = errors.New("another ringwell has it open; end that one, or use another shelf with --shelf")

// ErrClosed: the shelf was closed.
var ErrClosed = errors.New("catalogue: the shelf is closed")

// Open opens a shelf to write and makes it where there is none. It brings an
// older shelf up to date, and leaves a copy of the database as it was beside
// it. Errors may wrap ErrTaken, ErrNewer, ErrForeign, ErrDamaged, ErrFull or
// ErrReadOnly; the shelf is then as it was.
func Open(ctx context.Context, dir string, o Options) (*Shelf, error) {
	s, err := open(ctx, dir, o)
	if err != nil {
		return nil, fmt.Errorf("catalogue: open shelf %s: %w", dir, err)
	}
	return s, nil
}

func open(ctx context.Context, dir string, o Options) (_ *Shelf, err error) {
	s := &Shelf{now: o.Now, newID: o.NewID, files: store{filepath.Join(dir, recordingsDir)}, closed: make(chan struct{})}
	if s.now == nil {
		s.now = time.Now
	}
	if s.newID == nil {
		s.newID = ulids()
	}
	if o.Queue <= 0 {
		o.Queue = 64
	}
	s.queue = make(chan job, o.Queue)
	if err := makeFolder(filepath.Join(dir, recordingsDir)); err != nil {
		return nil, explainFile(err)
	}
	if s.lock, err = take(ctx, filepath.Join(dir, lockFile)); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			s.closeHandles()
		}
	}()
	file := filepath.Join(dir, databaseFile)
	if s.write, err = sql.Open("sqlite", writeDSN(file)); err != nil {
		return nil, explain(err)
	}
	s.write.SetMaxOpenConns(1)
	err = migrate(ctx, s.write, steps(), func(from int) error {
		return s.copyAside(ctx, fmt.Sprintf("%s.before-%d", file, from+1))
	})
	if err != nil {
		return nil, err
	}
	if odd, err := foreign(ctx, s.write, schemaVersion()); err != nil {
		return nil, err
	} else if len(odd) > 0 {
		return nil, fmt.Errorf("its database holds what is not the shelf's: %s: %w", strings.Join(odd, ", "), ErrForeign)
	}
	if err := flushFolder(dir); err != nil {
		return nil, explainFile(err)
	}
	r, err := openReader(ctx, dir, readDSN(file))
	if err != nil {
		return nil, err
	}
	s.Reader = *r
	go s.run()
	return s, nil
}

// copyAside writes a copy of the database, should it not be there already.
func (s *Shelf) copyAside(ctx context.Context, file string) error {
	if _, err := os.Stat(file); err == nil {
		return nil
	}
	if _, err := s.write.ExecContext(ctx, `VACUUM INTO ?`, file); err != nil {
		return fmt.Errorf("copy the database to %s before it is brought up to date: %w", file, explain(err))
	}
	return nil
}

// take holds the lock: a transaction on a database of nothing, because SQLite
// knows how to lock a file on every system, and lets go when a process dies.
func take(ctx context.Context, file string) (*lock, error) {
	db, err := sql.Open("sqlite", address(file, "_txlock=exclusive"))
	if err != nil {
		return nil, explain(err)
	}
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		db.Close()
		if busy(err) {
			return nil, ErrTaken
		}
		return nil, explain(err)
	}
	return &lock{db, tx}, nil
}

// lock is held until it is closed.
type lock struct {
	db *sql.DB
	tx *sql.Tx
}

func (l *lock) Close() error { return errors.Join(l.tx.Rollback(), l.db.Close()) }

// Close writes what waits in the queue, and lets go of the shelf.
func (s *Shelf) Close() error {
	s.mu.Lock()
	again := s.stop
	if !s.stop {
		s.stop = true
		close(s.queue)
	}
	s.mu.Unlock()
	<-s.closed
	if again {
		return nil
	}
	return s.closeHandles()
}

func (s *Shelf) closeHandles() error {
	var errs []error
	for _, db := range []*sql.DB{s.db, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.lock != nil { // last: until then nobody else may write
		errs = append(errs, s.lock.Close())
	}
	return errors.Join(errs...)
}

// ulids makes IDs that rise even within one millisecond (github.com/ulid/spec).
func ulids() func(time.Time) string {
	var mu sync.Mutex
	entropy := ulid.Monotonic(rand.Reader, 0)
	return func(at time.Time) string {
		mu.Lock()
		defer mu.Unlock()
		ms := min(ulid.Timestamp(at), ulid.MaxTime())
		id, err := ulid.New(ms, entropy)
		if err != nil { // more than 2^80 in a millisecond
			entropy = ulid.Monotonic(rand.Reader, 0)
			id = ulid.MustNew(ms, entropy)
		}
		return id.String()
	}
}
