package listen

import (
	"sync/atomic"

	"ringwell/analysis"
)

// Controls is what people may change while an Ear is at work. Any goroutine
// may use it; the zero value is an open ear and an unknown kind.
type Controls struct {
	muted atomic.Bool
	kind  atomic.Value // of analysis.Kind
}

// Mute shuts the ear, or opens it again: while a target tone sounds, say.
func (c *Controls) Mute(muted bool) { c.muted.Store(muted) }

// Muted reports whether the ear is shut.
func (c *Controls) Muted() bool { return c.muted.Load() }

// SetKind says what is in the player's hand.
func (c *Controls) SetKind(k analysis.Kind) { c.kind.Store(k) }

// Kind returns what is in the player's hand.
func (c *Controls) Kind() analysis.Kind {
	if k, ok := c.kind.Load().(analysis.Kind); ok && k != "" {
		return k
	}
	return analysis.Unknown
}
