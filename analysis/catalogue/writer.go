package catalogue

import (
	"context"
	"database/sql"
	"errors"

	sqlite "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// job is one piece of work for the writer.
type job struct {
	do   func() error
	done chan error // holds one
}

// run is the writer.
func (s *Shelf) run() {
	defer close(s.closed)
	for j := range s.queue {
		j.done <- j.do()
	}
}

// do has the writer do something and waits until it is done. Where the queue
// is full it waits for room. When ctx ends first, its error is returned: work
// that had its place in the queue is done all the same.
func (s *Shelf) do(ctx context.Context, work func() error) error {
	j := job{work, make(chan error, 1)}
	if err := s.enqueue(ctx, j); err != nil {
		return err
	}
	select {
	case err := <-j.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *Shelf) enqueue(ctx context.Context, j job) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.stop {
		return ErrClosed
	}
	select {
	case s.queue <- j:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// change has the writer make one transaction.
func (s *Shelf) change(ctx context.Context, with func(*sql.Tx) error) error {
	return s.do(ctx, func() error { return s.transact(with) })
}

// transact is for the writer alone. The transaction is all or nothing; once
// begun, nobody's impatience ends it half way.
func (s *Shelf) transact(with func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(context.Background(), nil)
	if err != nil {
		return explain(err)
	}
	if err := with(tx); err != nil {
		return errors.Join(explain(err), tx.Rollback())
	}
	return explain(tx.Commit())
}

// busy reports whether somebody else holds what was asked for.
func busy(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && (e.Code()&0xff == sqlite3.SQLITE_BUSY || e.Code()&0xff == sqlite3.SQLITE_LOCKED)
}
