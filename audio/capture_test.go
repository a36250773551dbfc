package audio

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

// The test binary plays the capture child when it is started with this word.
const fakeChild = "fake-capture-child"

func TestMain(m *testing.M) {
	if len(os.Args) > 2 && os.Args[1] == fakeChild {
		fakes[os.Args[2]](os.Stdin, os.Stdout)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// fakes are children, each with a trouble of its own. Sample n of their sound
// is n/2^20, exact in float32.
var fakes = map[string]func(stdin io.Reader, stdout io.Writer){
	"delivers": func(stdin io.Reader, stdout io.Writer) {
		gone := make(chan struct{})
		go func() { io.Copy(io.Discard, stdin); close(gone) }()
		speak(stdout, func() bool {
			select {
			case <-gone:
				return false
			default:
				return true
			}
		})
	},
	"floods": func(_ io.Reader, stdout io.Writer) { speak(stdout, func() bool { return true }) },
	"stalls": func(_ io.Reader, stdout io.Writer) {
		n := 0
		speak(stdout, func() bool { n++; return n < 3 })
		hang()
	},
	"beats": func(stdin io.Reader, stdout io.Writer) {
		w := begin(stdout)
		w.Beat()
		io.Copy(io.Discard, stdin)
	},
	"dies": func(_ io.Reader, stdout io.Writer) {
		n := 0
		speak(stdout, func() bool { n++; return n < 3 })
		os.Exit(3)
	},
	"panics": func(_ io.Reader, stdout io.Writer) { begin(stdout); panic("in the callback") },
	"leaves": func(_ io.Reader, stdout io.Writer) { begin(stdout) },
	"hangs on close": func(_ io.Reader, stdout io.Writer) {
		w := begin(stdout)
		w.Sound(Sound{Samples: []float32{0}})
		hang()
	},
	"stops with a word": func(_ io.Reader, stdout io.Writer) {
		w := begin(stdout)
		w.Sound(Sound{Samples: []float32{0}})
		w.Word(Word{Code: WordFault, Text: "the microphone stopped: look to its cable; trying again"})
		hang() // letting go of the device hangs
	},
	"no input": func(_ io.Reader, stdout io.Writer) {
		w, _ := NewPipeWriter(stdout)
		w.Word(Word{Code: WordNoInput, Text: "no default input device"})
		os.Exit(1)
	},
	"never opens": func(io.Reader, io.Writer) { hang() },
	"garbage": func(_ io.Reader, stdout io.Writer) {
		begin(stdout)
		io.WriteString(stdout, strings.Repeat("noise ", 100))
	},
	"another version": func(_ io.Reader, stdout io.Writer) { io.WriteString(stdout, "RWSOUND\x02"+strings.Repeat("x", 99)) },
	"sound first": func(_ io.Reader, stdout io.Writer) {
		w, _ := NewPipeWriter(stdout)
		w.Sound(Sound{Samples: []float32{0}})
		hang()
	},
	"lists": func(_ io.Reader, stdout io.Writer) {
		io.WriteString(stdout, `[{"host":"ALSA","name":"hall pair","channels":2,"rate_hz":44100,"default":true}]`)
	},
	"tells its arguments": func(_ io.Reader, stdout io.Writer) {
		w, _ := NewPipeWriter(stdout)
		w.Word(Word{Code: WordFault, Text: strings.Join(os.Args[3:], " ")})
	},
}

// hang waits for what never comes, in a way the runtime does not call a
// deadlock.
func hang() {
	c := make(chan os.Signal, 1)
	signal.Notify(c, os.Interrupt)
	<-c
}

func begin(stdout io.Writer) *PipeWriter {
	w, err := NewPipeWriter(stdout)
	if err == nil {
		err = w.Hello(testHello)
	}
	if err != nil {
		panic(err)
	}
	return w
}

// speak sends blocks of 480 samples while more says so; 100 are lost before the
// second.
func speak(stdout io.Writer, more func() bool) {
	w := begin(stdout)
	s := Sound{Samples: make([]float32, 480)}
	for n := 0; more(); n++ {
		if s.Lost = 0; n == 1 {
			s.Lost = 100
		}
		s.Start += s.Lost
		for i := range s.Samples {
			s.Samples[i] = float32((s.Start+int64(i))%(1<<20)) / (1 << 20)
		}
		s.Entered = time.Unix(1e9, int64(n))
		if w.Sound(s) != nil {
			return
		}
		s.Start += 480
	}
}

func fakeOptions(name string) CaptureOptions {
	return CaptureOptions{
		Command: []string{os.Args[0], fakeChild, name},
		// Short where a fake hangs on purpose, and long enough for a machine
		// that is busy: only the fakes that hang are ever waited for.
		patience: patience{open: 20 * time.Second, quiet: 5 * time.Second, leave: 20 * time.Second, die: 20 * time.Second},
	}
}

// floods is a child that never leaves by itself.
func floods() CaptureOptions {
	o := fakeOptions("floods")
	o.patience.leave = 50 * time.Millisecond
	return o
}

func openFake(t *testing.T, o CaptureOptions) *Capture {
	t.Helper()
	c, err := OpenCapture(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func TestCaptureIsASource(t *testing.T) {
	sound := make([]float64, 480)
	for i := range sound {
		sound[i] = float64(i) / (1 << 20)
	}
	sourcetest.Run(t, func(t *testing.T) listen.Source { return openFake(t, fakeOptions("delivers")) }, sourcetest.Expectations{
		Name: "hall pair", Rate: 48000, Live: true, Samples: -1, Enough: 100 * 480, Lost: 100, Sound: sound,
	})
}

func TestCaptureTellsWhenTheSoundCame(t *testing.T) {
	c := openFake(t, fakeOptions("delivers"))
	for n := range 3 {
		b := nextSound(t, c)
		want := time.Unix(1e9, int64(n))
		if at, _ := c.Entered(); !at.Equal(want) {
			t.Errorf("block %d at sample %d: entered at %v, want %v", n, b.Start, at, want)
		}
	}
}

func nextSound(t *testing.T, c *Capture) analysis.Block {
	t.Helper()
	for {
		b, err := c.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if len(b.Samples) > 0 {
			return b
		}
	}
}

// Each trouble ends in an error with words a player can act on, within the
// patience given, and Close lets go of the child.
func TestCaptureTroubles(t *testing.T) {
	for _, c := range []struct {
		fake  string
		words string
	}{
		{"dies", "the microphone's driver failed (capture process: exit status 3): look to its cable; trying again"},
		{"panics", "the microphone's driver failed (capture process: exit status 2)"},
		{"leaves", "the capture process ended by itself"},
		{"stalls", `the microphone "hall pair" hangs: unplug it and plug it in again; trying again`},
		{"stops with a word", "the microphone stopped: look to its cable; trying again"},
		{"garbage", "capture process"},
	} {
		t.Run(c.fake, func(t *testing.T) {
			t.Parallel()
			o := fakeOptions(c.fake)
			o.patience.leave = 100 * time.Millisecond
			if c.fake == "stalls" {
				o.patience.quiet = 500 * time.Millisecond
			}
			s := openFake(t, o)
			var err error
			for err == nil {
				_, err = s.Next(t.Context())
			}
			if !strings.Contains(err.Error(), c.words) {
				t.Errorf("error %q, want %q", err, c.words)
			}
			if _, again := s.Next(t.Context()); again != err {
				t.Errorf("called again: error %v, want the same %v", again, err)
			}
			if err := s.Close(); err != nil {
				t.Errorf("Close: %v", err)
			}
			if _, err := s.Next(t.Context()); err != io.EOF {
				t.Errorf("after Close: error %v, want EOF", err)
			}
		})
	}
}

func TestOpenCaptureTroubles(t *testing.T) {
	for _, c := range []struct {
		fake  string
		words string
	}{
		{"no input", "no microphone found: plug one in"},
		{"never opens", "the sound system does not answer"},
		{"another version", "speaks another version"},
		{"sound first", "speaks another version"},
	} {
		t.Run(c.fake, func(t *testing.T) {
			t.Parallel()
			o := fakeOptions(c.fake)
			o.patience.leave = 50 * time.Millisecond
			if c.fake == "never opens" {
				o.patience.open = 300 * time.Millisecond
			}
			_, err := OpenCapture(t.Context(), o)
			if err == nil || !strings.Contains(err.Error(), c.words) {
				t.Errorf("error %v, want %q", err, c.words)
			}
			if got, want := errors.Is(err, ErrNoInput), c.fake == "no input"; got != want {
				t.Errorf("errors.Is(%v, ErrNoInput) = %v, want %v", err, got, want)
			}
		})
	}
	t.Run("no such program", func(t *testing.T) {
		if _, err := OpenCapture(t.Context(), CaptureOptions{Command: []string{"/nowhere/ringwell"}}); err == nil {
			t.Error("a program that is not there: no error")
		}
		if _, err := OpenCapture(t.Context(), CaptureOptions{}); err == nil {
			t.Error("no command: no error")
		}
	})
	t.Run("given up", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		o := fakeOptions("never opens")
		o.patience.leave = 50 * time.Millisecond
		if _, err := OpenCapture(ctx, o); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled: error %v, want context.Canceled", err)
		}
	})
}

// A device that opens but gives nothing for a while is no error: that is what
// beats are for.
func TestCaptureGivesEmptyBlocksWhileNothingComes(t *testing.T) {
	c := openFake(t, fakeOptions("beats"))
	for range 3 {
		if b, err := c.Next(t.Context()); err != nil || len(b.Samples) != 0 || b.Start != 0 {
			t.Fatalf("Next = %+v, %v; want an empty block at 0", b, err)
		}
	}
}

// Close's contract is three seconds with the usual patience, whatever the child
// does: the usual patience must add up to less, and each kind of child must be
// gone after Close.
func TestCaptureCloseEndsAnyChild(t *testing.T) {
	if p := (patience{}).orUsual(); p.leave+p.die > 2500*time.Millisecond {
		t.Errorf("Close may take %v, want at most 2.5 s of the 3 s allowed", p.leave+p.die)
	}
	for _, fake := range []string{"delivers", "floods", "hangs on close", "stalls"} {
		t.Run(fake, func(t *testing.T) {
			t.Parallel()
			o := fakeOptions(fake)
			o.patience = patience{} // the usual
			c := openFake(t, o)
			nextSound(t, c)
			if err := c.Close(); err != nil {
				t.Fatalf("Close: %v", err)
			}
			if c.child.cmd.ProcessState == nil {
				t.Error("Close returned and the child was not waited for")
			}
		})
	}
}

// A child that waits for room in the pipe can still leave in order, and so let
// go of the device before its process ends.
func TestCaptureCloseLetsTheChildLeave(t *testing.T) {
	c := openFake(t, fakeOptions("delivers"))
	nextSound(t, c)
	fill(t, c)
	if err := c.Close(); err != nil {
		t.Fatalf("Close: %v", err)
	}
	if s := c.child.cmd.ProcessState; !s.Success() {
		t.Errorf("the child ended with %v, want that it left by itself", s)
	}
}

// fill waits until the queue behind Next is full.
func fill(t *testing.T, c *Capture) {
	t.Helper()
	for len(c.child.records) < cap(c.child.records) {
		select {
		case <-c.child.ended:
			t.Fatal("the child ended")
		case <-time.After(time.Millisecond):
		}
	}
}

// While nobody asks for sound, the child stands still at a full pipe. That is
// no hang.
func TestCaptureIsNotHungWhileNobodyAsks(t *testing.T) {
	c := openFake(t, floods())
	nextSound(t, c)
	fill(t, c)
	c.quiet = c.patience.quiet - 1 // whatever was waited before
	if b := nextSound(t, c); b.Start == 0 {
		t.Errorf("went on at sample %d", b.Start)
	}
	if c.quiet != 0 {
		t.Errorf("waited %v since the last record, want 0", c.quiet)
	}
}

func TestCaptureNextAllocatesNothing(t *testing.T) {
	c := openFake(t, floods())
	nextSound(t, c)
	ctx := t.Context()
	// The goroutine that reads the pipe runs meanwhile and counts too.
	if n := testing.AllocsPerRun(500, func() { c.Next(ctx) }); n != 0 {
		t.Errorf("Next allocates %v times a block, want 0", n)
	}
}

func TestCaptureTellsTheChildWhatToCapture(t *testing.T) {
	o := fakeOptions("tells its arguments")
	o.Input, o.Channel, o.Rate, o.Latency = "hall -pair", 2, 44100, 100*time.Millisecond
	_, err := OpenCapture(t.Context(), o)
	if want := "--input=hall -pair --channel=2 --rate=44100 --latency=100ms"; err == nil || err.Error() != want {
		t.Errorf("the child was given %q, want %q", err, want)
	}
}

func TestReopenerKeepsToTheDevice(t *testing.T) {
	o := fakeOptions("delivers")
	open := Reopener(o)
	c, err := open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c, err = open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if want := "--input=hall pair"; !slices.Contains(c.child.cmd.Args, want) {
		t.Errorf("opened the second time with %q, want %q among it", c.child.cmd.Args, want)
	}
}

func TestCaptureHandsOnComplaints(t *testing.T) {
	var log bytes.Buffer
	o := fakeOptions("panics")
	o.Stderr = &log
	c := openFake(t, o)
	var err error
	for err == nil {
		_, err = c.Next(t.Context())
	}
	if !strings.Contains(log.String(), "in the callback") {
		t.Errorf("log has %q, want the panic's words", log.String())
	}
}

func TestListInputs(t *testing.T) {
	got, err := ListInputs(t.Context(), []string{os.Args[0], fakeChild, "lists"})
	want := []Input{{Host: "ALSA", Name: "hall pair", Channels: 2, Rate: 44100, Default: true}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("ListInputs = %v, %v; want %v", got, err, want)
	}
	for _, fake := range []string{"garbage", "panics"} {
		if got, err := ListInputs(t.Context(), []string{os.Args[0], fakeChild, fake}); err == nil {
			t.Errorf("a child with the trouble %q: got %v, want an error", fake, got)
		} else {
			fmt.Fprintln(t.Output(), err)
		}
	}
}
