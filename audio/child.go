package audio

import (
	"errors"
	"fmt"
	"io"
	"os/exec"
	"sync"
	"time"
)

// queued is how many records wait between the pipe and Next: with the pipe's
// own 64 kB about half a second at 48 kHz, after which the child keeps the
// sound in its ring and then counts what it loses.
const queued = 4

// child is a running capture process and the goroutine that reads its pipe.
type child struct {
	cmd     *exec.Cmd
	stdin   io.Closer
	records chan record // closed when the child is gone
	free    chan *Sound
	quit    chan struct{} // closed by end: nobody takes records any more
	ended   chan struct{} // closed once the process was waited for
	once    sync.Once

	// Written before records is closed, read after.
	word   *Word
	broken error // what the pipe said
	status error // how the process ended
}

// record is one of: hello, sound, or (both nil) a beat.
type record struct {
	hello *Hello
	sound *Sound
}

func startChild(cmd *exec.Cmd) (*child, error) {
	// The child ends when its standard input does: a portable request to stop,
	// and what happens by itself when the daemon dies.
	stdin, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	cmd.WaitDelay = time.Second // a grandchild may hold standard error open
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	c := &child{
		cmd: cmd, stdin: stdin,
		records: make(chan record, queued),
		free:    make(chan *Sound, queued+2),
		quit:    make(chan struct{}),
		ended:   make(chan struct{}),
	}
	for range cap(c.free) {
		c.free <- &Sound{Samples: make([]float32, MaxRecord)}
	}
	go c.run(stdout)
	return c, nil
}

// run reads the pipe to its end and waits for the process.
func (c *child) run(stdout io.Reader) {
	c.broken = c.read(stdout)
	select {
	case <-c.quit:
		// A child that waits for room in the pipe could not leave.
		io.Copy(io.Discard, stdout)
	default:
	}
	if c.word != nil { // all is said; how long it takes to leave is Close's matter
		close(c.records)
		c.cmd.Wait()
		close(c.ended)
		return
	}
	select {
	case <-c.quit:
	default:
		c.settle()
	}
	c.status = c.cmd.Wait()
	close(c.ended)
	close(c.records)
}

// settle lets a child whose pipe broke end by itself, so that its exit status
// tells why, and kills it if it does not.
func (c *child) settle() {
	t := time.AfterFunc(200*time.Millisecond, c.kill)
	go func() { <-c.ended; t.Stop() }()
}

func (c *child) read(stdout io.Reader) error {
	p, err := NewPipeReader(stdout)
	if err != nil {
		return err
	}
	var s *Sound
	for {
		if s == nil {
			select {
			case s = <-c.free:
			case <-c.quit:
				return nil
			}
		}
		got, err := p.Next(s)
		if err != nil {
			return err
		}
		var r record
		switch got := got.(type) {
		case Word:
			c.word = &got
			return nil
		case Hello:
			r.hello = &got
		case *Sound:
			r.sound, s = got, nil
		}
		select {
		case c.records <- r:
		case <-c.quit:
			return nil
		}
	}
}

// why says in plain words why the child is gone. Call it after records closed.
func (c *child) why() error {
	switch {
	case c.word != nil && c.word.Code == WordNoInput:
		return fmt.Errorf("%w: %s", ErrNoInput, noInputWords)
	case c.word != nil:
		return errors.New(c.word.Text)
	case errors.Is(c.broken, errOtherVersion):
		return errOtherVersion
	case c.status != nil:
		return fmt.Errorf("the microphone's driver failed (capture process: %w): look to its cable; trying again", c.status)
	default:
		return errors.New("the capture process ended by itself: look to the microphone's cable; trying again")
	}
}

func (c *child) kill() { c.cmd.Process.Kill() }

// end asks the child to leave, kills it if it stays, and returns within
// p.leave + p.die.
func (c *child) end(p patience) error {
	c.once.Do(func() {
		close(c.quit)
		c.stdin.Close()
	})
	if c.gone(p.leave) {
		return nil
	}
	c.kill()
	if c.gone(p.die) {
		return nil
	}
	return errors.New("the capture process cannot be ended: its driver hangs in the system; unplug the microphone")
}

func (c *child) gone(within time.Duration) bool {
	t := time.NewTimer(within)
	defer t.Stop()
	select {
	case <-c.ended:
		return true
	case <-t.C:
		return false
	}
}
