package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"text/tabwriter"

	"ringwell/audio"
	"ringwell/audio/mic"
)

// captureChild is the hidden command of the process that alone touches the
// sound card. It is not kong's: its flags belong to audio.
const captureChild = "capture-child"

func runCaptureChild(args []string, std stdio) int {
	return mic.RunChild(args, std.out)
}

// captureCommand starts this program again as a capture child.
func captureCommand() ([]string, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("find this program's own file: %w", err)
	}
	return []string{self, captureChild}, nil
}

type inputsCommand struct {
	JSON bool `name:"json" env:"-" help:"As a JSON list."`
}

// Run lists the inputs. A machine without any is not an error.
func (c *inputsCommand) Run(ctx context.Context, std stdio) error {
	command, err := captureCommand()
	if err != nil {
		return err
	}
	inputs, err := audio.ListInputs(ctx, command)
	if err != nil {
		return err
	}
	if c.JSON {
		if inputs == nil {
			inputs = []audio.Input{}
		}
		return json.NewEncoder(std.out).Encode(inputs)
	}
	if len(inputs) == 0 {
		_, err := fmt.Fprintln(std.out, "No input found. Plug a microphone in and look whether the system's sound settings list it.")
		return err
	}
	known, err := loadCalibrations(calibrationPath())
	if err != nil {
		return err
	}
	table := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "NAME\tCHANNELS\tUSUAL RATE\tHOST\t\t")
	for _, in := range inputs {
		note := ""
		if in.Default {
			note = "default"
		}
		fmt.Fprintf(table, "%s\t%d\t%g Hz\t%s\t%s\t%s\n", clean(in.Name), in.Channels, in.Rate, clean(in.Host), note, known.inputs[in.Name])
	}
	return table.Flush()
}
