package catalogue

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// Row is a voice with what its object is and what its strikes say, without
// modes. A voice that was never struck has Figures of zeros.
type Row struct {
	Voice  Voice
	Object Object
	State  State
	Figures
	Off analysis.Cents // above what was looked for; 0 where no pitch was
}

// Query says which voices are looked for; what is zero does not matter.
type Query struct {
	Near             analysis.Hz    // the pitch
	Within           analysis.Cents // of it
	Kind             analysis.Kind
	Material         string // a part of it, in any case
	State            State
	KeptAt           string  // a part of it, in any case
	RingMin, RingMax float64 // seconds
	Words            string  // each somewhere in what is written of object or voice, in any case
	Object, Voice    string  // IDs
}

const rowColumns = `v.id, v.object, v.place, v.beater, v.support, v.fill, coalesce(v.pinned_hz, 0), v.created, v.put_away,
	o.id, o.name, o.kind, o.material, o.length_mm, o.width_mm, o.height_mm, o.diameter_mm, o.thickness_mm, o.mass_g,
	o.kept_at, o.found_at, o.found_on, o.notes, coalesce(o.photo, ''), o.created, o.changed, o.put_away,
	coalesce((SELECT state FROM state s WHERE s.object = o.id ORDER BY n DESC LIMIT 1), 'whole'),
	coalesce(f.strikes, 0), coalesce(f.pitch_hz, 0), coalesce(f.spread_c, 0), coalesce(f.ring_s, 0), f.level_db, f.first, f.last`

func scanRow(s scanner) (Row, error) {
	var r Row
	v, o := &r.Voice, &r.Object
	var level sql.NullFloat64
	var first, last *time.Time
	err := s.Scan(&v.ID, &v.Object, &v.Place, &v.Beater, &v.Support, &v.Fill, (*float64)(&v.PinnedHz), (*at)(&v.Created), atOrNil{&v.PutAway},
		&o.ID, &o.Name, &o.Kind, &o.Material, &o.Size.LengthMM, &o.Size.WidthMM, &o.Size.HeightMM, &o.Size.DiameterMM, &o.Size.ThicknessMM, &o.Size.MassG,
		&o.KeptAt, &o.FoundAt, &o.FoundOn, &o.Notes, &o.Photo, (*at)(&o.Created), (*at)(&o.Changed), atOrNil{&o.PutAway},
		&r.State, &r.Strikes, (*float64)(&r.Pitch), (*float64)(&r.Spread), &r.Ring, &level, atOrNil{&first}, atOrNil{&last})
	r.Figures.Voice, r.Level = v.ID, math.NaN()
	if level.Valid {
		r.Level = level.Float64
	}
	if first != nil && last != nil {
		r.First, r.Last = *first, *last
	}
	return r, err
}

// Find returns the voices on the shelf that fit a query: the nearest first
// where a pitch is looked for, else by the names of their objects.
func (r *Reader) Find(ctx context.Context, q Query) ([]Row, error) {
	where, args := ` WHERE v.put_away IS NULL AND o.put_away IS NULL`, []any{}
	and := func(condition string, value ...any) {
		where += " AND " + condition
		args = append(args, value...)
	}
	from := ` FROM voice v JOIN object o ON o.id = v.object LEFT JOIN figure f ON f.voice = v.id`
	if q.Near > 0 { // from the index of pitches
		from = ` FROM figure f JOIN voice v ON v.id = f.voice JOIN object o ON o.id = v.object`
		and(`f.pitch_hz BETWEEN ? AND ?`, float64(q.Near.Shift(-q.Within)), float64(q.Near.Shift(q.Within)))
	}
	if q.Kind != "" {
		and(`o.kind = ?`, string(q.Kind))
	}
	if q.RingMin > 0 {
		and(`f.ring_s >= ?`, q.RingMin)
	}
	if q.RingMax > 0 {
		and(`f.ring_s BETWEEN 1e-9 AND ?`, q.RingMax)
	}
	if q.Object != "" {
		and(`v.object = ?`, q.Object)
	}
	if q.Voice != "" {
		and(`v.id = ?`, q.Voice)
	}
	all := []Row{}
	err := each(ctx, r.db, scanRow, func(row Row) error {
		if q.Fits(&row) {
			if q.Near > 0 {
				row.Off = row.Pitch.Above(q.Near)
			}
			all = append(all, row)
		}
		return nil
	}, `SELECT `+rowColumns+from+where+` ORDER BY o.name, o.id, v.id`, args...)
	if q.Near > 0 {
		slices.SortStableFunc(all, func(a, b Row) int {
			return cmp.Compare(math.Abs(float64(a.Off)), math.Abs(float64(b.Off)))
		})
	}
	return all, err
}

// Fits holds what is written of an object and a voice, and its state, against a
// query. Here and not in SQL, which knows the case of ASCII only.
func (q *Query) Fits(r *Row) bool {
	o, v := &r.Object, &r.Voice
	if q.State != "" && r.State != q.State || !holds(o.Material, q.Material) || !holds(o.KeptAt, q.KeptAt) {
		return false
	}
	if q.Words == "" {
		return true
	}
	all := strings.ToLower(strings.Join([]string{o.Name, string(o.Kind), o.Material, o.KeptAt, o.FoundAt, o.FoundOn, o.Notes, string(r.State),
		v.Place, v.Beater, v.Support, v.Fill}, "\n"))
	for _, w := range strings.Fields(strings.ToLower(q.Words)) {
		if !strings.Contains(all, w) {
			return false
		}
	}
	return true
}

func holds(text, part string) bool {
	return part == "" || strings.Contains(strings.ToLower(text), strings.ToLower(part))
}

// Row returns one voice so, put away or not; fs.ErrNotExist where there is
// none.
func (r *Reader) Row(ctx context.Context, voice string) (Row, error) {
	row, err := scanRow(r.db.QueryRowContext(ctx, `SELECT `+rowColumns+` FROM voice v JOIN object o ON o.id = v.object LEFT JOIN figure f ON f.voice = v.id WHERE v.id = ?`, voice))
	if err == nil && row.Strikes > 0 {
		row.Modes, err = list(ctx, r.db, scanMode, `SELECT `+modeColumns+` FROM mode WHERE voice = ? ORDER BY n`, voice)
	}
	return row, told(err, "voice", voice)
}

// Voiceprints returns what every voice on the shelf that was ever struck
// sounds like, for recognition: by voice.
func (r *Reader) Voiceprints(ctx context.Context) ([]match.Voice, error) {
	type row struct {
		voice, object string
		strikes       int
		mode          match.Mode
	}
	all := []match.Voice{}
	err := each(ctx, r.db, func(s scanner) (w row, err error) {
		m := &w.mode
		err = s.Scan(&w.voice, &w.object, &w.strikes, &m.Seen, (*float64)(&m.Frequency), (*float64)(&m.Spread), &m.Level, &m.SpreadLevel, &m.T60, &m.SpreadT60)
		return
	}, func(w row) error {
		if len(all) == 0 || all[len(all)-1].ID != w.voice {
			all = append(all, match.Voice{ID: w.voice, Object: w.object, Strikes: w.strikes})
		}
		last := &all[len(all)-1]
		last.Modes = append(last.Modes, w.mode)
		return nil
	}, `SELECT v.id, v.object, f.strikes, m.seen, m.frequency_hz, m.spread_c, m.level_db, m.spread_db, m.t60_s, m.spread_ln_t60
		FROM mode m JOIN voice v ON v.id = m.voice JOIN object o ON o.id = v.object JOIN figure f ON f.voice = v.id
		WHERE v.put_away IS NULL AND o.put_away IS NULL ORDER BY m.voice, m.n`)
	return all, err
}

// Soundings returns the newest n strikes of a voice that are not put away,
// oldest first, as its health is judged by; without the strike of an ID.
func (r *Reader) Soundings(ctx context.Context, voice, without string, n int) ([]match.Sounding, error) {
	type one struct {
		id   string
		temp *float64
	}
	kept, err := list(ctx, r.db, func(row scanner) (o one, err error) {
		err = row.Scan(&o.id, &o.temp)
		return
	}, `SELECT id, temperature_c FROM (SELECT id, temperature_c, time FROM strike
		WHERE voice = ? AND put_away IS NULL AND id <> ? ORDER BY time DESC, id DESC LIMIT ?) ORDER BY time, id`, voice, without, n)
	all := []match.Sounding{}
	for _, k := range kept {
		if err != nil {
			break
		}
		s := match.Sounding{Temperature: k.temp}
		s.Partials, err = partials(ctx, r.db, k.id)
		all = append(all, s)
	}
	return all, err
}

// Newest returns the ID of the newest strike of a voice that is not put away;
// fs.ErrNotExist where there is none.
func (r *Reader) Newest(ctx context.Context, voice string) (string, error) {
	var id string
	err := r.db.QueryRowContext(ctx, `SELECT id FROM strike WHERE voice = ? AND put_away IS NULL ORDER BY time DESC, id DESC LIMIT 1`, voice).Scan(&id)
	return id, told(err, "a strike of voice", voice)
}

// Tally is how much there is.
type Tally struct{ Objects, Voices, Strikes, Away int }

// Tally counts what is on the shelf, and what was put away by itself.
func (r *Reader) Tally(ctx context.Context) (t Tally, err error) {
	err = r.db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM object WHERE put_away IS NULL),
		(SELECT count(*) FROM voice v JOIN object o ON o.id = v.object WHERE v.put_away IS NULL AND o.put_away IS NULL),
		(SELECT count(*) FROM strike WHERE put_away IS NULL),
		(SELECT count(*) FROM object WHERE put_away IS NOT NULL) + (SELECT count(*) FROM voice WHERE put_away IS NOT NULL)
			+ (SELECT count(*) FROM strike WHERE put_away IS NOT NULL)`).Scan(&t.Objects, &t.Voices, &t.Strikes, &t.Away)
	if err != nil {
		err = fmt.Errorf("catalogue: count: %w", explain(err))
	}
	return t, err
}

// AwayVoices and AwayStrikes return what was put away by itself, newest first.
func (r *Reader) AwayVoices(ctx context.Context) ([]Row, error) {
	return list(ctx, r.db, scanRow, `SELECT `+rowColumns+` FROM voice v JOIN object o ON o.id = v.object LEFT JOIN figure f ON f.voice = v.id
		WHERE v.put_away IS NOT NULL ORDER BY v.put_away DESC, v.id`)
}

// AwayStrikes: see AwayVoices; without their partials.
func (r *Reader) AwayStrikes(ctx context.Context) ([]Kept, error) {
	return list(ctx, r.db, scanKept, `SELECT `+strikeColumns+` FROM strike WHERE put_away IS NOT NULL ORDER BY put_away DESC, id`)
}
