// Package hearing says which pitch a listener names when an object is struck.
// It is pure: partials in, pitches out.
package hearing
