package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"ringwell/analysis"
)

// Object is a thing that can be struck.
type Object struct {
	ID       string
	Name     string
	Kind     analysis.Kind
	Material string
	Size     Size
	KeptAt   string // where it is
	FoundAt  string // where it came from
	FoundOn  string // YYYY, YYYY-MM or YYYY-MM-DD; "" not known
	Notes    string
	Photo    string // its hash; "" for none. Set by SetPhoto
	Created  time.Time
	Changed  time.Time
	PutAway  *time.Time // nil: on the shelf
}

// Size is how large and heavy an object is; nil is not known.
type Size struct {
	LengthMM, WidthMM, HeightMM, DiameterMM, ThicknessMM, MassG *float64
}

// Voice is one way to sound an object. It has its own pitch, ring and history.
type Voice struct {
	ID       string
	Object   string      // its ID
	Place    string      // where it is struck
	Beater   string      // with what
	Support  string      // what it lies on or hangs from
	Fill     string      // what is in it
	PinnedHz analysis.Hz // the pitch a player hears it by; 0: as heard
	Created  time.Time
	PutAway  *time.Time
}

// Label is how a voice is sounded, in one line: "rim, felt"; "" where nothing is
// told of it.
func (v *Voice) Label() string {
	return strings.Join(slices.DeleteFunc([]string{v.Place, v.Beater, v.Support, v.Fill}, func(s string) bool { return s == "" }), ", ")
}

// AddObject puts an object on the shelf, whole, and returns it with its ID. An
// object that comes with an ID keeps it; one that is there already is an
// error.
func (s *Shelf) AddObject(ctx context.Context, o Object) (Object, error) {
	if err := o.check(); err != nil {
		return o, err
	}
	now := s.now()
	if o.ID == "" {
		o.ID = s.newID(now)
	}
	o.Photo, o.PutAway = "", nil
	o.Created, o.Changed = stored(now), stored(now)
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := insertObject(tx, o); err != nil {
			return err
		}
		return insertState(tx, o.ID, 1, Condition{State: Whole, Since: now})
	})
	if err != nil {
		return o, fmt.Errorf("catalogue: put %s on the shelf: %w", o.Name, err)
	}
	return o, nil
}

// ChangeObject writes what is told of an object anew. Its photo, its states
// and whether it is put away stay as they are. No such object is
// fs.ErrNotExist.
func (s *Shelf) ChangeObject(ctx context.Context, o Object) error {
	if err := o.check(); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return one(tx.Exec(`UPDATE object SET name = ?, kind = ?, material = ?, length_mm = ?, width_mm = ?, height_mm = ?,
			diameter_mm = ?, thickness_mm = ?, mass_g = ?, kept_at = ?, found_at = ?, found_on = ?, notes = ?, changed = ? WHERE id = ?`,
			o.Name, o.Kind, o.Material, o.Size.LengthMM, o.Size.WidthMM, o.Size.HeightMM,
			o.Size.DiameterMM, o.Size.ThicknessMM, o.Size.MassG, o.KeptAt, o.FoundAt, o.FoundOn, o.Notes, stamp(s.now()), o.ID))
	})
	if err != nil {
		return fmt.Errorf("catalogue: change object %s: %w", o.ID, err)
	}
	return nil
}

func insertObject(tx *sql.Tx, o Object) error {
	_, err := tx.Exec(`INSERT INTO object (id, name, kind, material, length_mm, width_mm, height_mm, diameter_mm, thickness_mm, mass_g,
		kept_at, found_at, found_on, notes, photo, created, changed, put_away) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`,
		o.ID, o.Name, o.Kind, o.Material, o.Size.LengthMM, o.Size.WidthMM, o.Size.HeightMM, o.Size.DiameterMM, o.Size.ThicknessMM, o.Size.MassG,
		o.KeptAt, o.FoundAt, o.FoundOn, o.Notes, orNull(o.Photo), stamp(o.Created), stamp(o.Changed), stampOrNull(o.PutAway))
	return err
}

const objectColumns = `id, name, kind, material, length_mm, width_mm, height_mm, diameter_mm, thickness_mm, mass_g,
	kept_at, found_at, found_on, notes, coalesce(photo, ''), created, changed, put_away`

type scanner interface{ Scan(dst ...any) error }

func scanObject(row scanner) (Object, error) {
	var o Object
	err := row.Scan(&o.ID, &o.Name, &o.Kind, &o.Material, &o.Size.LengthMM, &o.Size.WidthMM, &o.Size.HeightMM, &o.Size.DiameterMM, &o.Size.ThicknessMM, &o.Size.MassG,
		&o.KeptAt, &o.FoundAt, &o.FoundOn, &o.Notes, &o.Photo, (*at)(&o.Created), (*at)(&o.Changed), atOrNil{&o.PutAway})
	return o, err
}

// Object returns one object, put away or not; fs.ErrNotExist where there is
// none.
func (r *Reader) Object(ctx context.Context, id string) (Object, error) {
	o, err := scanObject(r.db.QueryRowContext(ctx, `SELECT `+objectColumns+` FROM object WHERE id = ?`, id))
	return o, told(err, "object", id)
}

// Objects returns what is on the shelf, by name; with away what was put away.
func (r *Reader) Objects(ctx context.Context, away bool) ([]Object, error) {
	return list(ctx, r.db, scanObject, `SELECT `+objectColumns+` FROM object WHERE (put_away IS NOT NULL) = ? ORDER BY name, id`, away)
}

// AddVoice adds a voice to an object and returns it with its ID. No such
// object is fs.ErrNotExist.
func (s *Shelf) AddVoice(ctx context.Context, v Voice) (Voice, error) {
	if err := v.check(); err != nil {
		return v, err
	}
	now := s.now()
	if v.ID == "" {
		v.ID = s.newID(now)
	}
	v.Created, v.PutAway = stored(now), nil
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := exists(tx, "object", v.Object); err != nil {
			return err
		}
		return insertVoice(tx, v)
	})
	if err != nil {
		return v, fmt.Errorf("catalogue: add a voice to %s: %w", v.Object, err)
	}
	return v, nil
}

// VoiceSounded returns the object's voice that is sounded as want says, by
// place, beater, support and fill, and adds it where there is none: added then.
func (s *Shelf) VoiceSounded(ctx context.Context, want Voice) (v Voice, added bool, err error) {
	voices, err := s.Voices(ctx, want.Object)
	if err != nil {
		return want, false, err
	}
	for _, v := range voices {
		if v.Place == want.Place && v.Beater == want.Beater && v.Support == want.Support && v.Fill == want.Fill {
			return v, false, nil
		}
	}
	v, err = s.AddVoice(ctx, want)
	return v, err == nil, err
}

// ChangeVoice writes what is told of a voice anew, and its figures with it.
// The object it belongs to stays.
func (s *Shelf) ChangeVoice(ctx context.Context, v Voice) error {
	if err := v.check(); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := one(tx.Exec(`UPDATE voice SET place = ?, beater = ?, support = ?, fill = ?, pinned_hz = ? WHERE id = ?`,
			v.Place, v.Beater, v.Support, v.Fill, positive(v.PinnedHz), v.ID)); err != nil {
			return err
		}
		return refigure(tx, v.ID)
	})
	if err != nil {
		return fmt.Errorf("catalogue: change voice %s: %w", v.ID, err)
	}
	return nil
}

func insertVoice(tx *sql.Tx, v Voice) error {
	_, err := tx.Exec(`INSERT INTO voice (id, object, place, beater, support, fill, pinned_hz, created, put_away) VALUES (?,?,?,?,?,?,?,?,?)`,
		v.ID, v.Object, v.Place, v.Beater, v.Support, v.Fill, positive(v.PinnedHz), stamp(v.Created), stampOrNull(v.PutAway))
	return err
}

const voiceColumns = `id, object, place, beater, support, fill, coalesce(pinned_hz, 0), created, put_away`

func scanVoice(row scanner) (Voice, error) {
	var v Voice
	err := row.Scan(&v.ID, &v.Object, &v.Place, &v.Beater, &v.Support, &v.Fill, &v.PinnedHz, (*at)(&v.Created), atOrNil{&v.PutAway})
	return v, err
}

// Voice returns one voice; fs.ErrNotExist where there is none.
func (r *Reader) Voice(ctx context.Context, id string) (Voice, error) {
	v, err := scanVoice(r.db.QueryRowContext(ctx, `SELECT `+voiceColumns+` FROM voice WHERE id = ?`, id))
	return v, told(err, "voice", id)
}

// Voices returns the voices of an object that are not put away, in the order
// they were added.
func (r *Reader) Voices(ctx context.Context, object string) ([]Voice, error) {
	return list(ctx, r.db, scanVoice, `SELECT `+voiceColumns+` FROM voice WHERE object = ? AND put_away IS NULL ORDER BY id`, object)
}

// exists returns fs.ErrNotExist where a table has no row of that ID.
func exists(tx *sql.Tx, table, id string) error {
	var n int
	if err := tx.QueryRow(`SELECT count(*) FROM `+table+` WHERE id = ?`, id).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		return fmt.Errorf("%s %q: %w", table, id, fs.ErrNotExist)
	}
	return nil
}
