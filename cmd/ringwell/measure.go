package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"runtime"
	"slices"
	"text/tabwriter"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/analysis/wanted"
	"ringwell/audio"
	"ringwell/webview"
)

type measureCommand struct {
	Files   []string `arg:"" name:"file" help:"Recordings, WAV or FLAC, or folders of them."`
	JSON    bool     `name:"json" env:"-" help:"One JSON object a line and a file."`
	Channel int      `env:"-" placeholder:"N" help:"The channel to listen to, counted from 1. (the loudest)"`
	Keep    bool     `env:"-" help:"Keep every strike on the shelf; a file is an object of its name, a folder within a folder one of its."`
	Wanted  string   `env:"-" placeholder:"FILE" help:"A wanted list to hold the strikes against."`
	shelfPlace
	held

	list wanted.List
}

// measured is what was found in one recording: the object of --json.
type measured struct {
	File    string           `json:"file"`
	Rate    float64          `json:"sample_rate_hz"`
	Seconds float64          `json:"duration_s"`
	Strikes []webview.Strike `json:"strikes"`
}

// Run measures the files on all cores and tells of them in order. A file that
// cannot be measured is one line on standard error; the others are measured.
func (c *measureCommand) Run(ctx context.Context, std stdio, log *slog.Logger) error {
	in, err := c.instrument(&c.shelfPlace)
	if err != nil {
		return err
	}
	if c.Keep {
		if c.JSON || c.Wanted != "" {
			return errors.New("--keep puts strikes on the shelf and prints none of them: leave out --json and --wanted")
		}
		return c.keepAll(ctx, std)
	}
	failed := false
	files, err := filesOf(c.Files)
	if err != nil {
		return err
	}
	c.Files = files
	if c.Wanted != "" {
		list, readable, err := readWanted(c.Wanted, std.err)
		if err != nil {
			return err
		}
		c.list, failed = list, !readable
	}
	type outcome struct {
		m   measured
		err error
	}
	outcomes := make([]chan outcome, len(c.Files))
	for i := range outcomes {
		outcomes[i] = make(chan outcome, 1)
	}
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(c.Files)) {
		go func() {
			for i := range next {
				m, err := c.measure(ctx, c.Files[i], in)
				outcomes[i] <- outcome{m, err}
			}
		}()
	}
	go func() {
		for i := range c.Files {
			next <- i
		}
		close(next)
	}()
	for i, file := range c.Files {
		o := <-outcomes[i]
		switch {
		case ctx.Err() != nil:
			return errors.New("interrupted")
		case o.err != nil:
			failed = true
			fmt.Fprintln(std.err, clean(o.err.Error()))
			if o.m.Seconds == 0 {
				continue // nothing of it was sound
			}
		}
		if c.JSON {
			err = json.NewEncoder(std.out).Encode(o.m)
		} else {
			err = o.m.table(std.out, in.Reference)
		}
		if err != nil {
			return fmt.Errorf("write what was measured: %w", err)
		}
		log.Info("measured", "file", file, "strikes", len(o.m.Strikes), "seconds", o.m.Seconds)
	}
	if failed {
		return errTold
	}
	return nil
}

// measure runs the ear over one recording as fast as it goes.
func (c *measureCommand) measure(ctx context.Context, file string, in instrument.Instrument) (measured, error) {
	source, err := audio.OpenRecording(file, audio.RecordingOptions{Channel: c.Channel})
	if err != nil {
		return measured{}, err
	}
	defer source.Close()
	ear := listen.New(source.Rate(), listen.Options{
		Source: source.Name(), Kind: c.kind(), ClockPPM: c.clockPPM(), LSB: source.LSB(),
	})
	last := map[string]analysis.Strike{}
	hear := func(tellings []analysis.Strike) {
		for _, s := range tellings {
			last[s.ID] = s
		}
	}
	var end int64
	var fault error
	for {
		block, err := source.Next(ctx)
		if err == io.EOF {
			break
		}
		if err != nil { // what came before it is still worth telling
			fault = err
			break
		}
		hear(ear.Step(block))
		end = block.Start + int64(len(block.Samples))
	}
	hear(ear.Flush())
	m := measured{
		File: file, Rate: float64(source.Rate()),
		Seconds: math.Round(source.Rate().Seconds(end)*1e6) / 1e6, Strikes: []webview.Strike{},
	}
	for _, s := range last {
		if s.Stage != analysis.Withdrawn {
			s.Time = time.Time{} // a recording does not say when it was made
			form := webview.StrikeForm(s, in, instrument.Aim{})
			form.Verdict = webview.VerdictForm(s, &c.list, c.kind(), in, wanted.Usual)
			m.Strikes = append(m.Strikes, form)
		}
	}
	slices.SortFunc(m.Strikes, func(a, b webview.Strike) int {
		return int(a.Onset - b.Onset)
	})
	return m, fault
}

// table writes what was found for people to read.
func (m measured) table(w io.Writer, ref analysis.Hz) error {
	fmt.Fprintf(w, "%s: %s kHz, %s s, %s\n", clean(m.File), trimmed(m.Rate/1000), analysis.Fixed(m.Seconds, -1), count(len(m.Strikes), "strike"))
	t := tabwriter.NewWriter(w, 2, 0, 2, ' ', 0)
	for i, s := range m.Strikes {
		if i == 0 {
			head := "  at\theard\twhere that lies\tstrongest partials\trings\tremarks"
			if s.Verdict != nil {
				head += "\twanted"
			}
			fmt.Fprintln(t, head)
		}
		fmt.Fprintln(t, "  "+row(s, ref))
	}
	return t.Flush()
}
