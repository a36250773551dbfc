package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// Part is what can be put away by itself.
type Part string

const (
	ObjectPart Part = "object" // with its voices and strikes
	VoicePart  Part = "voice"  // with its strikes
	StrikePart Part = "strike"
)

// PutAway takes a thing off the shelf; TakeBack brings it back as it was, until
// Empty has removed it. A thing that is put away already stays put away as of
// then. No such thing is fs.ErrNotExist.
func (s *Shelf) PutAway(ctx context.Context, p Part, id string) error {
	now := s.now()
	return s.setAway(ctx, "put away", p, id, `coalesce(put_away, ?)`, stamp(now))
}

// TakeBack undoes PutAway.
func (s *Shelf) TakeBack(ctx context.Context, p Part, id string) error {
	return s.setAway(ctx, "take back", p, id, `NULL`)
}

func (s *Shelf) setAway(ctx context.Context, doing string, p Part, id, value string, args ...any) error {
	if p != ObjectPart && p != VoicePart && p != StrikePart {
		return fmt.Errorf("catalogue: %s %q %s: there are objects, voices and strikes", doing, p, id)
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := one(tx.Exec(`UPDATE `+string(p)+` SET put_away = `+value+` WHERE id = ?`, append(args, id)...)); err != nil {
			return err
		}
		if p != StrikePart {
			return nil
		}
		var voice string
		if err := tx.QueryRow(`SELECT voice FROM strike WHERE id = ?`, id).Scan(&voice); err != nil {
			return err
		}
		return refigure(tx, voice)
	})
	if err != nil {
		return fmt.Errorf("catalogue: %s %s %s: %w", doing, p, id, err)
	}
	return nil
}

// Emptied is what Empty has removed for good.
type Emptied struct{ Objects, Voices, Strikes, Photos, Recordings int }

// Empty removes for good what was put away before a time, all of it or the one
// object with that ID, and the photos and recordings that nothing on the shelf
// needs any more. The rows go first: a crash on the way leaves recordings
// without rows, which the next Empty takes.
func (s *Shelf) Empty(ctx context.Context, before time.Time, object string) (Emptied, error) {
	var gone Emptied
	err := s.do(ctx, func() error {
		err := s.transact(func(tx *sql.Tx) error { return emptyRows(tx, stamp(before), object, &gone) })
		if err != nil {
			return err
		}
		n, err := s.sweep()
		gone.Recordings = n
		return err
	})
	if err != nil {
		return gone, fmt.Errorf("catalogue: empty what was put away: %w", err)
	}
	return gone, nil
}

func emptyRows(tx *sql.Tx, before, object string, gone *Emptied) error {
	// What hangs on a row that goes is counted before it goes.
	const goingObjects = `SELECT id FROM object WHERE put_away < ?1 AND (?2 = '' OR id = ?2)`
	const goingVoices = `SELECT id FROM voice WHERE put_away < ?1 AND ?2 = '' OR object IN (` + goingObjects + `)`
	for _, c := range []struct {
		to    *int
		query string
	}{
		{&gone.Objects, `SELECT count(*) FROM (` + goingObjects + `)`},
		{&gone.Voices, `SELECT count(*) FROM (` + goingVoices + `)`},
		{&gone.Strikes, `SELECT count(*) FROM strike WHERE put_away < ?1 AND ?2 = '' OR voice IN (` + goingVoices + `)`},
	} {
		if err := tx.QueryRow(c.query, before, object).Scan(c.to); err != nil {
			return err
		}
	}
	for _, going := range []string{
		`DELETE FROM strike WHERE put_away < ?1 AND ?2 = ''`,
		`DELETE FROM voice WHERE put_away < ?1 AND ?2 = ''`,
		`DELETE FROM object WHERE id IN (` + goingObjects + `)`,
	} {
		if _, err := tx.Exec(going, before, object); err != nil {
			return err
		}
	}
	if _, err := tx.Exec(`DELETE FROM recording WHERE NOT EXISTS (SELECT 1 FROM strike WHERE strike.recording = recording.hash)`); err != nil {
		return err
	}
	// A file whose strikes are gone may be heard anew: their IDs begin with its
	// content and a hyphen, after which comes the full stop.
	if _, err := tx.Exec(`DELETE FROM heard_file WHERE strikes > 0 AND NOT EXISTS
		(SELECT 1 FROM strike WHERE strike.id >= content || '-' AND strike.id < content || '.')`); err != nil {
		return err
	}
	res, err := tx.Exec(`DELETE FROM photo WHERE NOT EXISTS (SELECT 1 FROM object WHERE object.photo = photo.hash)`)
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	gone.Photos = int(n)
	return err
}

// sweep removes recordings that no row names. Only the writer may call it:
// nobody else can be between a recording and its row.
func (s *Shelf) sweep() (n int, err error) {
	err = s.files.walk(func(f found) error {
		if f.name != "" {
			var rows int
			if err := s.write.QueryRow(`SELECT count(*) FROM recording WHERE hash = ?`, f.name).Scan(&rows); err != nil || rows > 0 {
				return explain(err)
			}
			n++
		} else if !f.unfinished {
			return nil // not ours to remove
		}
		if err := os.Remove(f.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return explainFile(err)
		}
		return nil
	})
	return n, err
}
