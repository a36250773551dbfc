package main

import (
	"context"
	"sync"

	"ringwell/webview"
)

// ear runs attend on one source after another: choosing a source ends the
// one before.
type ear struct {
	attend func(context.Context, webview.Source) // returns once ctx ends or the source is over

	mu      sync.Mutex
	parent  context.Context
	cancel  context.CancelFunc
	done    chan struct{}
	stopped bool
}

func newEar(parent context.Context, attend func(context.Context, webview.Source)) *ear {
	return &ear{parent: parent, attend: attend}
}

// choose lets go of the present source, which takes up to three seconds, and
// starts on another.
func (e *ear) choose(to webview.Source) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.end()
	if e.stopped {
		return nil
	}
	ctx, cancel := context.WithCancel(e.parent)
	done := make(chan struct{})
	e.cancel, e.done = cancel, done
	go func() {
		defer close(done)
		e.attend(ctx, to)
	}()
	return nil
}

// stop lets go of the source for good.
func (e *ear) stop() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.stopped = true
	e.end()
}

func (e *ear) end() {
	if e.cancel != nil {
		e.cancel()
		<-e.done
		e.cancel = nil
	}
}
