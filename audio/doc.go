// Package audio holds the places sound comes from: recordings, a pipe on
// standard input, the built-in demo scene, and the supervisor of the child
// process that owns the sound card. Each is a listen.Source. The package needs
// no C: the one part that touches PortAudio is audio/mic.
package audio
