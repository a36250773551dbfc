package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"ringwell/audio"
	"ringwell/audio/wav"
)

// asProgram makes the test's own file run as ringwell itself, so that a test can
// start, signal and kill a whole process of it.
const asProgram = "RINGWELL_TEST_PROGRAM"

// The daemon starts its capture child from its own file, which in a test is the
// test's: then this file plays the child, as pretendMic says.
const (
	pretendMic = "RINGWELL_TEST_MIC"
	micNone    = "none" // no microphone on this machine
	micPlugged = "one"  // one, which gives silence
)

func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == captureChild {
		if mode := os.Getenv(pretendMic); mode != "" {
			os.Exit(pretendChild(mode, os.Args[2:]))
		}
		os.Exit(runCaptureChild(os.Args[2:], stdio{os.Stdin, os.Stdout, os.Stderr}))
	}
	if os.Getenv(asProgram) != "" {
		os.Exit(run(os.Args[1:], stdio{os.Stdin, os.Stdout, os.Stderr}))
	}
	os.Exit(m.Run())
}

func pretendChild(mode string, args []string) int {
	if len(args) > 0 && args[len(args)-1] == "--list" {
		inputs := []audio.Input{}
		if mode == micPlugged {
			inputs = append(inputs, audio.Input{Host: "test", Name: "hall\x1b[2J pair", Channels: 2, Rate: 48000, Default: true})
		}
		json.NewEncoder(os.Stdout).Encode(inputs)
		return 0
	}
	pipe, err := audio.NewPipeWriter(os.Stdout)
	if err != nil {
		return exitFault
	}
	if mode == micNone {
		pipe.Word(audio.Word{Code: audio.WordNoInput, Text: "no microphone found"})
		return exitFault
	}
	pipe.Hello(audio.Hello{Rate: 48000, Channels: 1, Channel: 1, Device: "hall pair", Host: "test"})
	gone := make(chan struct{})
	go func() { io.Copy(io.Discard, os.Stdin); close(gone) }()
	s := audio.Sound{Samples: make([]float32, 4800)[:audio.MaxRecord], Entered: time.Now()}
	for tick := time.NewTicker(85 * time.Millisecond); ; {
		select {
		case <-gone:
			return 0
		case <-tick.C:
			if pipe.Sound(s) != nil {
				return exitFault
			}
			s.Start += int64(len(s.Samples))
		}
	}
}

// output is what a command writes, safe to read while it does.
type output struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.String()
}

// patience is how long a test waits for what must come.
const patience = 20 * time.Second

// eventually waits until is says true and fails the test if it never does.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for end := time.After(patience); ; {
		if is() {
			return
		}
		select {
		case <-tick.C:
		case <-end:
			t.Fatalf("%s: not within %v", what, patience)
		}
	}
}

// write writes mono sound as a WAV file of 24 bits.
func write(t testing.TB, path string, rate int, sound []float32) {
	t.Helper()
	out, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := wav.Encode(out, wav.Format{Rate: rate, Channels: 1, Bits: 24}, sound, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
}

// ran runs a command line to its end.
func ran(args ...string) (status int, out, complaints string) {
	var o, e output
	status = run(args, stdio{strings.NewReader(""), &o, &e})
	return status, o.String(), e.String()
}

func TestCommandLine(t *testing.T) {
	for _, c := range []struct {
		why    string
		args   []string
		status int
		out    string // contained in standard output
		err    string // contained in standard error
	}{
		{"help", []string{"--help"}, 0, "Usage: ringwell", ""},
		{"help of a command", []string{"measure", "--help"}, 0, "--clock-ppm", ""},
		{"version, as a flag", []string{"--version"}, 0, release, ""},
		{"version, as a command", []string{"version"}, 0, "ringwell " + release, ""},
		{"licences", []string{"licences"}, 0, "gorilla/websocket", ""},
		{"no such command", []string{"tune"}, exitUsage, "", "tune"},
		{"no such flag", []string{"listen", "--loud"}, exitUsage, "", "--loud"},
		{"nothing to measure", []string{"measure"}, exitUsage, "", "file"},
		{"a reference out of range", []string{"measure", "--reference", "400", "x.wav"}, exitUsage, "", "415 to 466"},
		{"no time for the table", []string{"accuracy", "--budget", "0s"}, exitUsage, "", "--budget"},
		{"a page for everybody", []string{"--page", "0.0.0.0:7341"}, exitFault, "", "only this machine"},
		{"no such instrument", []string{"measure", "--instrument", "kazoo", "x.wav"}, exitFault, "", "vibraphone"},
		{"no such recording to listen to", []string{"--from", "no-such.wav", "--page", "127.0.0.1:0"}, exitFault, "", "no-such.wav"},
		{"a value is missing", []string{"devices", "--remove"}, exitUsage, "", "--remove: its value is missing"},
		{"a number is missing", []string{"measure", "--reference"}, exitUsage, "", "--reference: its value is missing"},
		{"a word is missing", []string{"shelf", "keep", "jar"}, exitUsage, "", "see ringwell shelf keep --help"},
		{"a word too many, listen unsaid", []string{"tune"}, exitUsage, "", "see ringwell --help"},
		{"no shelf to search", []string{"shelf", "find"}, exitFault, "", "ringwell shelf add NAME"},
		{"no shelf to check", []string{"shelf", "check"}, exitFault, "", "ringwell shelf add NAME"},
		{"no shelf to change", []string{"shelf", "state", "jar", "lost"}, exitFault, "", "ringwell shelf add NAME"},
		{"no shelf to measure again", []string{"shelf", "remeasure"}, exitFault, "", "ringwell shelf add NAME"},
		{"no shelf to export", []string{"shelf", "export"}, exitFault, "", "ringwell shelf add NAME"},
		{"no folder of recordings", []string{"accuracy", "main_test.go"}, exitFault, "", "give a folder"},
		{"escapes in an argument", []string{"\x1b[2J"}, exitUsage, "", `\x1b[2J`},
	} {
		t.Run(c.why, func(t *testing.T) {
			home(t, "")
			status, out, complaints := ran(c.args...)
			if status != c.status || !strings.Contains(out, c.out) || !strings.Contains(complaints, c.err) || strings.Contains(complaints, "\x1b") {
				t.Errorf("%q: got status %d, out %.200q, err %q; want %d, %q, %q", c.args, status, out, complaints, c.status, c.out, c.err)
			}
			if c.status == 0 && complaints != "" || c.status != 0 && strings.Count(complaints, "\n") != 1 {
				t.Errorf("%q: got %q on standard error, want one line for a fault and none without", c.args, complaints)
			}
		})
	}
}

func TestInputs(t *testing.T) {
	home(t, "")
	t.Setenv(pretendMic, micNone)
	if status, out, complaints := ran("inputs"); status != 0 || !strings.Contains(out, "No input found") {
		t.Errorf("without a microphone: got %d, %q, %q", status, out, complaints)
	}
	if status, out, _ := ran("inputs", "--json"); status != 0 || strings.TrimSpace(out) != "[]" {
		t.Errorf("without a microphone, JSON: got %d, %q, want []", status, out)
	}
	t.Setenv(pretendMic, micPlugged)
	status, out, complaints := ran("inputs")
	if status != 0 || !strings.Contains(out, `hall\x1b[2J pair`) || !strings.Contains(out, "default") || strings.Contains(out, "\x1b") {
		t.Errorf("with one: got %d, %q, %q", status, out, complaints)
	}
	var inputs []audio.Input
	_, out, _ = ran("inputs", "--json")
	if err := json.Unmarshal([]byte(out), &inputs); err != nil || len(inputs) != 1 || inputs[0].Channels != 2 {
		t.Errorf("with one, JSON: got %q, %v", out, err)
	}
}
