package catalogue

import (
	"cmp"
	"context"
	"database/sql"
	"math"
	"slices"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// Figures is what all strikes of a voice say together.
type Figures struct {
	Voice       string
	Strikes     int
	Pitch       analysis.Hz    // pinned or as heard: the median; 0: no pitch
	Spread      analysis.Cents // one sigma of a single strike's pitch; 0: fewer than two pitches
	Ring        float64        // T60 in seconds of what carries the pitch, else of the strongest; 0: not known
	Level       float64        // of the loudest sample in dB, full scale 0, the median; NaN: not known
	First, Last time.Time
	Modes       []match.Mode // by frequency
}

// nearPin is how far from its pin, in cents, a partial is still what a player
// meant: a quarter tone.
const nearPin = 50

// refigure writes a voice's figures anew from its strikes. It is part of every
// transaction that changes one.
func refigure(tx *sql.Tx, voice string) error {
	ctx := context.Background()
	for _, table := range []string{"mode", "figure"} {
		if _, err := tx.Exec(`DELETE FROM `+table+` WHERE voice = ?`, voice); err != nil {
			return err
		}
	}
	f := Figures{Voice: voice}
	var pinned analysis.Hz
	if err := tx.QueryRow(`SELECT coalesce(pinned_hz, 0) FROM voice WHERE id = ?`, voice).Scan(&pinned); err != nil {
		return err
	}
	type row struct {
		time  time.Time
		id    string
		heard analysis.Hz
		peak  float64
	}
	strikes, err := list(ctx, tx, func(s scanner) (r row, err error) {
		err = s.Scan((*at)(&r.time), &r.id, &r.heard, &r.peak)
		return
	}, `SELECT time, id, coalesce(heard_hz, 0), peak FROM strike WHERE voice = ? AND put_away IS NULL ORDER BY time, id`, voice)
	if err != nil || len(strikes) == 0 {
		return err
	}
	f.Strikes, f.First, f.Last = len(strikes), strikes[0].time, strikes[len(strikes)-1].time
	sounds := map[string][]analysis.Partial{}
	type part struct {
		strike string
		analysis.Partial
	}
	err = each(ctx, tx, func(s scanner) (p part, err error) {
		err = s.Scan(&p.strike, (*float64)(&p.Frequency), &p.Level, &p.T60)
		return
	}, func(p part) error {
		sounds[p.strike] = append(sounds[p.strike], p.Partial)
		return nil
	}, `SELECT p.strike, p.frequency_hz, p.level_db, p.t60_s FROM strike s JOIN partial p ON p.strike = s.id
		WHERE s.voice = ? AND s.put_away IS NULL ORDER BY p.strike, p.frequency_hz`, voice)
	if err != nil {
		return err
	}
	var all [][]analysis.Partial
	var pitches []analysis.Hz
	var levels []float64
	for _, s := range strikes {
		if s.peak > 0 {
			levels = append(levels, 20*math.Log10(s.peak))
		}
		all = append(all, sounds[s.id])
		if p := pitchOf(s.heard, pinned, sounds[s.id]); p > 0 {
			pitches = append(pitches, p)
		}
	}
	f.Modes = match.Gather(all)
	f.Pitch, f.Spread = middle(pitches)
	f.Ring = ring(f.Pitch, f.Modes)
	f.Level = math.NaN()
	if len(levels) > 0 {
		slices.Sort(levels)
		f.Level = median(levels)
	}
	return insertFigures(tx, f)
}

// pitchOf is the pitch of one strike: of its partials the one nearest the pin,
// where there is a pin and one near it, and what was heard where there is none.
func pitchOf(heard, pinned analysis.Hz, partials []analysis.Partial) analysis.Hz {
	if pinned == 0 {
		return heard
	}
	var best analysis.Hz
	off := analysis.Cents(nearPin)
	for i := range partials {
		if d := partials[i].Frequency.Above(pinned); max(d, -d) <= off {
			best, off = partials[i].Frequency, max(d, -d)
		}
	}
	return best
}

// middle is the median of pitches and one sigma beside it, in cents. From five
// pitches on the sigma is that of the median deviation, which a strike heard an
// octave off does not move.
func middle(pitches []analysis.Hz) (analysis.Hz, analysis.Cents) {
	if len(pitches) == 0 {
		return 0, 0
	}
	slices.Sort(pitches)
	m := median(pitches)
	off := make([]float64, len(pitches))
	sum := 0.0
	for i, p := range pitches {
		off[i] = math.Abs(float64(p.Above(m)))
		sum += off[i] * off[i]
	}
	switch n := len(off); {
	case n < 2:
		return m, 0
	case n < 5:
		return m, analysis.Cents(math.Sqrt(sum / float64(n-1)))
	}
	slices.Sort(off)
	return m, analysis.Cents(1.4826 * median(off)) // 1/Φ⁻¹(3/4): the sigma of a normal spread
}

// median is that of sorted values.
func median[T ~float64](x []T) T {
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

func ring(pitch analysis.Hz, modes []match.Mode) float64 {
	if len(modes) == 0 {
		return 0
	}
	for _, m := range modes {
		if pitch > 0 {
			if d := m.Frequency.Above(pitch); max(d, -d) <= nearPin && m.T60 > 0 {
				return m.T60
			}
		}
	}
	return slices.MaxFunc(modes, func(a, b match.Mode) int { return cmp.Compare(a.Level, b.Level) }).T60
}

func insertFigures(tx *sql.Tx, f Figures) error {
	var spread, level any
	if f.Spread > 0 {
		spread = float64(f.Spread)
	}
	if finite(f.Level) {
		level = f.Level
	}
	if _, err := tx.Exec(`INSERT INTO figure (voice, strikes, pitch_hz, spread_c, ring_s, level_db, first, last) VALUES (?,?,?,?,?,?,?,?)`,
		f.Voice, f.Strikes, positive(f.Pitch), spread, f.Ring, level, stamp(f.First), stamp(f.Last)); err != nil {
		return err
	}
	for n, m := range f.Modes {
		if _, err := tx.Exec(`INSERT INTO mode (voice, n, seen, frequency_hz, spread_c, level_db, spread_db, t60_s, spread_ln_t60) VALUES (?,?,?,?,?,?,?,?,?)`,
			f.Voice, n, m.Seen, float64(m.Frequency), float64(m.Spread), m.Level, m.SpreadLevel, m.T60, m.SpreadT60); err != nil {
			return err
		}
	}
	return nil
}

const figureColumns = `f.voice, f.strikes, coalesce(f.pitch_hz, 0), coalesce(f.spread_c, 0), coalesce(f.ring_s, 0), f.level_db, f.first, f.last`

func scanFigures(row scanner) (Figures, error) {
	var f Figures
	var level sql.NullFloat64
	err := row.Scan(&f.Voice, &f.Strikes, (*float64)(&f.Pitch), (*float64)(&f.Spread), &f.Ring, &level, (*at)(&f.First), (*at)(&f.Last))
	f.Level = math.NaN()
	if level.Valid {
		f.Level = level.Float64
	}
	return f, err
}

// Figures returns a voice's figures; fs.ErrNotExist where it has no strike.
func (r *Reader) Figures(ctx context.Context, voice string) (Figures, error) {
	f, err := scanFigures(r.db.QueryRowContext(ctx, `SELECT `+figureColumns+` FROM figure f WHERE f.voice = ?`, voice))
	if err == nil {
		f.Modes, err = list(ctx, r.db, scanMode, `SELECT `+modeColumns+` FROM mode WHERE voice = ? ORDER BY n`, voice)
	}
	return f, told(err, "figures of voice", voice)
}

const modeColumns = `seen, frequency_hz, spread_c, level_db, spread_db, t60_s, spread_ln_t60`

func scanMode(row scanner) (match.Mode, error) {
	var m match.Mode
	err := row.Scan(&m.Seen, (*float64)(&m.Frequency), (*float64)(&m.Spread), &m.Level, &m.SpreadLevel, &m.T60, &m.SpreadT60)
	return m, err
}
