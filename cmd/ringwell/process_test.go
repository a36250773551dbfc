package main

import (
	"io"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// process is a ringwell of its own.
type process struct {
	t    *testing.T
	cmd  *exec.Cmd
	out  output // what a player sees on the terminal
	url  string
	done chan error
}

// launch starts ringwell with a page at a free port and waits for its address.
func launch(t *testing.T, env []string, args ...string) *process {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &process{t: t, cmd: exec.Command(self, append([]string{"listen", "--page", "127.0.0.1:0"}, args...)...), done: make(chan error, 1)}
	p.cmd.Env = append(append(os.Environ(), asProgram+"=1"), env...)
	p.cmd.Stdout, p.cmd.Stderr = &p.out, &p.out
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { p.done <- p.cmd.Wait() }()
	t.Cleanup(func() {
		p.cmd.Process.Kill()
		if t.Failed() {
			t.Logf("the terminal:\n%s", clean(strings.ReplaceAll(p.out.String(), "\n", " | ")))
		}
	})
	eventually(t, "the page's address is printed", func() bool {
		_, rest, _ := strings.Cut(p.out.String(), "http://")
		address, _, ok := strings.Cut(rest, "/ ")
		p.url = "http://" + address
		return ok
	})
	return p
}

// says waits until the terminal has said something.
func (p *process) says(words string) {
	p.t.Helper()
	eventually(p.t, "the terminal says "+words, func() bool { return strings.Contains(p.out.String(), words) })
}

// signal sends a signal and wants the process to end in order within the time
// it has.
func (p *process) signal(s os.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
	// The time an orderly stop may take, and one second for a busy machine.
	late := time.After(stopWithin + time.Second)
	select {
	case err := <-p.done:
		if err != nil {
			p.t.Errorf("after %v: %v, want exit status 0", s, err)
		}
	case <-late:
		p.t.Errorf("after %v it still runs", s)
	}
}

func TestSignalsEndInOrder(t *testing.T) {
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		t.Run(s.String(), func(t *testing.T) {
			home(t, "")
			p := launch(t, []string{pretendMic + "=" + micPlugged}, "--reference", "442")
			p.says("Listening to hall pair")
			// A page that is open does not hold it up.
			r, err := http.Get(p.url + "/")
			if err != nil {
				t.Fatal(err)
			}
			defer r.Body.Close()
			if page, err := io.ReadAll(r.Body); err != nil || !strings.Contains(string(page), "<html") {
				t.Errorf("the page: got %.100q, %v", page, err)
			}
			p.signal(s)
			if _, err := os.Stat(sessionPath()); err != nil {
				t.Errorf("the session was not kept: %v", err)
			}
		})
	}
}

func TestASecondRingwellSaysWhatToDo(t *testing.T) {
	home(t, "")
	p := launch(t, []string{pretendMic + "=" + micPlugged}, "--reference", "442")
	status, _, complaints := ran("listen", "--page", strings.TrimPrefix(p.url, "http://"))
	if status != exitFault || !strings.Contains(complaints, "taken") || !strings.Contains(complaints, p.url) {
		t.Errorf("a second one: got status %d, %q", status, complaints)
	}
	p.signal(os.Interrupt)
}
