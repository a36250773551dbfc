package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// ErrDemo: something real was to go onto the demo shelf, or the other way round.
var ErrDemo = errors.New("what is invented and what is real are never on one shelf")

// MarkDemo marks a shelf that holds nothing as a demo: invented things to try
// on. On a shelf that holds something it is ErrDemo.
func (s *Shelf) MarkDemo(ctx context.Context) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		var n int
		if err := tx.QueryRow(`SELECT count(*) FROM object`).Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			return ErrDemo
		}
		return markDemo(tx, true)
	})
	if err != nil {
		return fmt.Errorf("catalogue: mark shelf %s as a demo: %w", s.dir, err)
	}
	return nil
}

// Demo reports whether the shelf is a demo.
func (r *Reader) Demo(ctx context.Context) (bool, error) { return isDemo(ctx, r.db) }

func isDemo(ctx context.Context, db querier) (demo bool, err error) {
	err = db.QueryRowContext(ctx, `SELECT demo FROM shelf`).Scan(&demo)
	if err != nil {
		err = fmt.Errorf("catalogue: read: %w", explain(err))
	}
	return demo, err
}

func markDemo(tx *sql.Tx, demo bool) error {
	_, err := tx.Exec(`UPDATE shelf SET demo = ?`, demo)
	return err
}
