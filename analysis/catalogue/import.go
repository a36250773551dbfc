package catalogue

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"ringwell/analysis"
)

// ErrNotEmpty: a shelf that holds something is not imported into.
var ErrNotEmpty = errors.New("the shelf holds something already; import into a new one with --shelf")

// ImportError says at which line an export cannot be read.
type ImportError struct {
	Line int
	Err  error
}

func (e *ImportError) Error() string { return fmt.Sprintf("line %d: %v", e.Line, e.Err) }
func (e *ImportError) Unwrap() error { return e.Err }

// Import reads what Export wrote into a shelf that holds nothing, which then
// is the same shelf. It is all or nothing: after an error the shelf still
// holds nothing. What comes in is checked as what a person writes is.
func (s *Shelf) Import(ctx context.Context, from io.Reader) error {
	err := s.do(ctx, func() error {
		return s.transact(func(tx *sql.Tx) error {
			var n int
			if err := tx.QueryRow(`SELECT (SELECT count(*) FROM object) + (SELECT count(*) FROM photo) + (SELECT count(*) FROM recording) + (SELECT count(*) FROM instrument)`).Scan(&n); err != nil {
				return err
			}
			if n > 0 {
				return ErrNotEmpty
			}
			return (&importer{s: s, tx: tx, voices: map[string]bool{}}).all(ctx, from)
		})
	})
	if err != nil {
		return fmt.Errorf("catalogue: import: %w", err)
	}
	return nil
}

type importer struct {
	s      *Shelf
	tx     *sql.Tx
	lines  int
	voices map[string]bool // with strikes
	ended  bool
}

func (im *importer) all(ctx context.Context, from io.Reader) error {
	d := json.NewDecoder(from)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		var raw json.RawMessage
		err := d.Decode(&raw)
		if err == io.EOF {
			break
		}
		var syntax *json.SyntaxError
		switch {
		case err == nil:
			err = im.line(raw)
		case im.lines == 0 && errors.As(err, &syntax):
			err = fmt.Errorf("this is not what shelf export wrote: %w", err)
		}
		if err != nil {
			return &ImportError{im.lines + 1, err}
		}
		im.lines++
	}
	if !im.ended {
		return &ImportError{im.lines + 1, errors.New("the export breaks off: its end is missing")}
	}
	for v := range im.voices {
		if err := refigure(im.tx, v); err != nil {
			return err
		}
	}
	return nil
}

func (im *importer) line(raw []byte) error {
	var head exportedShelf
	if err := json.Unmarshal(raw, &head); err != nil {
		return err
	}
	if im.ended {
		return errors.New("something follows the end")
	}
	if (im.lines == 0) != (head.Type == "shelf") {
		return errors.New("it is no export of a shelf: that begins with one line of type shelf")
	}
	switch head.Type {
	case "shelf":
		if head.Version != exportVersion {
			return fmt.Errorf("it has version %d, and this program reads version %d", head.Version, exportVersion)
		}
		return markDemo(im.tx, head.Demo)
	case "photo":
		return read(raw, im.photo)
	case "object":
		return read(raw, im.object)
	case "voice":
		return read(raw, im.voice)
	case "recording":
		return read(raw, im.recording)
	case "strike":
		return read(raw, im.strike)
	case "instrument":
		return read(raw, im.instrument)
	case "file":
		return read(raw, func(f exportedFile) error {
			h := HeardFile{f.Content, f.Name, f.Strikes, f.Added}
			if err := h.check(); err != nil {
				return err
			}
			return insertHeardFile(im.tx, h)
		})
	case "end":
		return read(raw, func(e exportedEnd) error {
			if e.Lines != im.lines {
				return fmt.Errorf("%d lines came of %d", im.lines, e.Lines)
			}
			im.ended = true
			return nil
		})
	}
	return fmt.Errorf("there is no type %q", head.Type)
}

// read decodes a line, in which every field must be known, and hands it on.
func read[T any](raw []byte, take func(T) error) error {
	var v T
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(&v); err != nil {
		return err
	}
	return take(v)
}

func (im *importer) photo(p exportedPhoto) error {
	if hash(p.JPEG) != p.Hash {
		return errors.New("the photo is not what its hash says")
	}
	if err := plainJPEG(p); err != nil {
		return err
	}
	_, err := im.tx.Exec(`INSERT INTO photo (hash, jpeg, width, height) VALUES (?,?,?,?)`, p.Hash, p.JPEG, p.Width, p.Height)
	return err
}

func (im *importer) object(e exportedObject) error {
	o := Object{e.ID, e.Name, e.Kind, e.Material, Size{e.LengthMM, e.WidthMM, e.HeightMM, e.DiameterMM, e.ThicknessMM, e.MassG},
		e.KeptAt, e.FoundAt, e.FoundOn, e.Notes, "", e.Created, e.Changed, e.PutAway}
	if e.Photo != nil {
		o.Photo = *e.Photo
	}
	if err := errors.Join(identity(o.ID), o.check()); err != nil {
		return err
	}
	if err := insertObject(im.tx, o); err != nil {
		return err
	}
	for n, st := range e.States {
		if !slices.Contains(States(), st.State) {
			return fmt.Errorf("there is no state %q", st.State)
		}
		if err := prose("note", st.Note); err != nil {
			return err
		}
		if err := insertState(im.tx, o.ID, n+1, Condition(st)); err != nil {
			return err
		}
	}
	return nil
}

func (im *importer) voice(e exportedVoice) error {
	v := Voice{ID: e.ID, Object: e.Object, Place: e.Place, Beater: e.Beater, Support: e.Support, Fill: e.Fill, Created: e.Created, PutAway: e.PutAway}
	if e.PinnedHz != nil {
		v.PinnedHz = analysis.Hz(*e.PinnedHz)
	}
	if err := errors.Join(identity(v.ID), v.check()); err != nil {
		return err
	}
	return insertVoice(im.tx, v)
}

func (im *importer) recording(e exportedRecording) error {
	if hash(e.WAV) != e.Hash {
		return errors.New("the recording is not what its hash says")
	}
	added, err := time.Parse(time.RFC3339Nano, e.Added)
	if err != nil {
		return err
	}
	// The file is safe before the transaction that names it commits.
	if _, err := im.s.files.add(e.WAV); err != nil {
		return err
	}
	return insertRecording(im.tx, e.Hash, len(e.WAV), added)
}

func (im *importer) strike(e exportedStrike) error {
	k := e.kept()
	if err := k.check(); err != nil {
		return err
	}
	im.voices[k.Voice] = true
	return insertStrike(im.tx, k)
}

func (im *importer) instrument(e exportedInstrument) error {
	in := Instrument{Name: e.Name, Alike: e.Alike, Made: e.Made}
	for _, n := range e.Notes {
		in.Notes = append(in.Notes, InstrumentNote(n))
	}
	if err := in.check(); err != nil {
		return err
	}
	return insertInstrument(im.tx, in)
}

// identity checks an ID that comes from outside.
func identity(id string) error {
	if id == "" || len(id) > 64 {
		return &Fault{"id", "An ID has 1 to 64 characters."}
	}
	return line("id", id)
}
