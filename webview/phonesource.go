package webview

import (
	"context"
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// phoneQueue is how many frames wait for the ear, and phoneIdle how long Next
// waits for one. With frames of 20 ms the queue holds five seconds: a Wi-Fi
// that holds its breath loses nothing.
const (
	phoneQueue = 256
	phoneIdle  = 50 * time.Millisecond
)

// PhoneSource is the sound of a browser that lends its microphone, from when
// it became the ear to when its link is lost. Frames that come in bursts wait
// in a queue; sound that never came, or came while the queue was full, is told
// as Block.Lost by the sample clock.
type PhoneSource struct {
	name string
	rate analysis.Rate

	full, free chan phonePiece
	lost       chan struct{} // closed: the link is gone
	stop       chan struct{} // closed: the ear has let go
	letGo      func()
	dropped    atomic.Int64 // frames for which the queue had no room

	// Next's own.
	begun bool
	first uint64 // sample clock of the phone at our sample 0
	next  int64
	held  phonePiece
	timer *time.Timer
}

var _ listen.Source = (*PhoneSource)(nil)

type phonePiece struct {
	samples []float64 // frameSamples long
	n       int
	clock   uint64
}

func newPhoneSource(name string, rate analysis.Rate, letGo func()) *PhoneSource {
	s := &PhoneSource{
		name: name, rate: rate, letGo: letGo,
		full: make(chan phonePiece, phoneQueue), free: make(chan phonePiece, phoneQueue),
		lost: make(chan struct{}), stop: make(chan struct{}),
	}
	for range phoneQueue {
		s.free <- phonePiece{samples: make([]float64, frameSamples)}
	}
	return s
}

// put takes a frame without waiting. Its clock must lie behind those before.
// An error is a frame that holds no sound.
func (s *PhoneSource) put(f pcmFrame) error {
	select {
	case p := <-s.free:
		if err := f.decode(p.samples[:f.count]); err != nil {
			s.free <- p
			return err
		}
		p.n, p.clock = f.count, f.clock
		s.full <- p // there are no more pieces than there is room for
	default:
		s.dropped.Add(1)
	}
	return nil
}

// Name is what the phone is called.
func (s *PhoneSource) Name() string { return s.name }

// Rate is the phone's own.
func (s *PhoneSource) Rate() analysis.Rate { return s.rate }

// Live is true.
func (s *PhoneSource) Live() bool { return true }

// Next returns the next frame.
func (s *PhoneSource) Next(ctx context.Context) (analysis.Block, error) {
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	select {
	case <-s.stop:
		return analysis.Block{}, io.EOF
	default:
	}
	if s.held.samples != nil {
		s.free <- s.held
		s.held = phonePiece{}
	}
	select {
	case p := <-s.full:
		return s.block(p), nil
	default:
	}
	if s.timer == nil {
		s.timer = time.NewTimer(phoneIdle)
	} else {
		s.timer.Reset(phoneIdle)
	}
	defer s.timer.Stop()
	select {
	case p := <-s.full:
		return s.block(p), nil
	case <-s.lost:
		select {
		case p := <-s.full: // what had come before the link was lost
			return s.block(p), nil
		default:
		}
		return analysis.Block{}, fmt.Errorf("the link to %s is lost", s.name)
	case <-s.timer.C:
		return analysis.Block{Start: s.next}, nil
	case <-s.stop:
		return analysis.Block{}, io.EOF
	case <-ctx.Done():
		return analysis.Block{}, ctx.Err()
	}
}

func (s *PhoneSource) block(p phonePiece) analysis.Block {
	s.held = p
	if !s.begun {
		s.begun, s.first = true, p.clock
	}
	start := int64(p.clock - s.first)
	b := analysis.Block{Start: start, Lost: start - s.next, Samples: p.samples[:p.n]}
	s.next = start + int64(p.n)
	return b
}

// Close lets the phone go; it may be asked for again.
func (s *PhoneSource) Close() error {
	select {
	case <-s.stop:
	default:
		close(s.stop)
		s.letGo()
	}
	return nil
}
