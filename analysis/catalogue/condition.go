package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"
)

// State is how an object is.
type State string

const (
	Whole   State = "whole"
	Suspect State = "suspect" // it does not sound as it did; look at it
	Cracked State = "cracked"
	Broken  State = "broken"
	Lent    State = "lent"
	Lost    State = "lost"
)

// States lists every State.
func States() []State { return []State{Whole, Suspect, Cracked, Broken, Lent, Lost} }

// Condition is a state and since when.
type Condition struct {
	State State
	Since time.Time
	Note  string // to whom it is lent, where it cracked
}

// SetState adds to an object's history that it is now, or was since c.Since,
// in a state. A zero Since is now.
func (s *Shelf) SetState(ctx context.Context, object string, c Condition) error {
	if !slices.Contains(States(), c.State) {
		return &Fault{"state", fmt.Sprintf("%q is no state; there are %v.", c.State, States())}
	}
	if err := prose("note", c.Note); err != nil {
		return err
	}
	if c.Since.IsZero() {
		c.Since = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := exists(tx, "object", object); err != nil {
			return err
		}
		var n int
		if err := tx.QueryRow(`SELECT coalesce(max(n), 0) + 1 FROM state WHERE object = ?`, object).Scan(&n); err != nil {
			return err
		}
		return insertState(tx, object, n, c)
	})
	if err != nil {
		return fmt.Errorf("catalogue: say that object %s is %s: %w", object, c.State, err)
	}
	return nil
}

func insertState(tx *sql.Tx, object string, n int, c Condition) error {
	_, err := tx.Exec(`INSERT INTO state (object, n, state, since, note) VALUES (?,?,?,?,?)`, object, n, c.State, stamp(c.Since), c.Note)
	return err
}

func scanCondition(row scanner) (Condition, error) {
	var c Condition
	err := row.Scan(&c.State, (*at)(&c.Since), &c.Note)
	return c, err
}

// History returns how an object was, in the order it was told; the last is how
// it is.
func (r *Reader) History(ctx context.Context, object string) ([]Condition, error) {
	return list(ctx, r.db, scanCondition, `SELECT state, since, note FROM state WHERE object = ? ORDER BY n`, object)
}

// NowStates returns how every object is, by its ID.
func (r *Reader) NowStates(ctx context.Context) (map[string]State, error) {
	type row struct {
		object string
		state  State
	}
	now := map[string]State{}
	err := each(ctx, r.db, func(s scanner) (x row, err error) {
		err = s.Scan(&x.object, &x.state)
		return
	}, func(x row) error { now[x.object] = x.state; return nil }, `SELECT object, state FROM state ORDER BY object, n`)
	return now, err
}
