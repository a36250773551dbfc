// Package mic is the only one that touches PortAudio. It runs in a process of
// its own, the capture child, which audio.OpenCapture starts: host libraries
// hang when a sound server is frozen, and some abort the whole process when
// one dies.
//
// The way of a sample: host thread, callback (feed.take), audio.Ring, pump,
// standard output. One goroutine, locked to its thread, makes every call to
// PortAudio; the callback copies and counts and does nothing else.
//
// The callback interface is used and not blocking reads: a read can wait for
// ever, stopping a stream while a read waits can crash the process, and some
// hosts lose sound between reads without a word.
//
// Without cgo the package still builds; its functions then say that this
// ringwell has no PortAudio.
package mic
