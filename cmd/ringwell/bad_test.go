package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/audio/wav"
)

// badFiles makes one file of each kind that no command can use, and a folder.
func badFiles(t *testing.T) map[string]string {
	t.Helper()
	dir := t.TempDir()
	var silent bytes.Buffer
	if err := wav.Encode(&silent, wav.Format{Rate: 48000, Channels: 1, Bits: 16}, nil, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	files := map[string]string{
		"missing": filepath.Join(dir, "missing.wav"),
		"folder":  filepath.Join(dir, "folder"),
	}
	if err := os.Mkdir(files["folder"], 0o700); err != nil {
		t.Fatal(err)
	}
	for what, data := range map[string][]byte{
		"empty":   nil,
		"text":    []byte("these are words\nand no list\n"),
		"binary":  []byte("\x00\x01\x02\xff\xfe"),
		"silent":  silent.Bytes(),
		"cut off": silent.Bytes()[:20],
	} {
		files[what] = filepath.Join(dir, strings.ReplaceAll(what, " ", "-")+".wav")
		if err := os.WriteFile(files[what], data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if os.Getuid() != 0 { // nothing is kept from root
		files["closed"] = filepath.Join(dir, "closed.wav")
		if err := os.WriteFile(files["closed"], []byte("RIFF"), 0); err != nil {
			t.Fatal(err)
		}
	}
	return files
}

// Every command that reads a file, on every file that it cannot use: status 1,
// nothing on standard output that looks like an answer, and a complaint that
// names the file.
func TestFilesThatCannotBeUsed(t *testing.T) {
	files := badFiles(t)
	for _, command := range [][]string{
		{"measure"},
		{"measure", "--json"},
		{"calibrate", "--reference", "1000", "--recording"},
		{"--page", "127.0.0.1:0", "--from"},
		{"wanted"},
		{"accuracy"},
		{"bench", "row", "--struck", "--aim", "F5"},
		{"bench", "drift", "18=440", "25=440.5", "--stage", "29", "--instrument", "vibraphone", "--tuning"},
		{"measure", "--tuning"},
		{"shelf", "photo", "jar"},
		{"shelf", "keep", "jar"},
		{"shelf", "walk", "mine"},
		{"shelf", "import"},
	} {
		for what, file := range files {
			t.Run(strings.Join(command, " ")+" "+what, func(t *testing.T) {
				home(t, "")
				if command[0] == "shelf" && command[1] != "import" {
					if status, _, complaints := ran("shelf", "add", "jar"); status != 0 {
						t.Fatal(complaints)
					}
				}
				args := append(append([]string{}, command...), file)
				if args[0] == "measure" && args[1] == "--tuning" {
					args = append(args, "x.wav")
				}
				status, out, complaints := ran(args...)
				if status != exitFault || !strings.Contains(complaints, filepath.Base(file)) {
					t.Errorf("%q: got status %d, %q, want %d and the file's name", args, status, complaints, exitFault)
				}
				if strings.Contains(out, " Hz") {
					t.Errorf("%q: got %q on standard output, want no answer", args, out)
				}
			})
		}
	}
}

// fullDisk takes nothing.
type fullDisk struct{}

var errFull = errors.New("no space left on device")

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

// What cannot be written is a fault, whether or not the command asks each line.
func TestOutputThatCannotBeWritten(t *testing.T) {
	home(t, "")
	t.Setenv(pretendMic, micNone)
	if status, _, complaints := ran("shelf", "add", "jar"); status != 0 {
		t.Fatal(complaints)
	}
	wanted := list(t, "A4\n")
	for _, args := range [][]string{
		{"version"}, {"--version"}, {"licences"}, {"inputs"}, {"devices"},
		{"wanted", wanted},
		{"measure", "../../testdata/strikes-exact/bottle.wav"},
		{"bench", "drift", "20=440", "25=441", "28=441.5"},
		{"bench", "water", "--struck", "--holds", "300", "--aim", "F#5", "0=931.2", "200=878.6"},
		{"shelf", "list"}, {"shelf", "find"}, {"shelf", "pairs"}, {"shelf", "empty"}, {"shelf", "check"}, {"shelf", "export"}, {"shelf", "remeasure"},
	} {
		var complaints bytes.Buffer
		status := run(args, stdio{strings.NewReader(""), fullDisk{}, &complaints})
		if status == 0 || !strings.Contains(complaints.String(), errFull.Error()) {
			t.Errorf("%q: got status %d, %q, want a fault: %v", args, status, complaints.String(), errFull)
		}
	}
}

// broken panics, as a fault of our own would.
type broken struct{}

func (broken) Write([]byte) (int, error) { panic("broken") }

// A panic is not swallowed by what catches the exits of the command line.
func TestAPanicIsNoSuccess(t *testing.T) {
	home(t, "")
	defer func() {
		if got := recover(); got != "broken" {
			t.Errorf("a command that panics: got %v, want its panic", got)
		}
	}()
	status := run([]string{"version"}, stdio{strings.NewReader(""), broken{}, new(bytes.Buffer)})
	t.Errorf("a command that panics: got status %d, want its panic", status)
}
