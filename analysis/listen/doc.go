// Package listen turns a stream of blocks into strikes.
//
// Ear is the machine: blocks in, tellings out. It cuts whatever blocks it gets
// into hops of its own, so that the same sound gives the same strikes however
// it is cut. Each strike found by package onset is read by package partial in
// windows that grow from 20 ms on, named by package hearing, and told again
// each time the answer improves, under the stages of analysis.Stage. Attend
// runs an Ear over a Source for an Audience.
//
// # When a strike is told
//
// Early: as soon as the reading is a note and two windows in a row name the
// same pitch, while most of the sound is explained; from 80 ms on even if they
// do not, with the other pitch as Second.
//
// Settled: two windows in a row agree within three of their standard
// deviations, and the pitch is known to within a cent or a quarter of the ring
// has been heard.
//
// Final: the ring has sunk into the room or by 60 dB, the next strike or a hand
// cut it off, four seconds are over, or the sound ended. A thing without a
// pitch is told once, as final, with Heard nil.
//
// Withdrawn: it was told as a note and two windows in a row, the second 160 ms
// long or longer, say it is none.
//
// A pitch never moves by more than half a semitone from one telling to the
// next without the one left behind being told as Second: the answer is
// undecided then, and the stage is early again.
package listen
