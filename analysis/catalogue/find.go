package catalogue

import (
	"context"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// Landed is a voice that lies where it was looked for.
type Landed struct {
	Voice  Voice
	Object string // its name
	Figures
	Off analysis.Cents // above what was looked for
}

// present are the voices that are there: neither they nor their objects are
// put away.
const present = ` FROM voice v JOIN object o ON o.id = v.object JOIN figure f ON f.voice = v.id
	WHERE v.put_away IS NULL AND o.put_away IS NULL`

// Near returns the voices whose pitch lies within some cents of a frequency,
// the nearest first, without their modes.
func (r *Reader) Near(ctx context.Context, f analysis.Hz, within analysis.Cents) ([]Landed, error) {
	return list(ctx, r.db, func(row scanner) (Landed, error) {
		var l Landed
		err := row.Scan(&l.Voice.ID, &l.Voice.Object, &l.Voice.Place, &l.Voice.Beater, &l.Voice.Support, &l.Voice.Fill, &l.Voice.PinnedHz,
			(*at)(&l.Voice.Created), &l.Object,
			&l.Figures.Voice, &l.Strikes, (*float64)(&l.Pitch), (*float64)(&l.Spread), &l.Ring, (*at)(&l.First), (*at)(&l.Last))
		if err == nil {
			l.Off = l.Pitch.Above(f)
		}
		return l, err
	}, `SELECT v.id, v.object, v.place, v.beater, v.support, v.fill, coalesce(v.pinned_hz, 0), v.created, o.name, `+figureColumns+present+`
		AND f.pitch_hz BETWEEN ? AND ? ORDER BY max(f.pitch_hz, ?3) / min(f.pitch_hz, ?3), v.id`,
		float64(f.Shift(-within)), float64(f.Shift(within)), float64(f))
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
// oldest first, as its health is judged by.
func (r *Reader) Soundings(ctx context.Context, voice string, n int) ([]match.Sounding, error) {
	kept, err := list(ctx, r.db, scanKept, `SELECT * FROM (SELECT `+strikeColumns+` FROM strike
		WHERE voice = ? AND put_away IS NULL ORDER BY time DESC, id DESC LIMIT ?) ORDER BY time, id`, voice, n)
	all := []match.Sounding{}
	for _, k := range kept {
		if err != nil {
			break
		}
		s := match.Sounding{Temperature: k.Temperature}
		s.Partials, err = partials(ctx, r.db, k.ID)
		all = append(all, s)
	}
	return all, err
}
