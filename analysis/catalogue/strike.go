package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"ringwell/analysis"
)

// Kept is a strike on the shelf. Of its Strike the fields Revision, Onset,
// From and To, which count on a source's clock that is gone, are 0; the onset
// within the recording is Frame. Stage is Final.
type Kept struct {
	analysis.Strike
	Voice       string   // its ID
	Recording   string   // the hash of its bytes
	Frame       int64    // the onset within the recording
	Temperature *float64 // °C; nil: not known
	Room, Input string
	Analysis    string // version of the ear that measured it
	Note        string
	PutAway     *time.Time
}

// ErrOther: a strike of that ID is kept already, and says something else.
var ErrOther = errors.New("another strike of that ID is kept already")

// Keep keeps a strike: k.Voice, what was measured, and the encoded recording
// it was measured from, from which k.Recording is set. When it returns without
// an error all of it is on the disk. Keeping a strike again is no error and
// changes nothing, so that who got no answer may ask again. A voice that is
// not there is fs.ErrNotExist.
func (s *Shelf) Keep(ctx context.Context, k Kept, recording []byte) error {
	if err := k.check(); err != nil {
		return err
	}
	if len(recording) == 0 {
		return fmt.Errorf("catalogue: keep strike %s: its sound is not there any more", k.ID)
	}
	err := s.do(ctx, func() error {
		name, err := s.files.add(recording)
		if err != nil {
			return err
		}
		k.Recording = name
		return s.transact(func(tx *sql.Tx) error { return s.insertKept(tx, k, len(recording)) })
	})
	if err != nil {
		return fmt.Errorf("catalogue: keep strike %s: %w", k.ID, err)
	}
	return nil
}

func (s *Shelf) insertKept(tx *sql.Tx, k Kept, size int) error {
	var voice, rec string
	switch err := tx.QueryRow(`SELECT voice, recording FROM strike WHERE id = ?`, k.ID).Scan(&voice, &rec); {
	case err == nil && voice == k.Voice && rec == k.Recording:
		return nil
	case err == nil:
		return ErrOther
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	if err := exists(tx, "voice", k.Voice); err != nil {
		return err
	}
	if err := insertRecording(tx, k.Recording, size, s.now()); err != nil {
		return err
	}
	if err := insertStrike(tx, k); err != nil {
		return err
	}
	return refigure(tx, k.Voice)
}

func insertRecording(tx *sql.Tx, name string, size int, added time.Time) error {
	_, err := tx.Exec(`INSERT INTO recording (hash, bytes, added) VALUES (?,?,?) ON CONFLICT DO NOTHING`, name, size, stamp(added))
	return err
}

func (k *Kept) check() error {
	if k.ID == "" || len(k.ID) > 64 {
		return &Fault{"id", "A strike is kept under the ID the ear gave it."}
	}
	for _, t := range []struct{ field, text string }{
		{"id", k.ID}, {"room", k.Room}, {"input", k.Input}, {"source", k.Source}, {"analysis", k.Analysis},
	} {
		if err := line(t.field, t.text); err != nil {
			return err
		}
	}
	if err := prose("note", k.Note); err != nil {
		return err
	}
	if t := k.Temperature; t != nil && !(*t >= -60 && *t <= 80) {
		return &Fault{"temperature_c", "Give -60 to 80 °C, or nothing."}
	}
	if !(k.Rate > 0) || k.Frame < 0 || !finite(float64(k.Rate), k.Used, k.ClockPPM, k.Peak) {
		return &Fault{"strike", "It lacks its sample rate, or a number in it is none."}
	}
	for _, p := range []*analysis.Pitch{k.Heard, k.Second} {
		if p != nil && !(p.Frequency > 0 && finite(float64(p.Frequency), float64(p.Sigma), p.Likelihood)) {
			return &Fault{"strike", "The pitch heard is no number."}
		}
	}
	for i := range k.Partials {
		p := &k.Partials[i]
		if !(p.Frequency > 0) || !finite(float64(p.Frequency), float64(p.Sigma), p.Level, p.SigmaLevel, p.T60, p.SigmaT60, p.Beat, p.SigmaBeat) ||
			!finiteBlock(&p.Cov) || !finiteBlock(&p.Cross) {
			return &Fault{"strike", fmt.Sprintf("Partial %d holds what is no number.", i+1)}
		}
	}
	return nil
}

func insertStrike(tx *sql.Tx, k Kept) error {
	remarks, err := json.Marshal(remarksOf(k.Remarks))
	if err != nil {
		return err
	}
	args := []any{k.ID, k.Voice, stamp(k.Time), k.Recording, k.Frame, float64(k.Rate), k.Source, k.Input, k.Room, k.Temperature,
		k.Analysis, k.Used, k.ClockPPM, k.Peak}
	args = append(args, pitchCells(k.Heard)...)
	args = append(args, pitchCells(k.Second)...)
	args = append(args, string(remarks), k.Note, stampOrNull(k.PutAway))
	if _, err := tx.Exec(`INSERT INTO strike (`+strikeColumns+`) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?, ?,?,?,?,?, ?,?,?,?,?, ?,?,?)`, args...); err != nil {
		return err
	}
	return insertPartials(tx, k.ID, k.Partials)
}

const strikeColumns = `id, voice, time, recording, onset_frame, rate_hz, source, input, room, temperature_c, analysis, used_s, clock_ppm, peak,
	heard_hz, heard_sigma_c, heard_basis, heard_partial, heard_likelihood,
	second_hz, second_sigma_c, second_basis, second_partial, second_likelihood, remarks, note, put_away`

func pitchCells(p *analysis.Pitch) []any {
	if p == nil {
		return []any{nil, nil, nil, nil, nil}
	}
	return []any{float64(p.Frequency), float64(p.Sigma), string(p.Basis), p.Partial, p.Likelihood}
}

func scanKept(row scanner) (Kept, error) {
	k := Kept{Strike: analysis.Strike{Stage: analysis.Final}}
	var heard, second pitchRow
	var remarks string
	err := row.Scan(&k.ID, &k.Voice, (*at)(&k.Time), &k.Recording, &k.Frame, (*float64)(&k.Rate), &k.Source, &k.Input, &k.Room, &k.Temperature,
		&k.Analysis, &k.Used, &k.ClockPPM, &k.Peak,
		&heard.hz, &heard.sigma, &heard.basis, &heard.partial, &heard.likelihood,
		&second.hz, &second.sigma, &second.basis, &second.partial, &second.likelihood, &remarks, &k.Note, atOrNil{&k.PutAway})
	if err != nil {
		return k, err
	}
	k.Heard, k.Second = heard.pitch(), second.pitch()
	var list []remark
	if err := json.Unmarshal([]byte(remarks), &list); err != nil {
		return k, fmt.Errorf("the remarks of strike %s: %w", k.ID, err)
	}
	for _, r := range list {
		k.Remarks = append(k.Remarks, analysis.Remark(r))
	}
	return k, nil
}

type pitchRow struct {
	hz, sigma, likelihood sql.NullFloat64
	basis                 sql.NullString
	partial               sql.NullInt64
}

func (p pitchRow) pitch() *analysis.Pitch {
	if !p.hz.Valid {
		return nil
	}
	return &analysis.Pitch{Frequency: analysis.Hz(p.hz.Float64), Sigma: analysis.Cents(p.sigma.Float64), Basis: analysis.Basis(p.basis.String),
		Partial: int(p.partial.Int64), Likelihood: p.likelihood.Float64}
}

// remark is a Remark as the shelf and the export write it.
type remark struct {
	Code  string `json:"code"`
	Words string `json:"words"`
}

func remarksOf(list []analysis.Remark) []remark {
	all := []remark{}
	for _, r := range list {
		all = append(all, remark(r))
	}
	return all
}

// Strike returns a kept strike whole; fs.ErrNotExist where there is none.
func (r *Reader) Strike(ctx context.Context, id string) (Kept, error) {
	k, err := scanKept(r.db.QueryRowContext(ctx, `SELECT `+strikeColumns+` FROM strike WHERE id = ?`, id))
	if err == nil {
		k.Partials, err = partials(ctx, r.db, id)
	}
	return k, told(err, "strike", id)
}

// Strikes returns the strikes of a voice that are not put away, oldest first,
// with their partials.
func (r *Reader) Strikes(ctx context.Context, voice string) ([]Kept, error) {
	all, err := list(ctx, r.db, scanKept, `SELECT `+strikeColumns+` FROM strike WHERE voice = ? AND put_away IS NULL ORDER BY time, id`, voice)
	for i := range all {
		if err == nil {
			all[i].Partials, err = partials(ctx, r.db, all[i].ID)
		}
	}
	return all, err
}

// AmendStrike gives a strike another note, another voice, or both; nil leaves
// it. What is not there is fs.ErrNotExist.
func (s *Shelf) AmendStrike(ctx context.Context, id string, note, voice *string) error {
	if note != nil {
		if err := prose("note", *note); err != nil {
			return err
		}
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		var was string
		if err := tx.QueryRow(`SELECT voice FROM strike WHERE id = ?`, id).Scan(&was); err != nil {
			return told(err, "strike", id)
		}
		if note != nil {
			if _, err := tx.Exec(`UPDATE strike SET note = ? WHERE id = ?`, *note, id); err != nil {
				return err
			}
		}
		if voice == nil || *voice == was {
			return nil
		}
		if err := exists(tx, "voice", *voice); err != nil {
			return err
		}
		if _, err := tx.Exec(`UPDATE strike SET voice = ? WHERE id = ?`, *voice, id); err != nil {
			return err
		}
		return errors.Join(refigure(tx, was), refigure(tx, *voice))
	})
	if err != nil {
		return fmt.Errorf("catalogue: amend strike %s: %w", id, err)
	}
	return nil
}

// Recording returns the encoded bytes of a recording. It returns an error that
// wraps fs.ErrNotExist where the shelf has none of that name.
func (r *Reader) Recording(hash string) ([]byte, error) {
	data, err := store{r.recordings()}.read(hash)
	if err != nil {
		return nil, fmt.Errorf("catalogue: recording: %w", err)
	}
	return data, nil
}

// RecordingFile returns where the recording of a hash lies, whether or not it
// is whole; "" for what is no hash.
func (r *Reader) RecordingFile(hash string) string {
	if !hashed(hash) {
		return ""
	}
	return store{r.recordings()}.path(hash)
}
