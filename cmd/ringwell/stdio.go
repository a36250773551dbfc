package main

import (
	"io"
	"os"
	"sync"

	"github.com/mattn/go-isatty"
)

// stdio is where the program reads and writes: strikes and answers go to out,
// the log and complaints to err.
type stdio struct {
	in       io.Reader
	out, err io.Writer
}

// heeded is standard output that remembers what first went wrong with it. Most
// commands print line by line and do not ask; a full disk must not look like an
// answer that was written whole.
type heeded struct {
	to io.Writer

	mu    sync.Mutex
	fault error
}

func (h *heeded) Write(p []byte) (int, error) {
	n, err := h.to.Write(p)
	if err != nil {
		h.mu.Lock()
		defer h.mu.Unlock()
		if h.fault == nil {
			h.fault = err
		}
	}
	return n, err
}

// lost returns the first error of writing, or nil.
func (h *heeded) lost() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.fault
}

// terminal reports whether w is a terminal, that is, is read by eyes and kept
// nowhere.
func terminal(w io.Writer) bool {
	if h, ok := w.(*heeded); ok {
		w = h.to
	}
	f, ok := w.(*os.File)
	return ok && isatty.IsTerminal(f.Fd())
}
