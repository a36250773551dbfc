package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io/fs"
	"time"

	"ringwell/analysis"
)

// Instrument is a real instrument, as it was measured note by note.
type Instrument struct {
	Name  string
	Alike string // the built-in instrument whose range it has
	Made  time.Time
	Notes []InstrumentNote // by key
}

// InstrumentNote is one note of it. A prepared string may have several targets
// or none.
type InstrumentNote struct {
	Key      int // MIDI
	Label    string
	Strikes  int
	Targets  []analysis.Hz
	Partials []NotePartial // of its last strike, by frequency
}

// NotePartial is what is kept of a note's partial.
type NotePartial struct {
	Frequency analysis.Hz    `json:"frequency_hz"`
	Sigma     analysis.Cents `json:"sigma_c"`
	Level     float64        `json:"level_db"`
	T60       float64        `json:"t60_s"` // 0: not known
}

// SetInstrument stores a measured instrument, in place of one of that name.
func (s *Shelf) SetInstrument(ctx context.Context, in Instrument) error {
	in.Made = stored(s.now())
	if err := in.check(); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.Exec(`DELETE FROM instrument WHERE name = ?`, in.Name); err != nil {
			return err
		}
		return insertInstrument(tx, in)
	})
	if err != nil {
		return fmt.Errorf("catalogue: store instrument %s: %w", in.Name, err)
	}
	return nil
}

// RemoveInstrument removes a measured instrument for good; fs.ErrNotExist
// where there is none of that name.
func (s *Shelf) RemoveInstrument(ctx context.Context, name string) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		return one(tx.Exec(`DELETE FROM instrument WHERE name = ?`, name))
	})
	if err != nil {
		return fmt.Errorf("catalogue: remove instrument %s: %w", name, err)
	}
	return nil
}

// Instruments returns the measured instruments, by name.
func (r *Reader) Instruments(ctx context.Context) ([]Instrument, error) {
	return instrumentsOf(ctx, r.db)
}

// Instrument returns one of them; fs.ErrNotExist where there is none.
func (r *Reader) Instrument(ctx context.Context, name string) (Instrument, error) {
	all, err := instrumentsOf(ctx, r.db)
	if err != nil {
		return Instrument{}, err
	}
	for _, in := range all {
		if in.Name == name {
			return in, nil
		}
	}
	return Instrument{}, fmt.Errorf("catalogue: instrument %q: %w", name, fs.ErrNotExist)
}

func (in *Instrument) check() error {
	if in.Name == "" {
		return &Fault{"name", "Give the instrument a name."}
	}
	for _, t := range []struct{ field, text string }{{"name", in.Name}, {"alike", in.Alike}} {
		if err := line(t.field, t.text); err != nil {
			return err
		}
	}
	if len(in.Notes) == 0 || len(in.Notes) > 128 {
		return &Fault{"notes", "An instrument has 1 to 128 notes."}
	}
	for i, n := range in.Notes {
		if err := line("label", n.Label); err != nil {
			return err
		}
		if n.Key < 0 || n.Key > 127 || n.Strikes < 0 || i > 0 && n.Key <= in.Notes[i-1].Key {
			return &Fault{"midi", "Its notes are MIDI keys, each once and rising."}
		}
		for _, f := range n.Targets {
			if !(f > 0 && finite(float64(f))) {
				return &Fault{"targets_hz", "A place is a frequency above 0 Hz."}
			}
		}
		for _, p := range n.Partials {
			if !(p.Frequency > 0) || !finite(float64(p.Frequency), float64(p.Sigma), p.Level, p.T60) {
				return &Fault{"partials", "A partial holds what is no number."}
			}
		}
	}
	return nil
}

func insertInstrument(tx *sql.Tx, in Instrument) error {
	if _, err := tx.Exec(`INSERT INTO instrument (name, alike, made) VALUES (?,?,?)`, in.Name, in.Alike, stamp(in.Made)); err != nil {
		return err
	}
	for _, n := range in.Notes {
		targets, err := json.Marshal(append([]analysis.Hz{}, n.Targets...))
		if err != nil {
			return err
		}
		partials, err := json.Marshal(append([]NotePartial{}, n.Partials...))
		if err != nil {
			return err
		}
		if _, err := tx.Exec(`INSERT INTO note (instrument, midi, label, strikes, targets, partials) VALUES (?,?,?,?,?,?)`,
			in.Name, n.Key, n.Label, n.Strikes, string(targets), string(partials)); err != nil {
			return err
		}
	}
	return nil
}

func instrumentsOf(ctx context.Context, db querier) ([]Instrument, error) {
	all, err := list(ctx, db, func(row scanner) (in Instrument, err error) {
		err = row.Scan(&in.Name, &in.Alike, (*at)(&in.Made))
		return
	}, `SELECT name, alike, made FROM instrument ORDER BY name`)
	for i := range all {
		if err != nil {
			break
		}
		all[i].Notes, err = list(ctx, db, scanNote, `SELECT midi, label, strikes, targets, partials FROM note WHERE instrument = ? ORDER BY midi`, all[i].Name)
	}
	return all, err
}

func scanNote(row scanner) (InstrumentNote, error) {
	var n InstrumentNote
	var targets, partials string
	if err := row.Scan(&n.Key, &n.Label, &n.Strikes, &targets, &partials); err != nil {
		return n, err
	}
	if err := json.Unmarshal([]byte(targets), &n.Targets); err != nil {
		return n, fmt.Errorf("the places of note %d: %w", n.Key, err)
	}
	if err := json.Unmarshal([]byte(partials), &n.Partials); err != nil {
		return n, fmt.Errorf("the partials of note %d: %w", n.Key, err)
	}
	return n, nil
}
