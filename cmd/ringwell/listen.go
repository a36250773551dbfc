package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/drift"
	"ringwell/analysis/listen"
	"ringwell/audio"
	"ringwell/webview"
	"ringwell/webview/share"
)

// stopWithin is how long an orderly stop may take, after which the process
// ends all the same.
const stopWithin = 3 * time.Second

type listenCommand struct {
	From        *string `placeholder:"mic|demo|phone|stdin|FILE" help:"Where sound comes from. (mic; where there is none, the demo scene)"`
	Input       *string `placeholder:"NAME" help:"The input to listen to, by its name or a part of it; see ringwell inputs. (the system's default)"`
	Channel     int     `placeholder:"N" help:"The channel to listen to, counted from 1. (1; of a recording the loudest)"`
	Rate        float64 `placeholder:"HZ" help:"The sample rate of the input or of standard input. (the best there is; of standard input 48000)"`
	Channels    int     `env:"-" placeholder:"N" help:"How many channels standard input has, side by side. (1)"`
	Float       bool    `env:"-" help:"Standard input is 32-bit float, not 16-bit signed integers (both little-endian)."`
	Page        string  `default:"${page}" placeholder:"HOST:PORT" help:"Where the page is served, on this machine only. (${default})"`
	Thermometer string  `placeholder:"FILE" help:"A file a temperature sensor's driver writes: thousandths of a degree as Linux hwmon and 1-wire do, or degrees. (none)"`
	shelfPlace
	sharing
	held
}

// Validate is called by kong once the flags are read.
func (c *listenCommand) Validate() error {
	if c.Channel < 0 || c.Channel > 64 {
		return errors.New("--channel: give 1 to 64")
	}
	if c.Rate != 0 && !(c.Rate >= 1000 && c.Rate <= 1e6) {
		return errors.New("--rate: give 1000 to 1000000 Hz")
	}
	if err := c.sharing.validate(); err != nil {
		return err
	}
	return c.held.Validate()
}

// spareMemory is how much garbage may pile up before it is collected, in per
// cent of what is in use. Most of that is kept sound, which lives long, and
// little garbage comes each second: the usual 100 would double the memory of
// the process for nothing.
const spareMemory = 20

// Run listens until ctx ends.
func (c *listenCommand) Run(ctx context.Context, std stdio, log *slog.Logger) error {
	set, err := c.held.instruments(&c.shelfPlace)
	if err != nil {
		return err
	}
	door, err := listenPage(c.Page)
	if err != nil {
		return err
	}
	defer door.Close()
	if choice, path := c.choice(); choice == fromFile {
		// What is wrong with the file is better known now than told later.
		r, err := audio.OpenRecording(path, audio.RecordingOptions{Channel: c.Channel})
		if err != nil {
			return err
		}
		r.Close()
	}
	debug.SetGCPercent(spareMemory)
	d := &daemon{command: c, std: std, log: log}
	book, err := c.book(log)
	if err != nil {
		return err
	}
	network, err := c.sharing.open(d.say)
	if err != nil {
		return err
	}
	if network != nil {
		defer network.Close()
	}
	if d.calibrations, err = loadCalibrations(calibrationPath()); err != nil {
		log.Warn("listening without calibration", "err", err)
		d.calibrations = &calibrations{}
	}
	d.ear = newEar(ctx, d.attend)
	shelf, closeShelf := c.shelfPlace.open(ctx, log, d.say)
	defer closeShelf()
	d.server, err = webview.New(webview.Config{
		Version: version(), SessionPath: sessionPath(), WantedPath: wantedPath(), BenchPath: benchPath(), Thermometer: thermometer(c.Thermometer),
		Sources: c.choices(), ChooseSource: d.ear.choose,
		SetMuted: d.controls.Mute, SetKind: d.controls.SetKind,
		EncodeWAV:   encodeWAV,
		Instruments: set.names(), Instrument: set.byName,
		Shelf: shelf,
		Book:  book, Network: network,
		Log: log,
	})
	if err != nil {
		return err
	}
	if err := c.settle(d.server, set); err != nil {
		return err
	}
	d.teller = newTeller(std.out, former(d.server))
	d.audience = audiences{d.server, d.teller}
	return d.run(ctx, door, network)
}

// settle puts what was said on the command line into the session, where it
// goes before what was kept from last time.
func (c *listenCommand) settle(server *webview.Server, set *instruments) error {
	var change webview.Change
	if name := c.chosen(set); name != "" {
		change.Instrument = &name
	}
	change.Reference = c.Reference
	if c.Kind != nil {
		kind := c.kind()
		change.Kind = &kind
	}
	_, err := server.Change(change)
	return err
}

// sessionPath is where the session is kept; "" where there is no place.
func sessionPath() string {
	if dir := stateHome(); dir != "" {
		return filepath.Join(dir, "session.json")
	}
	return ""
}

// wantedPath is where the wanted list is kept; "" where there is no place.
func wantedPath() string {
	if dir := stateHome(); dir != "" {
		return filepath.Join(dir, "wanted.json")
	}
	return ""
}

// benchPath is where the bench is kept; "" where there is no place.
func benchPath() string {
	if dir := stateHome(); dir != "" {
		return filepath.Join(dir, "bench.json")
	}
	return ""
}

// thermometer reads a sensor's file; nil where none was named.
func thermometer(file string) func() (float64, error) {
	if file == "" {
		return nil
	}
	return func() (float64, error) {
		f, err := os.Open(file)
		if err != nil {
			return 0, fmt.Errorf("thermometer: %w", err)
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, 4096))
		if err != nil {
			return 0, fmt.Errorf("thermometer: %w", err)
		}
		return drift.ParseSensor(string(text))
	}
}

// former makes the form of strikes for the terminal as the session stands, so
// that it says what the page says, pins included.
func former(server *webview.Server) func(analysis.Strike) (webview.Strike, analysis.Hz) {
	return func(s analysis.Strike) (webview.Strike, analysis.Hz) {
		return server.Form(s), analysis.Hz(server.Session().Reference)
	}
}

// daemon is what runs while listening.
type daemon struct {
	command  *listenCommand
	std      stdio
	log      *slog.Logger
	server   *webview.Server
	teller   *teller
	audience listen.Audience
	controls listen.Controls
	ear      *ear
	standIn  func() // see opener; for the first source only

	calibrations *calibrations
}

// say tells something on the terminal once there is a teller; before that it
// can only be logged.
func (d *daemon) say(words string) {
	if d.teller == nil {
		d.log.Warn(words)
		return
	}
	d.teller.say(clean(words))
}

// run listens and serves the page until ctx ends.
func (d *daemon) run(ctx context.Context, door net.Listener, network *share.Network) error {
	telling, told := context.WithCancel(context.Background())
	defer told()
	go d.teller.run(telling)
	served := make(chan error, 2)
	go func() { served <- d.server.Serve(door) }()
	d.teller.say("The page is at http://" + door.Addr().String() + "/ (Ctrl-C stops).")
	if network != nil {
		d.share(ctx, network, served)
	}
	from := d.first()
	_, err := d.server.ChooseSource(from)
	if err == nil {
		select {
		case <-ctx.Done():
		case err = <-served:
		}
	}
	// Whatever a driver or a client does, the end is not waited for longer.
	late := time.AfterFunc(stopWithin, func() {
		d.log.Error("not stopped in order in time", "after", stopWithin)
		os.Exit(exitFault)
	})
	defer late.Stop()
	d.log.Info("stopping")
	d.ear.stop()
	closing, done := context.WithTimeout(context.Background(), stopWithin/2)
	defer done()
	if e := d.server.Shutdown(closing); e != nil {
		d.log.Warn("the page was not closed in order", "err", e)
	}
	told()
	select {
	case <-d.teller.gone:
	case <-closing.Done(): // a terminal that stands still
	}
	return err
}

// first is the source to begin with: the one asked for, or the microphone that
// was chosen last.
func (d *daemon) first() webview.Source {
	choice, _ := d.command.choice()
	from := webview.Source{Choice: choice}
	last := d.server.Session().Source
	switch {
	case choice != fromMic:
	case d.command.Input != nil:
		from.Input = *d.command.Input
	case last.Choice == fromMic:
		from.Input = last.Input
	}
	if d.command.From == nil && from.Input == "" {
		d.standIn = func() {
			d.teller.say("No microphone found. Plug one in and look whether the system's sound settings list it as an input; ringwell will turn to it. Meanwhile the demo scene plays.")
		}
	}
	return from
}
