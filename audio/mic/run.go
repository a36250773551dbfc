package mic

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"ringwell/audio"
)

// Exit statuses of the capture child. 2 is left to Go: a panic, in the callback
// for one.
const (
	exitFault = 1
	exitHung  = 3
)

// RunChild is the whole of the capture child: args are what follows its name,
// sound goes to stdout, and it ends when standard input does. It returns the
// exit status, with which the process must exit at once.
func RunChild(args []string, stdout io.Writer) int {
	flags := flag.NewFlagSet("capture-child", flag.ContinueOnError)
	var o Options
	flags.StringVar(&o.Input, "input", "", "name of the input or a part of it")
	flags.IntVar(&o.Channel, "channel", 1, "channel, counted from 1")
	flags.Float64Var(&o.Rate, "rate", 0, "sample rate in Hz")
	flags.DurationVar(&o.Latency, "latency", 0, "buffer asked of the host")
	flags.BoolVar(&o.Noise, "noise", false, "let the sound libraries write on standard error")
	list := flags.Bool("list", false, "list the inputs as JSON and end")
	if err := flags.Parse(args); err != nil {
		return exitFault
	}
	if *list {
		return exit(runList(stdout, o.Noise))
	}
	// Interrupt in a terminal reaches the whole group; when this process ends
	// is for the daemon to say.
	signal.Ignore(os.Interrupt)
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	go func() {
		io.Copy(io.Discard, os.Stdin)
		stop()
	}()
	return exit(ChildMain(ctx, stdout, o))
}

func exit(err error) int {
	if err == nil {
		return 0
	}
	fmt.Fprintln(os.Stderr, "capture-child:", err)
	if errors.Is(err, errHung) {
		return exitHung
	}
	return exitFault
}

func runList(stdout io.Writer, noise bool) error {
	inputs, err := inputs(noise)
	if err != nil {
		return err
	}
	if inputs == nil {
		inputs = []audio.Input{}
	}
	return json.NewEncoder(stdout).Encode(inputs)
}

// List returns the inputs of this machine, the default one marked. It loads
// the sound libraries into this process; the daemon asks audio.ListInputs.
func List() ([]audio.Input, error) { return inputs(false) }
