package catalogue

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"
)

//go:embed schema.sql
var schemaSQL string

// applicationID marks a database as a shelf, in the header of the file:
// "RWEL" as four bytes.
const applicationID = 0x5257454C

// steps are the ways from each schema version to the next: steps()[0] makes
// version 1 of an empty file. A step is never changed once it was released;
// what changes is a new step at the end.
func steps() []string { return []string{schemaSQL} }

// schemaVersion is the version this program writes.
func schemaVersion() int { return len(steps()) }

var (
	// ErrNewer: a newer ringwell wrote this shelf.
	ErrNewer = errors.New("a newer ringwell wrote it; update this one, the shelf is left as it is")
	// ErrForeign: a database, and not a shelf.
	ErrForeign = errors.New("it is not a shelf of ringwell")
	// ErrDamaged: the file is not as SQLite left it.
	ErrDamaged = errors.New("the database is damaged; keep a copy of it as it is, and restore a backup into another folder with: ringwell shelf restore FILE --shelf NEW-FOLDER")
)

type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// version returns the schema version of a database: 0 for an empty one.
func version(ctx context.Context, db querier) (int, error) {
	var id, v, things int
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&id); err != nil {
		return 0, explain(err)
	}
	if err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&v); err != nil {
		return 0, explain(err)
	}
	if err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&things); err != nil {
		return 0, explain(err)
	}
	switch {
	case id == 0 && v == 0 && things == 0:
		return 0, nil
	case id != applicationID || v < 1:
		return 0, ErrForeign
	}
	return v, nil
}

// migrate brings a database from its version to the newest, one transaction a
// step. Before a shelf that holds something is changed, before is called.
func migrate(ctx context.Context, db *sql.DB, steps []string, before func(from int) error) error {
	v, err := version(ctx, db)
	if err != nil {
		return err
	}
	if v > len(steps) {
		return fmt.Errorf("it has schema version %d, and %d is the newest this program knows: %w", v, len(steps), ErrNewer)
	}
	if v > 0 && v < len(steps) {
		if err := before(v); err != nil {
			return err
		}
	}
	for ; v < len(steps); v++ {
		tx, err := db.BeginTx(ctx, nil)
		if err != nil {
			return explain(err)
		}
		_, err = tx.ExecContext(ctx, steps[v]+fmt.Sprintf("\n;PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, v+1))
		if err != nil {
			tx.Rollback()
			return fmt.Errorf("to schema version %d: %w", v+1, explain(err))
		}
		if err := tx.Commit(); err != nil {
			return fmt.Errorf("to schema version %d: %w", v+1, explain(err))
		}
	}
	return nil
}

// thing is a table, index, trigger or view.
type thing struct{ kind, name, sql string }

func things(ctx context.Context, db querier) ([]thing, error) {
	rows, err := db.QueryContext(ctx, `SELECT type, name, coalesce(sql, '') FROM sqlite_schema ORDER BY type, name`)
	if err != nil {
		return nil, explain(err)
	}
	defer rows.Close()
	var all []thing
	for rows.Next() {
		var t thing
		if err := rows.Scan(&t.kind, &t.name, &t.sql); err != nil {
			return nil, explain(err)
		}
		all = append(all, t)
	}
	return all, explain(rows.Err())
}

// foreign names what a database holds beyond, or otherwise than, the schema of
// its version: such a database may run SQL of somebody else's when it is used.
func foreign(ctx context.Context, db querier, v int) ([]string, error) {
	clean, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer clean.Close()
	clean.SetMaxOpenConns(1) // each connection to :memory: is a database of its own
	if err := migrate(ctx, clean, steps()[:v], func(int) error { return nil }); err != nil {
		return nil, err
	}
	want, err := things(ctx, clean)
	if err != nil {
		return nil, err
	}
	got, err := things(ctx, db)
	if err != nil {
		return nil, err
	}
	var odd []string
	for _, t := range got {
		// SQLite's own statistics; data, not code.
		if !slices.Contains(want, t) && !strings.HasPrefix(t.name, "sqlite_stat") {
			odd = append(odd, t.kind+" "+t.name)
		}
	}
	for _, t := range want {
		if !slices.Contains(got, t) {
			odd = append(odd, "missing "+t.kind+" "+t.name)
		}
	}
	return odd, nil
}
