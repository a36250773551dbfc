package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/listen"
)

type shelfKeep struct {
	Object  string   `arg:"" help:"The object's name or ID."`
	Files   []string `arg:"" name:"file" help:"Recordings of it, WAV or FLAC: every strike in them is kept."`
	Place   string   `env:"-" help:"Where it was struck, as rim or middle."`
	Beater  string   `env:"-" help:"With what."`
	Support string   `env:"-" help:"What it lay on or hung from."`
	Fill    string   `env:"-" help:"What was in it."`
	Celsius *float64 `env:"-" placeholder:"DEGREES" help:"The temperature of the air."`
	Room    string   `env:"-" help:"Where it was recorded."`
	held
}

// Run keeps the strikes of recordings. A strike is known by what its file
// holds, so that keeping a file twice keeps it once. A file that cannot be
// heard is one line on standard error; the others are kept.
func (c *shelfKeep) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		o, err := object(ctx, &s.Reader, c.Object, false)
		if err != nil {
			return err
		}
		v, _, err := s.VoiceSounded(ctx, catalogue.Voice{Object: o.ID, Place: c.Place, Beater: c.Beater, Support: c.Support, Fill: c.Fill})
		if err != nil {
			return err
		}
		failed := false
		for _, file := range c.Files {
			if ctx.Err() != nil {
				return errors.New("interrupted; what was kept is kept, and the rest can be kept by asking again")
			}
			n, err := c.keep(ctx, s, v, o.Kind, file)
			if err != nil {
				failed = true
				fmt.Fprintln(std.err, clean(err.Error()))
				continue
			}
			fmt.Fprintf(std.out, "%s: %s of %s, %s\n", clean(file), count(n, "strike"), clean(o.Name), voiceWords(v))
		}
		if failed {
			return errTold
		}
		return nil
	})
}

func (c *shelfKeep) keep(ctx context.Context, s *catalogue.Shelf, v catalogue.Voice, kind analysis.Kind, file string) (int, error) {
	content, err := contentOf(file)
	if err != nil {
		return 0, err
	}
	if c.held.Kind != nil {
		kind = c.kind()
	}
	as := catalogue.Kept{Voice: v.ID, Temperature: c.Celsius, Room: c.Room, Input: "recording", Analysis: release}
	heard, _, err := hearFile(ctx, file, listen.Options{Source: file, Kind: kind, ClockPPM: c.clockPPM()})
	if err != nil {
		return 0, err
	}
	return keepHeard(ctx, s, as, file, content, heard)
}

// keepHeard keeps the strikes of a file, and notes that all of them are kept.
// It returns how many it has.
func keepHeard(ctx context.Context, s *catalogue.Shelf, as catalogue.Kept, file, content string, heard []struck) (int, error) {
	info, err := os.Stat(file)
	if err != nil {
		return 0, err
	}
	for n, h := range heard {
		onset := int(h.Onset - h.From)
		data, err := encodeKept(h.Rate, h.sound, onset, h.Heard)
		if err != nil {
			return n, fmt.Errorf("%s: strike %d: %w", file, n+1, err)
		}
		k := as
		k.Strike, k.Frame = h.Strike, int64(onset)
		k.ID = fmt.Sprintf("%s-%d", content, n+1)
		k.Source = lastOf(file)
		// A recording does not say when it was made; the file's own time is the
		// nearest there is.
		k.Time = info.ModTime().Add(h.Rate.Duration(h.Onset)).UTC().Truncate(time.Millisecond)
		if err := s.Keep(ctx, k, data); err != nil {
			return n, fmt.Errorf("%s: strike %d: %w", file, n+1, err)
		}
	}
	return len(heard), s.AddHeardFile(ctx, catalogue.HeardFile{Content: content, Name: lastOf(file), Strikes: len(heard)})
}

// contentOf is what a file holds, in a short text: the first 96 bits of its
// SHA-256.
func contentOf(file string) (string, error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)[:12]), nil
}

// lastOf is a file's name as one line of at most 200 characters, its end.
func lastOf(file string) string {
	r := []rune(strings.ToValidUTF8(clean(file), "?"))
	return string(r[max(0, len(r)-200):])
}

type shelfRemeasure struct{}

// Run measures every recording again that another version of the ear measured.
// Interrupted, it goes on where it was when it is asked again.
func (shelfRemeasure) Run(ctx context.Context, p *program, std stdio) error {
	return p.Shelf.writing(ctx, func(s *catalogue.Shelf) error {
		done, failed, after := 0, 0, ""
		for {
			some, err := s.Stale(ctx, release, after, 100)
			if err != nil {
				return err
			}
			if len(some) == 0 {
				break
			}
			for _, k := range some {
				after = k.ID
				switch err := remeasure(ctx, s, k); {
				case ctx.Err() != nil:
					return fmt.Errorf("interrupted after %s; ask again to go on", count(done, "strike"))
				case err != nil:
					failed++
					fmt.Fprintf(std.err, "strike %s stays as it was: %s\n", clean(k.ID), clean(err.Error()))
				default:
					done++
				}
			}
			fmt.Fprintf(std.err, "%s measured again\n", count(done, "strike"))
		}
		fmt.Fprintf(std.out, "%s measured again, %d stay as they were.\n", count(done, "strike"), failed)
		if failed > 0 {
			return errTold
		}
		return nil
	})
}

// sameOnset is how far from where it was a strike's onset may be found again.
const sameOnset = 50 * time.Millisecond

func remeasure(ctx context.Context, s *catalogue.Shelf, k catalogue.Kept) error {
	v, err := s.Voice(ctx, k.Voice)
	if err != nil {
		return err
	}
	o, err := s.Object(ctx, v.Object)
	if err != nil {
		return err
	}
	if _, err := s.Recording(k.Recording); err != nil { // it is what it was
		return err
	}
	heard, _, err := hearFile(ctx, s.RecordingFile(k.Recording), listen.Options{Source: k.Source, Kind: o.Kind, ClockPPM: k.ClockPPM})
	if err != nil {
		return err
	}
	for _, h := range heard {
		if off := h.Rate.Duration(h.Onset - k.Frame); max(off, -off) <= sameOnset {
			return s.Remeasure(ctx, k.ID, h.Strike, release)
		}
	}
	return errors.New("the ear finds no strike there any more")
}
