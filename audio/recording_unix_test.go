//go:build unix

package audio

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestRecordingFromANamedPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Skipf("no named pipes here: %v", err)
	}
	f := mono
	f.Channels = 2
	left, right := hiss(3000, 0.01, 1), hiss(3000, 0.1, 2)
	file := encoded(t, f, interleave(left, right))
	go func() {
		if w, err := os.OpenFile(path, os.O_WRONLY, 0); err == nil {
			w.Write(file)
			w.Close()
		}
	}()
	r := openRecording(t, path, RecordingOptions{})
	got, err := drain(r, math.MaxInt)
	if err != io.EOF || len(got) != 3000 || r.Channel() != 1 || got[7] != float64(left[7]) {
		t.Errorf("%d samples of channel %d, %v; want 3000 of channel 1, EOF", len(got), r.Channel(), err)
	}
	// With this end still open the writer below would not wait for the reader
	// it is meant for, and that one would wait for ever.
	r.Close()
	go func() {
		if w, err := os.OpenFile(path, os.O_WRONLY, 0); err == nil {
			w.Close()
		}
	}()
	if _, err := OpenRecording(path, RecordingOptions{Loop: true}); err == nil || !strings.Contains(err.Error(), "again and again") {
		t.Errorf("looping a pipe: %v, want a refusal", err)
	}
}
