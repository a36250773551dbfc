//go:build !cgo

package mic

import "ringwell/audio"

const without = "this ringwell was built without PortAudio, so it has no microphone: build it with cgo, or give it a recording or sound on standard input"

func hold(Options, chan<- running, <-chan struct{}) error {
	return faultf(without)
}

func inputs(bool) ([]audio.Input, error) { return nil, faultf(without) }
