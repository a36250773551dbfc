package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/listen"
)

// filesOf is what was named, with each folder replaced by the recordings in it
// and below it, by name.
func filesOf(named []string) ([]string, error) {
	var all []string
	for _, name := range named {
		info, err := os.Stat(name)
		if err != nil || !info.IsDir() {
			all = append(all, name) // what is wrong with a file is told with the file
			continue
		}
		was := len(all)
		err = filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.Type().IsRegular() && isRecording(path) {
				all = append(all, path)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
		if len(all) == was {
			return nil, fmt.Errorf("%s holds no recordings: WAV and FLAC files can be measured", name)
		}
	}
	return all, nil
}

func isRecording(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".wav", ".wave", ".flac":
		return true
	}
	return false
}

// objectOf is what the object of a file is called: as the folder it lies in,
// where that lies within one of those named, else as the file.
func objectOf(file string, named []string) string {
	folder := filepath.Dir(file)
	for _, n := range named {
		if rel, err := filepath.Rel(n, folder); err == nil && rel != "." && !strings.HasPrefix(rel, "..") {
			return filepath.Base(folder)
		}
	}
	return strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
}

// gathering is a folder of recordings on its way onto the shelf.
type gathering struct {
	command *measureCommand
	shelf   *catalogue.Shelf
	named   []string
	err     io.Writer

	mu                  sync.Mutex
	voices              map[string]string // by the object's name
	inHand              map[string]bool   // contents being heard in this run
	begun               time.Time
	done, of            int
	strikes, known, bad int
	seconds             float64
	terminal            bool
}

// keepAll hears files on all cores and keeps their strikes. What was kept is
// safe at every moment: interrupted, it goes on with what is left when it is
// asked again. A file whose content is known is passed over, one that cannot
// be heard is a line on standard error.
func (c *measureCommand) keepAll(ctx context.Context, std stdio) error {
	files, err := filesOf(c.Files)
	if err != nil {
		return err
	}
	dir, err := c.folder()
	if err != nil {
		return err
	}
	if c.Shelf == demoShelf {
		return catalogue.ErrDemo
	}
	s, err := openShelf(ctx, dir, false)
	if err != nil {
		return err
	}
	g := &gathering{command: c, shelf: s, named: c.Files, err: std.err, voices: map[string]string{}, inHand: map[string]bool{},
		begun: time.Now(), of: len(files), terminal: terminal(std.err)}
	if demo, err := s.Demo(ctx); err != nil || demo {
		return errors.Join(err, catalogue.ErrDemo, s.Close())
	}
	err = g.run(ctx, files)
	if e := s.Close(); err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(std.out, "%s from %s; %s known already, %d that could not be heard.\n", count(g.strikes, "strike"), count(g.done-g.known-g.bad, "file"), count(g.known, "file"), g.bad)
	if g.bad > 0 {
		return errTold
	}
	return nil
}

func (g *gathering) run(ctx context.Context, files []string) error {
	next := make(chan string)
	faults := make(chan error, 1) // what ends all of it: the disk is full
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wait.Go(func() {
			for file := range next {
				if err := g.take(ctx, file); err != nil {
					select {
					case faults <- err:
					default:
					}
					stop()
				}
			}
		})
	}
	for _, file := range files {
		select {
		case next <- file:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	wait.Wait()
	if g.terminal {
		fmt.Fprint(g.err, "\r\x1b[K")
	}
	select {
	case err := <-faults:
		return err
	default:
	}
	if ctx.Err() != nil {
		return fmt.Errorf("interrupted after %s of %d; ask again to go on", count(g.done, "file"), g.of)
	}
	return nil
}

// take hears one file and keeps its strikes. Its error ends everything.
func (g *gathering) take(ctx context.Context, file string) error {
	content, err := contentOf(file)
	if err != nil {
		return g.spoilt(err)
	}
	g.mu.Lock()
	twin := g.inHand[content]
	g.inHand[content] = true
	g.mu.Unlock()
	_, err = g.shelf.HeardFile(ctx, content)
	switch {
	case twin || err == nil:
		return g.count(0, 0, true)
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	heard, seconds, err := hearFile(ctx, file, listen.Options{Source: file, Kind: g.command.kind(), ClockPPM: g.command.clockPPM()})
	switch {
	case ctx.Err() != nil:
		return nil
	case err != nil:
		return g.spoilt(err)
	}
	voice, err := g.voice(ctx, objectOf(file, g.named))
	if err != nil {
		return err
	}
	as := catalogue.Kept{Voice: voice, Input: "recording", Analysis: release}
	n, err := keepHeard(ctx, g.shelf, as, file, content, heard)
	if err != nil {
		return err
	}
	return g.count(n, seconds, false)
}

func (g *gathering) spoilt(err error) error {
	g.mu.Lock()
	if g.terminal {
		fmt.Fprint(g.err, "\r\x1b[K")
	}
	fmt.Fprintln(g.err, clean(err.Error()))
	g.bad++
	g.mu.Unlock()
	return g.count(0, 0, false)
}

// voice is the plain voice of the object of that name; both are made where they
// are not there.
func (g *gathering) voice(ctx context.Context, name string) (string, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	name = plainName(name)
	if id := g.voices[name]; id != "" {
		return id, nil
	}
	objects, err := g.shelf.Objects(ctx, false)
	if err != nil {
		return "", err
	}
	var o catalogue.Object
	for _, x := range objects {
		if x.Name == name {
			o = x
		}
	}
	if o.ID == "" {
		if o, err = g.shelf.AddObject(ctx, catalogue.Object{Name: name, Kind: analysis.Kind(g.command.kind())}); err != nil {
			return "", err
		}
	}
	voices, err := g.shelf.Voices(ctx, o.ID)
	if err != nil {
		return "", err
	}
	for _, v := range voices {
		if v.Place+v.Beater+v.Support+v.Fill == "" {
			g.voices[name] = v.ID
			return v.ID, nil
		}
	}
	v, err := g.shelf.AddVoice(ctx, catalogue.Voice{Object: o.ID})
	g.voices[name] = v.ID
	return v.ID, err
}

// plainName is a file's name as one line that an object can be called by.
func plainName(name string) string {
	r := []rune(strings.TrimSpace(strings.ToValidUTF8(clean(name), "?")))
	if len(r) == 0 {
		return "unnamed"
	}
	return string(r[:min(len(r), 200)])
}

// count notes that a file is done and shows how far it has come.
func (g *gathering) count(strikes int, seconds float64, known bool) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.done++
	g.strikes += strikes
	g.seconds += seconds
	if known {
		g.known++
	}
	if g.terminal {
		fmt.Fprint(g.err, "\r\x1b[K"+g.progress(time.Since(g.begun)))
	}
	return nil
}

// progress is a bar, how much is done, how fast, and how long it will take.
func (g *gathering) progress(took time.Duration) string {
	const width = 24
	full := width * g.done / max(1, g.of)
	s := fmt.Sprintf("[%s%s] %d of %d, %s", strings.Repeat("#", full), strings.Repeat(".", width-full), g.done, g.of, count(g.strikes, "strike"))
	if g.seconds > 0 && took > 0 {
		s += fmt.Sprintf(", %.0f x real time", g.seconds/took.Seconds())
	}
	if heard := g.done - g.known; heard > 0 && g.done < g.of {
		s += ", " + leftWords(time.Duration(float64(took)/float64(heard)*float64(g.of-g.done))) + " left"
	}
	return s
}

func leftWords(d time.Duration) string {
	switch {
	case d < 90*time.Second:
		return fmt.Sprintf("%d s", max(1, int(d.Seconds()+0.5)))
	case d < 90*time.Minute:
		return fmt.Sprintf("%d min", int(d.Minutes()+0.5))
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}
