package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// HeardFile is a file of recordings whose every strike was kept.
type HeardFile struct {
	Content string // what it holds, in a short text
	Name    string
	Strikes int
	Added   time.Time
}

func (f *HeardFile) check() error {
	if err := identity(f.Content); err != nil {
		return err
	}
	return line("name", f.Name)
}

// AddHeardFile notes that every strike of a file was kept. The first file of
// that content stays.
func (s *Shelf) AddHeardFile(ctx context.Context, f HeardFile) error {
	f.Added = stored(s.now())
	if err := f.check(); err != nil {
		return err
	}
	if err := s.change(ctx, func(tx *sql.Tx) error { return insertHeardFile(tx, f) }); err != nil {
		return fmt.Errorf("catalogue: note that %s was heard: %w", f.Name, err)
	}
	return nil
}

func insertHeardFile(tx *sql.Tx, f HeardFile) error {
	_, err := tx.Exec(`INSERT INTO heard_file (content, name, strikes, added) VALUES (?,?,?,?) ON CONFLICT DO NOTHING`, f.Content, f.Name, f.Strikes, stamp(f.Added))
	return err
}

func scanHeardFile(row scanner) (f HeardFile, err error) {
	err = row.Scan(&f.Content, &f.Name, &f.Strikes, (*at)(&f.Added))
	return
}

// HeardFile returns what was noted of a file with some content; fs.ErrNotExist
// where nothing was.
func (r *Reader) HeardFile(ctx context.Context, content string) (HeardFile, error) {
	f, err := scanHeardFile(r.db.QueryRowContext(ctx, `SELECT content, name, strikes, added FROM heard_file WHERE content = ?`, content))
	return f, told(err, "file", content)
}
