package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"ringwell/analysis/accuracy"
	"ringwell/audio"
)

// folder prints the table over a folder of WAV files, each with the truth in a
// JSON file of the same name. What cannot be read is named on standard error
// and left out.
func (c *accuracyCommand) folder(ctx context.Context, std stdio) error {
	names, odd, err := pairs(c.Dir)
	if err != nil {
		return fmt.Errorf("%w: give a folder of recordings, each with its truth beside it (README, Accuracy)", err)
	}
	for _, o := range odd {
		fmt.Fprintln(std.err, clean(o))
	}
	failed := len(odd) > 0
	type outcome struct {
		heard accuracy.Heard
		err   error
	}
	outcomes := make([]chan outcome, len(names))
	for i := range outcomes {
		outcomes[i] = make(chan outcome, 1)
	}
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(names)) {
		go func() {
			for i := range next {
				take, err := readTake(ctx, filepath.Join(c.Dir, names[i]))
				if err != nil {
					outcomes[i] <- outcome{err: err}
					continue
				}
				outcomes[i] <- outcome{heard: accuracy.Hear(take)}
			}
		}()
	}
	go func() {
		defer close(next)
		for i := range names {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	var all []accuracy.Heard
	for i := range names {
		select {
		case o := <-outcomes[i]:
			if o.err != nil {
				failed = true
				fmt.Fprintln(std.err, clean(o.err.Error()+": left out"))
				continue
			}
			all = append(all, o.heard)
		case <-ctx.Done():
			return errors.New("interrupted")
		}
	}
	if len(all) == 0 {
		return fmt.Errorf("%s: no recording with its truth: put WAV files there, and beside each a JSON file of the same name (README, Accuracy)", c.Dir)
	}
	if err := accuracy.Recordings(std.out, all); err != nil {
		return fmt.Errorf("write the table: %w", err)
	}
	if failed {
		return errTold
	}
	return nil
}

// pairs lists the WAV files of a folder that have their JSON file beside them,
// in order of name, and says what is alone.
func pairs(dir string) (names, odd []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, err
	}
	stem := func(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) }
	truths := map[string]bool{}
	for _, e := range entries {
		if strings.EqualFold(filepath.Ext(e.Name()), ".json") {
			truths[stem(e.Name())] = true
		}
	}
	sounds := map[string]bool{}
	for _, e := range entries {
		if !strings.EqualFold(filepath.Ext(e.Name()), ".wav") {
			continue
		}
		sounds[stem(e.Name())] = true
		if truths[stem(e.Name())] {
			names = append(names, e.Name())
		} else {
			odd = append(odd, fmt.Sprintf("%s: no %s.json beside it: left out", filepath.Join(dir, e.Name()), stem(e.Name())))
		}
	}
	for _, e := range entries {
		if strings.EqualFold(filepath.Ext(e.Name()), ".json") && !sounds[stem(e.Name())] {
			odd = append(odd, fmt.Sprintf("%s: no %s.wav beside it: left out", filepath.Join(dir, e.Name()), stem(e.Name())))
		}
	}
	slices.Sort(odd)
	return names, odd, nil
}

// readTake reads a recording and its truth.
func readTake(ctx context.Context, file string) (accuracy.Take, error) {
	source, err := audio.OpenRecording(file, audio.RecordingOptions{})
	if err != nil {
		return accuracy.Take{}, err
	}
	defer source.Close()
	t := accuracy.Take{Name: filepath.Base(file), Rate: source.Rate(), LSB: source.LSB()}
	for {
		b, err := source.Next(ctx)
		if err == io.EOF {
			break
		}
		if err != nil {
			return accuracy.Take{}, err
		}
		t.Samples = append(t.Samples, b.Samples...)
	}
	name := strings.TrimSuffix(file, filepath.Ext(file)) + ".json"
	if _, err := os.Stat(name); err != nil {
		name = strings.TrimSuffix(file, filepath.Ext(file)) + ".JSON"
	}
	in, err := os.Open(name)
	if err != nil {
		return accuracy.Take{}, err
	}
	defer in.Close()
	if t.Truth, err = accuracy.ReadTruth(in); err == nil {
		err = t.Truth.Fits(t.Rate, len(t.Samples))
	}
	if err != nil {
		return accuracy.Take{}, fmt.Errorf("%s: %w", name, err)
	}
	return t, nil
}
