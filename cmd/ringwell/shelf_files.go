package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"ringwell/analysis/catalogue"
)

type shelfCheck struct{}

func (shelfCheck) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		report, err := r.Check(ctx, nil)
		for _, f := range report.Faults {
			fmt.Fprintln(std.err, clean(f))
		}
		if err != nil {
			return err
		}
		for _, f := range report.Orphans {
			fmt.Fprintf(std.err, "Nothing needs %s; ringwell shelf empty all removes it.\n", clean(f))
		}
		for _, f := range report.Strangers {
			fmt.Fprintf(std.err, "Not the shelf's: %s\n", clean(f))
		}
		fmt.Fprintf(std.out, "%s, %s, %s, %s of %.1f MB.\n", count(report.Objects, "object"), count(report.Voices, "voice"),
			count(report.Strikes, "strike"), count(report.Recordings, "recording"), float64(report.Bytes)/1e6)
		if !report.Sound() {
			fmt.Fprintln(std.err, "Keep the folder as it is, and restore a backup into another with: ringwell shelf restore FILE --shelf NEW-FOLDER")
			return errTold
		}
		fmt.Fprintln(std.out, "All of it is whole.")
		return nil
	})
}

type shelfBackup struct {
	File string `arg:"" help:"The file to write; it must not be there yet."`
}

func (c *shelfBackup) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		if err := r.Backup(ctx, c.File); err != nil {
			return err
		}
		fmt.Fprintf(std.out, "The shelf is in %s.\n", clean(c.File))
		return nil
	})
}

type shelfRestore struct {
	File string `arg:"" help:"What shelf backup wrote."`
}

func (c *shelfRestore) Run(ctx context.Context, p *program, std stdio) error {
	dir, err := p.Shelf.folder()
	if err != nil {
		return err
	}
	if err := catalogue.Restore(ctx, c.File, dir); err != nil {
		return err
	}
	fmt.Fprintf(std.out, "The shelf is in %s.\n", clean(dir))
	return nil
}

type shelfExport struct {
	CSV  string `enum:",objects,voices,strikes" default:"" env:"-" placeholder:"TABLE" help:"Write a table as CSV: objects, voices or strikes."`
	File string `arg:"" optional:"" help:"The file to write; it must not be there yet. (standard output)"`
}

func (c *shelfExport) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.reading(ctx, func(r *catalogue.Reader) error {
		write := func(to io.Writer) error {
			if c.CSV != "" {
				return r.WriteCSV(ctx, catalogue.Table(c.CSV), to)
			}
			return r.Export(ctx, to)
		}
		if c.File == "" {
			return write(std.out)
		}
		f, err := os.OpenFile(c.File, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("%s is there already, and nothing is overwritten; give another name", c.File)
		}
		if err != nil {
			return err
		}
		if err := errors.Join(write(f), f.Sync(), f.Close()); err != nil {
			os.Remove(c.File) // half an export is none
			return err
		}
		return nil
	})
}

type shelfImport struct {
	File string `arg:"" help:"What shelf export wrote."`
}

func (c *shelfImport) Run(ctx context.Context, p *program) error {
	f, err := os.Open(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := p.Shelf.making(ctx, func(s *catalogue.Shelf) error { return s.Import(ctx, f) }); err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	return nil
}
