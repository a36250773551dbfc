package webview

import (
	"context"
	"time"
)

// reopening ticks whenever a shelf that cannot be written is to be tried again;
// nil where that is of no use.
func (s *Server) reopening() (tick <-chan time.Time, done func()) {
	if s.shelf.Reopen == nil {
		return nil, func() {}
	}
	if _, err := s.writer(); err == nil {
		return nil, func() {}
	}
	t := time.NewTicker(s.shelf.reopen)
	return t.C, t.Stop
}

// reopen tries to open the shelf to write. From then on it is read through what
// was opened: how it was read before may not see what is written now.
func (s *Server) reopen(ctx context.Context) bool {
	shelf, err := s.shelf.Reopen(ctx)
	if err != nil {
		return false // the notice says what is to be done
	}
	s.mu.Lock()
	s.shelf.Write, s.shelf.Read = shelf, &shelf.Reader
	f := &s.shelf.form
	f.Open, f.Writable, f.Notice = true, true, nil
	s.mu.Unlock()
	s.shelf.known.forget()
	s.shelfChanged(ctx)
	return true
}
