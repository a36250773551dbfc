package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"ringwell/analysis/catalogue"
)

type shelfCommand struct {
	shelfPlace

	List      shelfList      `cmd:"" help:"List the objects on the shelf and their voices."`
	Add       shelfAdd       `cmd:"" help:"Put an object on the shelf."`
	Change    shelfChange    `cmd:"" help:"Tell something else of an object: its name, where it is, its measures."`
	Keep      shelfKeep      `cmd:"" help:"Keep every strike of some recordings of an object."`
	State     shelfState     `cmd:"" help:"Say how an object is: whole, suspect, cracked, broken, lent or lost."`
	Photo     shelfPhoto     `cmd:"" help:"Give an object a photo."`
	Find      shelfFind      `cmd:"" help:"List the voices that lie near a note or a frequency, or are so or so."`
	Alike     shelfAlike     `cmd:"" help:"List what is most like an object, to replace it."`
	Pairs     shelfPairs     `cmd:"" help:"List pairs that beat when struck together."`
	Compare   shelfCompare   `cmd:"" help:"Tell what differs between two strikes, beyond chance: of two supports, beaters or days."`
	Health    shelfHealth    `cmd:"" help:"Tell whether the newest strike of each voice sounds as those before."`
	CallOver  shelfCallOver  `cmd:"" help:"Before a concert: strike each object once and be told who is missing, moved or suspect."`
	Walk      shelfWalk      `cmd:"" help:"Measure an instrument, from recordings of its notes one after another."`
	Away      shelfAway      `cmd:"" help:"Put an object away; it can be taken back until the shelf is emptied of it."`
	Back      shelfBack      `cmd:"" help:"Take back an object that was put away."`
	Empty     shelfEmpty     `cmd:"" help:"List what was put away; given a name, or all, remove it for good."`
	Check     shelfCheck     `cmd:"" help:"Check the database and every recording."`
	Backup    shelfBackup    `cmd:"" help:"Write the whole shelf into one new file, while others use it."`
	Restore   shelfRestore   `cmd:"" help:"Make a shelf of a backup, where there is none."`
	Remeasure shelfRemeasure `cmd:"" help:"Measure every recording again that an older ear measured."`
	Export    shelfExport    `cmd:"" help:"Write everything as JSON Lines, or a table as CSV."`
	Import    shelfImport    `cmd:"" help:"Read what export wrote into an empty shelf."`
}

// noShelf is the folder of a shelf that is not there.
type noShelf string

func (n noShelf) Error() string {
	return fmt.Sprintf("there is no shelf in %s; make one with: ringwell shelf add NAME", string(n))
}

func (noShelf) Is(other error) bool { return other == fs.ErrNotExist }

// reading runs with the shelf open to read. Where there is none the error is
// fs.ErrNotExist.
func (c *shelfCommand) reading(ctx context.Context, do func(*catalogue.Reader) error) (err error) {
	dir, err := c.folder()
	if err != nil {
		return err
	}
	r, err := catalogue.OpenReader(ctx, dir)
	if errors.Is(err, catalogue.ErrOlder) || c.Shelf == demoShelf && errors.Is(err, fs.ErrNotExist) {
		if err := c.making(ctx, func(*catalogue.Shelf) error { return nil }); err != nil {
			return err
		}
		r, err = catalogue.OpenReader(ctx, dir)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return noShelf(dir)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return do(r)
}

// writing runs with the shelf open to write, which has to be there: a wrong
// --shelf, or a word about an object that cannot be, makes no new one.
func (c *shelfCommand) writing(ctx context.Context, do func(*catalogue.Shelf) error) error {
	if err := c.reading(ctx, func(*catalogue.Reader) error { return nil }); err != nil {
		return err
	}
	return c.making(ctx, do)
}

// making runs with the shelf open to write, and makes one where there is none.
func (c *shelfCommand) making(ctx context.Context, do func(*catalogue.Shelf) error) (err error) {
	dir, err := c.folder()
	if err != nil {
		return err
	}
	s, err := openShelf(ctx, dir, c.Shelf == demoShelf)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	return do(s)
}

// object finds an object by its ID or its name.
func object(ctx context.Context, r *catalogue.Reader, called string, away bool) (catalogue.Object, error) {
	all, err := r.Objects(ctx, away)
	if err != nil {
		return catalogue.Object{}, err
	}
	var fit []catalogue.Object
	for _, o := range all {
		if o.ID == called {
			return o, nil
		}
		if o.Name == called {
			fit = append(fit, o)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		var ids []string
		for _, o := range fit {
			ids = append(ids, o.ID)
		}
		return catalogue.Object{}, fmt.Errorf("%d objects are called %s; give one's ID: %s", len(fit), called, strings.Join(ids, ", "))
	case away:
		return catalogue.Object{}, fmt.Errorf("nothing that was put away is called %s; see ringwell shelf empty", called)
	}
	return catalogue.Object{}, fmt.Errorf("nothing on the shelf is called %s; see ringwell shelf list", called)
}
