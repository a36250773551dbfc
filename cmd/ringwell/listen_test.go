package main

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/analysis/listen"
	"ringwell/audio/wav"
	"ringwell/webview"
)

// listening is a daemon that runs in a test.
type listening struct {
	t    *testing.T
	out  output
	url  string
	stop context.CancelFunc
	done chan error
}

// start runs the daemon with a page at a free port and waits for its address.
func start(t *testing.T, in io.Reader, args ...string) *listening {
	t.Helper()
	p, err := parsed(t, append([]string{"listen", "--page", "127.0.0.1:0"}, args...)...)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	l := &listening{t: t, stop: stop, done: make(chan error, 1)}
	go func() {
		l.done <- p.Listen.Run(ctx, stdio{in, &l.out, io.Discard}, slog.New(slog.DiscardHandler))
		close(l.done) // whoever waits for the end again has it at once
	}()
	t.Cleanup(stop)
	eventually(t, "the page's address is printed", func() bool {
		_, rest, ok := strings.Cut(l.out.String(), "http://")
		if !ok || !strings.Contains(rest, " ") {
			return false
		}
		address, _, _ := strings.Cut(rest, " ")
		l.url = "http://" + strings.TrimSuffix(address, "/")
		return true
	})
	return l
}

// end stops the daemon as a signal does and waits for it.
func (l *listening) end() {
	l.t.Helper()
	l.stop()
	select {
	case err := <-l.done:
		if err != nil {
			l.t.Errorf("the daemon ended with %v", err)
		}
	case <-time.After(stopWithin):
		l.t.Errorf("the daemon did not end within %v", stopWithin)
	}
}

// get reads a JSON answer.
func get[T any](l *listening, path string) (answer T) {
	l.t.Helper()
	r, err := http.Get(l.url + path)
	if err != nil {
		l.t.Fatal(err)
	}
	defer r.Body.Close()
	if err := json.NewDecoder(r.Body).Decode(&answer); err != nil {
		l.t.Fatalf("GET %s: %v", path, err)
	}
	return answer
}

// finals are the strikes of which all is known.
func (l *listening) finals() []webview.Strike {
	l.t.Helper()
	var finals []webview.Strike
	for _, s := range get[struct{ Strikes []webview.Strike }](l, "/api/strikes").Strikes {
		if s.Stage == "final" {
			finals = append(finals, s)
		}
	}
	return finals
}

func TestListenToARecording(t *testing.T) {
	home(t, "")
	file := filepath.Join(t.TempDir(), "pipe\x1b[2J.wav")
	bar(t, file, 523.5, 1.2)
	l := start(t, nil, "--from", file, "--instrument", "marimba 4.3", "--reference", "442", "--kind", "bar")
	eventually(t, "the strike is final and its sound kept", func() bool {
		f := l.finals()
		return len(f) == 1 && f[0].Sound
	})
	s := l.finals()[0]
	if s.Heard == nil || s.Landing == nil || s.Landing.Note != "C5" || s.Landing.Instrument != "marimba 4.3" {
		t.Errorf("523.5 Hz: got %+v, landing %+v; want C5 on the marimba", s.Heard, s.Landing)
	}
	// 1200·log2(523.5/525.6295), C5 with A4 at 442 Hz: -7.03 cents.
	if d := s.Landing.Cents + 7.03; d > 0.1 || d < -0.1 {
		t.Errorf("523.5 Hz against C5 on 442 Hz: got %.3f cents, want -7.03", s.Landing.Cents)
	}
	eventually(t, "the terminal has a line for it", func() bool {
		return strings.Contains(l.out.String(), "C5, 7.0 c low")
	})
	if session := get[webview.Session](l, "/api/session"); session.Kind != "bar" || session.Reference != 442 || session.Source.Choice != fromFile {
		t.Errorf("session: got %+v, want what the flags said", session)
	}

	r, err := http.Get(l.url + "/api/strikes/" + s.ID + ".wav")
	if err != nil {
		t.Fatal(err)
	}
	sound, err := wav.NewReader(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	if f := sound.Format(); f.Rate != 48000 || f.Channels != 1 || !f.Float {
		t.Errorf("kept sound: got %+v, want mono float at 48 kHz", f)
	}
	r.Body.Close()

	l.end()
	if strings.Contains(l.out.String(), "\x1b") {
		t.Errorf("an escape reached the terminal: %q", l.out.String())
	}

	// What was chosen is there after a restart; the microphone is the source again.
	t.Setenv(pretendMic, micPlugged)
	l = start(t, nil)
	eventually(t, "the microphone is open", func() bool { return strings.Contains(l.out.String(), "hall pair") })
	if session := get[webview.Session](l, "/api/session"); session.Instrument != "marimba 4.3" || session.Reference != 442 || session.Source.Choice != fromMic {
		t.Errorf("session after a restart: got %+v", session)
	}
	l.end()
}

func TestListenWithoutAMicrophone(t *testing.T) {
	home(t, "")
	t.Setenv(pretendMic, micNone)
	l := start(t, nil)
	eventually(t, "the demo scene is heard", func() bool { return len(l.finals()) > 0 })
	out := l.out.String()
	if !strings.Contains(out, "No microphone found. Plug one in") || !strings.Contains(out, "demo scene") {
		t.Errorf("the terminal does not say what is so and what to do:\n%s", out)
	}
	l.end()

	// Whoever asked for the microphone gets no other sound in its place.
	l = start(t, nil, "--from", "mic")
	eventually(t, "the ear says that there is none", func() bool {
		return strings.Contains(l.out.String(), "no microphone found") && strings.Contains(l.out.String(), "plug one in")
	})
	if r, err := http.Get(l.url + "/healthz"); err != nil || r.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("GET /healthz while deaf: got %v, %v, want 503", r, err)
	}
	l.end()
}

func TestStandInMakesRoomForAMicrophone(t *testing.T) {
	t.Setenv(pretendMic, micNone)
	command, err := captureCommand()
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	source, err := newStandIn(ctx, command, 10*time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	if _, err := source.Next(ctx); err != nil {
		t.Fatalf("no microphone yet: %v, want sound", err)
	}
	t.Setenv(pretendMic, micPlugged)
	eventually(t, "the stand-in ends", func() bool {
		_, err := source.Next(ctx)
		return err != nil && strings.Contains(err.Error(), "microphone is there")
	})
}

func TestListenToStandardInput(t *testing.T) {
	home(t, "")
	file := filepath.Join(t.TempDir(), "x.wav")
	bar(t, file, 880, 1)
	r, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	recording, err := wav.NewReader(r)
	if err != nil {
		t.Fatal(err)
	}
	var pcm []byte
	for piece := make([]float64, 4096); ; {
		n, err := recording.Read(piece)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range piece[:n] {
			v := int16(x * 32767)
			pcm = append(pcm, byte(v), byte(v>>8))
		}
	}
	in, feed := io.Pipe()
	defer in.Close()
	go func() {
		feed.Write(pcm)
		feed.Close()
	}()
	l := start(t, in, "--from", "stdin")
	eventually(t, "the strike is final", func() bool { return len(l.finals()) == 1 })
	if s := l.finals()[0]; s.Landing == nil || s.Landing.Note != "A5" {
		t.Errorf("880 Hz on standard input: got %+v", s.Landing)
	}
	l.end()
}

func TestChoosingAnotherSource(t *testing.T) {
	home(t, "")
	t.Setenv(pretendMic, micPlugged)
	l := start(t, nil)
	eventually(t, "the microphone is open", func() bool { return strings.Contains(l.out.String(), "Listening to hall pair") })
	req, err := http.NewRequest("POST", l.url+"/api/source", strings.NewReader(`{"choice":"demo"}`))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("X-Ringwell-Token", get[struct{ Token string }](l, "/api/token").Token)
	r, err := http.DefaultClient.Do(req)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("POST /api/source: got %v, %v", r, err)
	}
	eventually(t, "the demo scene is heard", func() bool { return len(l.finals()) > 0 })
	l.end()
	if state := listen.Ended; strings.Contains(l.out.String(), state) {
		t.Errorf("changing the source was told as the end of it:\n%s", l.out.String())
	}
}
