package catalogue

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
)

// Export writes the whole shelf as JSON Lines, in the form described at
// exportedShelf, as it stood at one moment.
func (r *Reader) Export(ctx context.Context, to io.Writer) error {
	tx, err := r.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fmt.Errorf("catalogue: export: %w", explain(err))
	}
	defer tx.Rollback()
	b := bufio.NewWriter(to)
	e := &exporter{r: r, db: tx, to: json.NewEncoder(b)}
	e.to.SetEscapeHTML(false)
	if err := e.all(ctx); err != nil {
		return fmt.Errorf("catalogue: export: %w", err)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("catalogue: export: %w", err)
	}
	return nil
}

type exporter struct {
	r     *Reader
	db    querier
	to    *json.Encoder
	lines int
}

func (e *exporter) line(v any) error {
	e.lines++
	return e.to.Encode(v)
}

func (e *exporter) all(ctx context.Context) error {
	demo, err := isDemo(ctx, e.db)
	if err != nil {
		return err
	}
	if err := e.line(exportedShelf{"shelf", exportVersion, demo}); err != nil {
		return err
	}
	for _, part := range []func(context.Context) error{e.photos, e.objects, e.voices, e.recordings, e.strikes, e.instruments, e.files} {
		if err := part(ctx); err != nil {
			return err
		}
	}
	return e.to.Encode(exportedEnd{"end", e.lines})
}

func (e *exporter) photos(ctx context.Context) error {
	return each(ctx, e.db, func(row scanner) (exportedPhoto, error) {
		p := exportedPhoto{Type: "photo"}
		err := row.Scan(&p.Hash, &p.Width, &p.Height, &p.JPEG)
		return p, err
	}, func(p exportedPhoto) error { return e.line(p) }, `SELECT hash, width, height, jpeg FROM photo ORDER BY hash`)
}

func (e *exporter) objects(ctx context.Context) error {
	return each(ctx, e.db, scanObject, func(o Object) error {
		out := exportedObject{"object", o.ID, o.Name, o.Kind, o.Material, o.Size.LengthMM, o.Size.WidthMM, o.Size.HeightMM, o.Size.DiameterMM,
			o.Size.ThicknessMM, o.Size.MassG, o.KeptAt, o.FoundAt, o.FoundOn, o.Notes, nil, o.Created, o.Changed, o.PutAway, []exportedState{}}
		if o.Photo != "" {
			out.Photo = &o.Photo
		}
		err := each(ctx, e.db, scanCondition, func(c Condition) error {
			out.States = append(out.States, exportedState(c))
			return nil
		}, `SELECT state, since, note FROM state WHERE object = ? ORDER BY n`, o.ID)
		if err != nil {
			return err
		}
		return e.line(out)
	}, `SELECT `+objectColumns+` FROM object ORDER BY id`)
}

func (e *exporter) voices(ctx context.Context) error {
	return each(ctx, e.db, scanVoice, func(v Voice) error {
		out := exportedVoice{"voice", v.ID, v.Object, v.Place, v.Beater, v.Support, v.Fill, nil, v.Created, v.PutAway}
		if v.PinnedHz > 0 {
			f := float64(v.PinnedHz)
			out.PinnedHz = &f
		}
		return e.line(out)
	}, `SELECT `+voiceColumns+` FROM voice ORDER BY id`)
}

func (e *exporter) recordings(ctx context.Context) error {
	return each(ctx, e.db, scanRecording, func(rec recordingRow) error {
		data, err := store{e.r.recordings()}.read(rec.hash)
		if err != nil {
			return fmt.Errorf("a recording is not whole, see ringwell shelf check: %w", err)
		}
		return e.line(exportedRecording{"recording", rec.hash, rec.added, data})
	}, `SELECT hash, bytes, added FROM recording ORDER BY hash`)
}

func (e *exporter) strikes(ctx context.Context) error {
	return each(ctx, e.db, scanKept, func(k Kept) (err error) {
		if k.Partials, err = partials(ctx, e.db, k.ID); err != nil {
			return err
		}
		return e.line(exportStrike(&k))
	}, `SELECT `+strikeColumns+` FROM strike ORDER BY id`)
}

func (e *exporter) instruments(ctx context.Context) error {
	all, err := instrumentsOf(ctx, e.db)
	for _, in := range all {
		if err != nil {
			break
		}
		out := exportedInstrument{"instrument", in.Name, in.Alike, in.Made, []exportedNote{}}
		for _, n := range in.Notes {
			out.Notes = append(out.Notes, exportedNote(n))
		}
		err = e.line(out)
	}
	return err
}

func (e *exporter) files(ctx context.Context) error {
	return each(ctx, e.db, scanHeardFile, func(f HeardFile) error {
		return e.line(exportedFile{"file", f.Content, f.Name, f.Strikes, f.Added})
	}, `SELECT content, name, strikes, added FROM heard_file ORDER BY content`)
}
