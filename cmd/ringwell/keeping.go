package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
	"ringwell/audio/wav"
	"ringwell/webview"
)

// demoShelf is what --shelf takes for the invented collection.
const demoShelf = "demo"

// shelfPlace says where the shelf is.
type shelfPlace struct {
	Shelf string `placeholder:"FOLDER|demo" help:"The folder of the shelf, or demo for an invented one to try. (${shelf})"`
}

// shelfPath is where the shelf is unless somebody says otherwise; "" where
// there is no place.
func shelfPath() string { return dataFolder("shelf") }

func dataFolder(name string) string {
	if dir := dataHome(); dir != "" {
		return filepath.Join(dir, name)
	}
	return ""
}

// folder is the shelf's folder.
func (c *shelfPlace) folder() (string, error) {
	dir := c.Shelf
	switch dir {
	case "":
		dir = shelfPath()
	case demoShelf:
		dir = dataFolder("demo-shelf")
	}
	if dir == "" {
		return "", errors.New("there is no home folder to keep a shelf in; say where with --shelf FOLDER")
	}
	return dir, nil
}

// open opens the shelf for a running ear. Whatever is wrong with it the ear
// goes on: what can be read is read, the page says why no more can be done, and
// where that may pass it is tried again.
func (c *shelfPlace) open(ctx context.Context, log *slog.Logger, say func(string)) (o *webview.ShelfOptions, done func()) {
	o = &webview.ShelfOptions{Ear: release, Encode: encodeKept, Decode: decodeKept, Invented: invented}
	dir, err := c.folder()
	if err == nil {
		if _, none := os.Stat(dir); none != nil && c.Shelf == demoShelf {
			say("The demo shelf is being stocked, which takes some seconds.")
		}
		if o.Write, err = openShelf(ctx, dir, c.Shelf == demoShelf); err == nil {
			o.Read = &o.Write.Reader
			return o, func() {
				if err := o.Write.Close(); err != nil {
					log.Error("close the shelf", "err", err)
				}
			}
		}
		log.Warn("listening without a shelf that can be written", "err", err)
	}
	l := later{dir: dir, demo: c.Shelf == demoShelf}
	if l.read, _ = catalogue.OpenReader(ctx, dir); l.read != nil {
		o.Read, o.Notice = l.read, "Strikes cannot be kept: "+shelfTrouble(err)+"."
	} else {
		o.Notice = "The shelf cannot be opened: " + shelfTrouble(err) + "."
	}
	if mayPass(err) {
		o.Reopen = l.open
		o.Notice += " Then it is opened by itself."
	}
	return o, func() {
		if err := l.close(); err != nil {
			log.Error("close the shelf", "err", err)
		}
	}
}

// mayPass reports whether a shelf that could not be opened may be so later.
func mayPass(err error) bool {
	return errors.Is(err, catalogue.ErrTaken) || errors.Is(err, catalogue.ErrFull) || errors.Is(err, catalogue.ErrReadOnly)
}

// later is a shelf that could not be opened to write when ringwell began.
type later struct {
	dir   string
	demo  bool
	read  *catalogue.Reader // as long as it is not; nil: nothing can be read
	write *catalogue.Shelf  // once it was
}

func (l *later) open(ctx context.Context) (*catalogue.Shelf, error) {
	s, err := openShelf(ctx, l.dir, l.demo)
	l.write = s
	return s, err
}

func (l *later) close() (err error) {
	if l.write != nil {
		err = l.write.Close()
	}
	if l.read != nil {
		err = errors.Join(err, l.read.Close())
	}
	return err
}

// shelfTrouble is an error of the catalogue as a player reads it.
func shelfTrouble(err error) string {
	for _, known := range []error{catalogue.ErrTaken, catalogue.ErrNewer, catalogue.ErrForeign, catalogue.ErrDamaged, catalogue.ErrFull, catalogue.ErrReadOnly} {
		if errors.Is(err, known) {
			return known.Error()
		}
	}
	return clean(err.Error())
}

// openShelf opens a shelf to write; the demo shelf is made where there is none.
func openShelf(ctx context.Context, dir string, demo bool) (*catalogue.Shelf, error) {
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil || !demo {
		return s, err
	}
	if err := stockDemo(ctx, s); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// invented reports whether a source is the demo scene, which is never kept
// among real things.
func invented(source string) bool { return strings.HasPrefix(source, "demo scene") }

// decodeKept reads a recording of the shelf: one channel.
func decodeKept(data []byte) ([]float64, analysis.Rate, error) {
	r, err := wav.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, 0, err
	}
	if r.Format().Channels != 1 {
		return nil, 0, errors.New("a recording of the shelf has one channel")
	}
	var sound []float64
	buf := make([]float64, 8192)
	for {
		n, err := r.Read(buf)
		sound = append(sound, buf[:n]...)
		if err == io.EOF {
			return sound, analysis.Rate(r.Format().Rate), nil
		}
		if err != nil {
			return nil, 0, err
		}
	}
}

// measured looks for an instrument on the shelf; fs.ErrNotExist where there is
// none of that name, or no shelf.
func (c *shelfPlace) measured(name string, ref analysis.Hz) (instrument.Instrument, error) {
	dir, err := c.folder()
	if err != nil {
		return instrument.Instrument{}, fs.ErrNotExist
	}
	ctx := context.Background()
	r, err := catalogue.OpenReader(ctx, dir)
	if err != nil {
		return instrument.Instrument{}, fs.ErrNotExist
	}
	defer r.Close()
	in, err := r.Instrument(ctx, name)
	if err != nil {
		return instrument.Instrument{}, err
	}
	base, err := instrument.ByName(in.Alike, ref)
	if err != nil {
		return base, err
	}
	notes := map[int][]analysis.Hz{}
	for _, n := range in.Notes {
		notes[n.Key] = n.Targets
	}
	return instrument.Measured(in.Name, base, notes), nil
}
