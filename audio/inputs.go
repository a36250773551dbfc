package audio

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"strings"
	"time"
)

// ErrNoInput says that this machine has no microphone at all.
var ErrNoInput = errors.New("no microphone found")

// noInputWords tell a player what to do about ErrNoInput.
const noInputWords = "plug one in and look whether the system's sound settings list it as an input; trying again"

// Input is a sound input of this machine.
type Input struct {
	Host     string  `json:"host"`     // host API: ALSA, Core Audio, ...
	Name     string  `json:"name"`     // as the host calls it
	Channels int     `json:"channels"` // at most; a sound server says more than there are
	Rate     float64 `json:"rate_hz"`  // what the host prefers; a hint
	Default  bool    `json:"default"`
}

// ListInputs asks a child process for the inputs, so that the daemon itself
// never loads a sound library. command is as in CaptureOptions. A machine
// without inputs gives an empty list, not an error.
func ListInputs(ctx context.Context, command []string) ([]Input, error) {
	if len(command) == 0 {
		return nil, errors.New("audio: list inputs: no command given")
	}
	ctx, cancel := context.WithTimeout(ctx, 15*time.Second)
	defer cancel()
	args := append(append([]string(nil), command[1:]...), "--list")
	cmd := exec.CommandContext(ctx, command[0], args...)
	cmd.WaitDelay = time.Second
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	err := cmd.Run()
	if ctx.Err() != nil {
		return nil, fmt.Errorf("audio: list inputs: the sound system does not answer: %w", ctx.Err())
	}
	if err != nil {
		return nil, fmt.Errorf("audio: list inputs: %w: %s", err, lastLine(complaint.String()))
	}
	var inputs []Input
	if err := json.Unmarshal(out.Bytes(), &inputs); err != nil {
		return nil, fmt.Errorf("audio: list inputs: %w", err)
	}
	return inputs, nil
}

func lastLine(s string) string {
	s = strings.TrimSpace(s)
	return s[strings.LastIndexByte(s, '\n')+1:]
}
