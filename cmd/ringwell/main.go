// Command ringwell listens to struck objects and tells where each lands among
// the notes of an instrument.
package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/physics/material"
)

func main() {
	os.Exit(run(os.Args[1:], stdio{os.Stdin, os.Stdout, os.Stderr}))
}

// Exit statuses.
const (
	exitFault = 1 // something could not be done; standard error says what
	exitUsage = 2 // the command line or a setting is wrong
)

// errTold is returned by a command that has said on standard error what went
// wrong.
var errTold = errors.New("told already")

// program is the command line; each command is in its own file.
type program struct {
	LogLevel string           `enum:"debug,info,warn,error" default:"warn" help:"What goes into the log on standard error: ${enum}. (${default})"`
	Version  kong.VersionFlag `help:"Print the version." env:"-"`

	Listen    listenCommand    `cmd:"" default:"withargs" help:"Listen and show every strike on a page and on the terminal (the default)."`
	Measure   measureCommand   `cmd:"" help:"Measure the strikes in recordings."`
	Calibrate calibrateCommand `cmd:"" help:"Measure an input's clock against a tone of known frequency, or note its level."`
	Accuracy  accuracyCommand  `cmd:"" help:"Print how near the ear comes to what is possible, on sounds whose truth is known."`
	Wanted    wantedCommand    `cmd:"" help:"Check a list of what is wanted."`
	Shelf     shelfCommand     `cmd:"" help:"Look after the shelf: what was kept of objects, their voices and strikes."`
	Bench     benchCommand     `cmd:"" help:"Bring vessels to notes with water; tell what temperature does."`
	Inputs    inputsCommand    `cmd:"" help:"List the inputs of this machine."`
	Devices   devicesCommand   `cmd:"" help:"List the devices that were paired with the page, or remove one."`
	Licences  licencesCommand  `cmd:"" help:"Print the licences of all that is bundled."`
	About     versionCommand   `cmd:"" name:"version" help:"Print the version and what it was built with."`
}

// exited carries the status of kong's own exits (help, version) out of it.
type exited int

// run runs the command that args name and returns the exit status. It stops in
// order on SIGINT or SIGTERM; a second one ends it at once.
func run(args []string, std stdio) (status int) {
	if len(args) > 0 && args[0] == captureChild {
		return runCaptureChild(args[1:], std)
	}
	written := &heeded{to: std.out}
	std.out = written
	defer func() {
		switch e := recover().(type) {
		case nil:
		case exited:
			status = int(e)
			if err := written.lost(); err != nil && status == 0 {
				fmt.Fprintf(std.err, "ringwell: %s\n", clean(err.Error()))
				status = exitFault
			}
		default:
			panic(e) // a fault of ours must not look like success
		}
	}()
	file, err := loadSettings()
	if err != nil {
		fmt.Fprintf(std.err, "ringwell: %s\n", clean(err.Error()))
		return exitUsage
	}
	var p program
	parser, err := newParser(&p, file, std)
	if err != nil {
		panic(err) // the program's own command line cannot be
	}
	command, err := parser.Parse(args)
	if err != nil {
		words := file.blame(err).Error()
		if strings.HasSuffix(words, `value but got "EOL" (<EOL>)`) {
			flag, _, _ := strings.Cut(words, ": ")
			words = flag + ": its value is missing"
		}
		fmt.Fprintf(std.err, "ringwell: %s%s\n", clean(words), whereToRead(err, args))
		return exitUsage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // from then on a second signal kills
	log := slog.New(slog.NewTextHandler(std.err, &slog.HandlerOptions{Level: p.level()}))
	command.BindTo(ctx, (*context.Context)(nil))
	err = command.Run(std, log, &p)
	if err == nil {
		err = written.lost()
	}
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errTold):
		return exitFault
	default:
		fmt.Fprintf(std.err, "ringwell: %s\n", clean(err.Error()))
		return exitFault
	}
}

// whereToRead names the help of the command that was meant, where a word of it
// is missing or one too many: what it wants is more than an error holds.
func whereToRead(err error, args []string) string {
	var wrong *kong.ParseError
	if !errors.As(err, &wrong) {
		return ""
	}
	for _, begins := range []string{"expected ", "unexpected ", "unknown "} {
		if strings.HasPrefix(err.Error(), begins) {
			command := "ringwell"
			for _, step := range wrong.Context.Path {
				if step.Command != nil && slices.Contains(args, step.Command.Name) { // listen need not be said
					command += " " + step.Command.Name
				}
			}
			return "; see " + command + " --help"
		}
	}
	return ""
}

func newParser(p *program, file *settingsFile, std stdio) (*kong.Kong, error) {
	return kong.New(p,
		kong.Name("ringwell"),
		kong.Description("Listens to struck objects and tells where each lands among the notes of an instrument.\n\n"+
			"Every setting may also stand in the environment, as RINGWELL_ and its name, or in the settings file, "+
			clean(settingsPath())+". A flag goes before the environment, that before the file."),
		kong.Vars{
			"version": version(), "page": defaultPage, "share": fmt.Sprint(sharePort), "instrument": instrument.Default,
			"kinds": kindNames(), "materials": strings.Join(material.Names(), ", "), "shelf": clean(shelfPath()), "clock": fmt.Sprint(analysis.UncalibratedClockPPM),
		},
		kong.Writers(std.out, std.err),
		kong.Exit(func(code int) { panic(exited(code)) }),
		kong.DefaultEnvars("RINGWELL"),
		kong.Resolvers(file),
	)
}

func (p *program) level() slog.Level {
	var l slog.Level
	if err := l.UnmarshalText([]byte(p.LogLevel)); err != nil {
		return slog.LevelWarn // kong lets no other word through
	}
	return l
}
