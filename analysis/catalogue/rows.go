package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"ringwell/analysis"
)

// stampLayout is how a time is written: RFC 3339 in UTC with milliseconds, so
// that text sorts as time does.
const stampLayout = "2006-01-02T15:04:05.000Z"

func stamp(t time.Time) string { return t.UTC().Format(stampLayout) }

// stored is a time as it comes back from the shelf.
func stored(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }

func stampOrNull(t *time.Time) any {
	if t == nil {
		return nil
	}
	return stamp(*t)
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// positive is a frequency, NULL for 0.
func positive(f analysis.Hz) any {
	if f == 0 {
		return nil
	}
	return float64(f)
}

// at reads a time.
type at time.Time

func (a *at) Scan(v any) error {
	s, ok := v.(string)
	if !ok {
		return fmt.Errorf("%v is not a time", v)
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	*a = at(t.UTC())
	return err
}

// atOrNil reads a time that may be NULL.
type atOrNil struct{ to **time.Time }

func (a atOrNil) Scan(v any) error {
	if v == nil {
		*a.to = nil
		return nil
	}
	var t time.Time
	if err := (*at)(&t).Scan(v); err != nil {
		return err
	}
	*a.to = &t
	return nil
}

// told says what an answer of no rows means.
func told(err error, what, id string) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, sql.ErrNoRows):
		return fmt.Errorf("catalogue: %s %q: %w", what, id, fs.ErrNotExist)
	}
	return fmt.Errorf("catalogue: %s %q: %w", what, id, explain(err))
}

// one wants exactly one row changed.
func one(res sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n != 1 {
		return errors.Join(err, fs.ErrNotExist)
	}
	return nil
}

// list reads every row of an answer; it is never nil.
func list[T any](ctx context.Context, db querier, scan func(scanner) (T, error), query string, args ...any) ([]T, error) {
	all := []T{}
	err := each(ctx, db, scan, func(v T) error { all = append(all, v); return nil }, query, args...)
	return all, err
}

// each calls take with row after row.
func each[T any](ctx context.Context, db querier, scan func(scanner) (T, error), take func(T) error, query string, args ...any) error {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return fmt.Errorf("catalogue: read: %w", explain(err))
	}
	defer rows.Close()
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return fmt.Errorf("catalogue: read: %w", explain(err))
		}
		if err := take(v); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("catalogue: read: %w", explain(err))
	}
	return nil
}
