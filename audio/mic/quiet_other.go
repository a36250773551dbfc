//go:build cgo && !linux

package mic

// quiet does nothing: only ALSA and JACK are noisy.
func quiet() {}
