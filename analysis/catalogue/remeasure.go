package catalogue

import (
	"context"
	"database/sql"
	"fmt"

	"ringwell/analysis"
)

// Stale returns up to n strikes that another version of the ear measured, by
// ID, without their partials; those after an ID, "" for the first. Measured
// again, a strike is not stale any more: so who was interrupted goes on by
// asking again.
func (r *Reader) Stale(ctx context.Context, version, after string, n int) ([]Kept, error) {
	return list(ctx, r.db, scanKept, `SELECT `+strikeColumns+` FROM strike WHERE analysis <> ? AND id > ? ORDER BY id LIMIT ?`, version, after, n)
}

// Remeasure writes what another version of the ear makes of a kept strike's
// recording: what was heard, the partials, the remarks, and how much of the
// sound it rests on. When and where it was struck, its recording, its note and
// whose it is stay. No such strike is fs.ErrNotExist.
func (s *Shelf) Remeasure(ctx context.Context, id string, m analysis.Strike, version string) error {
	k := Kept{Strike: m, Analysis: version}
	k.ID = id
	if err := k.check(); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		old, err := scanKept(tx.QueryRow(`SELECT `+strikeColumns+` FROM strike WHERE id = ?`, id))
		if err != nil {
			return told(err, "strike", id)
		}
		old.Heard, old.Second, old.Partials, old.Remarks = m.Heard, m.Second, m.Partials, m.Remarks
		old.Used, old.Peak, old.Analysis = m.Used, m.Peak, version
		if _, err := tx.Exec(`DELETE FROM strike WHERE id = ?`, id); err != nil { // its partials go with it
			return err
		}
		if err := insertStrike(tx, old); err != nil {
			return err
		}
		return refigure(tx, old.Voice)
	})
	if err != nil {
		return fmt.Errorf("catalogue: measure strike %s again: %w", id, err)
	}
	return nil
}
