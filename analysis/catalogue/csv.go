package catalogue

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// Table is what is written as CSV.
type Table string

const (
	ObjectTable Table = "objects"
	VoiceTable  Table = "voices"
	StrikeTable Table = "strikes"
)

// Tables lists every Table.
func Tables() []Table { return []Table{ObjectTable, VoiceTable, StrikeTable} }

// WriteCSV writes what is on the shelf, not what was put away, as CSV (RFC
// 4180): a line of names, then a line each. A cell of text that a spreadsheet
// would take for a formula, for it begins with = + - @, a tab or a carriage
// return, begins with an apostrophe instead (OWASP, CSV Injection, from
// memory, unchecked); numbers stay numbers.
func (r *Reader) WriteCSV(ctx context.Context, t Table, to io.Writer) error {
	w := csv.NewWriter(to)
	w.UseCRLF = true
	var err error
	switch t {
	case ObjectTable:
		err = r.objectsCSV(ctx, w)
	case VoiceTable:
		err = r.voicesCSV(ctx, w)
	case StrikeTable:
		err = r.strikesCSV(ctx, w)
	default:
		return fmt.Errorf("catalogue: there is no table %q; there are %v", t, Tables())
	}
	w.Flush()
	if err == nil {
		err = w.Error()
	}
	if err != nil {
		return fmt.Errorf("catalogue: write %s as CSV: %w", t, err)
	}
	return nil
}

// neutral makes a text that no spreadsheet takes for a formula.
func neutral(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// cell writes a value: empty for what is not known.
func cell(v any) string {
	switch v := v.(type) {
	case string:
		return neutral(v)
	case int:
		return strconv.Itoa(v)
	case float64:
		if v == 0 {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	case *float64:
		if v == nil {
			return ""
		}
		return strconv.FormatFloat(*v, 'g', -1, 64)
	case time.Time:
		return stamp(v)
	}
	panic(fmt.Sprintf("catalogue: no cell for %T", v))
}

func row(w *csv.Writer, values ...any) error {
	cells := make([]string, len(values))
	for i, v := range values {
		cells[i] = cell(v)
	}
	return w.Write(cells)
}

func (r *Reader) objectsCSV(ctx context.Context, w *csv.Writer) error {
	err := w.Write(strings.Split("id,name,kind,material,length_mm,width_mm,height_mm,diameter_mm,thickness_mm,mass_g,kept_at,found_at,found_on,state,since,notes", ","))
	if err != nil {
		return err
	}
	return each(ctx, r.db, scanObject, func(o Object) error {
		past, err := r.History(ctx, o.ID)
		if err != nil {
			return err
		}
		var now Condition
		if len(past) > 0 {
			now = past[len(past)-1]
		}
		z := o.Size
		return row(w, o.ID, o.Name, string(o.Kind), o.Material, z.LengthMM, z.WidthMM, z.HeightMM, z.DiameterMM, z.ThicknessMM, z.MassG,
			o.KeptAt, o.FoundAt, o.FoundOn, string(now.State), now.Since, o.Notes)
	}, `SELECT `+objectColumns+` FROM object WHERE put_away IS NULL ORDER BY name, id`)
}

func (r *Reader) voicesCSV(ctx context.Context, w *csv.Writer) error {
	err := w.Write(strings.Split("id,object,name,place,beater,support,fill,pinned_hz,strikes,pitch_hz,spread_c,ring_s", ","))
	if err != nil {
		return err
	}
	type voiceRow struct {
		v                   Voice
		name                string
		strikes             int
		pitch, spread, ring float64
	}
	return each(ctx, r.db, func(s scanner) (x voiceRow, err error) {
		err = s.Scan(&x.v.ID, &x.v.Object, &x.name, &x.v.Place, &x.v.Beater, &x.v.Support, &x.v.Fill, (*float64)(&x.v.PinnedHz), &x.strikes, &x.pitch, &x.spread, &x.ring)
		return
	}, func(x voiceRow) error {
		return row(w, x.v.ID, x.v.Object, x.name, x.v.Place, x.v.Beater, x.v.Support, x.v.Fill, float64(x.v.PinnedHz), x.strikes, x.pitch, x.spread, x.ring)
	}, `SELECT v.id, v.object, o.name, v.place, v.beater, v.support, v.fill, coalesce(v.pinned_hz, 0), coalesce(f.strikes, 0), coalesce(f.pitch_hz, 0),
		coalesce(f.spread_c, 0), coalesce(f.ring_s, 0) FROM voice v JOIN object o ON o.id = v.object LEFT JOIN figure f ON f.voice = v.id
		WHERE v.put_away IS NULL AND o.put_away IS NULL ORDER BY o.name, v.id`)
}

func (r *Reader) strikesCSV(ctx context.Context, w *csv.Writer) error {
	err := w.Write(strings.Split("id,voice,name,place,time,heard_hz,sigma_c,likelihood,temperature_c,room,input,analysis,recording,note", ","))
	if err != nil {
		return err
	}
	type strikeRow struct {
		id, voice, name, place             string
		time                               time.Time
		hz, sigma, likelihood              float64
		temperature                        *float64
		room, input, analysis, rec, remark string
	}
	return each(ctx, r.db, func(s scanner) (x strikeRow, err error) {
		err = s.Scan(&x.id, &x.voice, &x.name, &x.place, (*at)(&x.time), &x.hz, &x.sigma, &x.likelihood, &x.temperature, &x.room, &x.input, &x.analysis, &x.rec, &x.remark)
		return
	}, func(x strikeRow) error {
		return row(w, x.id, x.voice, x.name, x.place, x.time, x.hz, x.sigma, x.likelihood, x.temperature, x.room, x.input, x.analysis, x.rec, x.remark)
	}, `SELECT s.id, s.voice, o.name, v.place, s.time, coalesce(s.heard_hz, 0), coalesce(s.heard_sigma_c, 0), coalesce(s.heard_likelihood, 0),
		s.temperature_c, s.room, s.input, s.analysis, s.recording, s.note FROM strike s JOIN voice v ON v.id = s.voice JOIN object o ON o.id = v.object
		WHERE s.put_away IS NULL AND v.put_away IS NULL AND o.put_away IS NULL ORDER BY s.time, s.id`)
}
