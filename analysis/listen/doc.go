// Package listen turns a stream of blocks into strikes.
//
// Ear is the machine: blocks in, tellings out. It cuts whatever blocks it gets
// into hops of its own, so that the same sound gives the same strikes however
// it is cut. Each strike found by package onset is read by package partial in
// windows that grow from 19 ms on, named by package hearing, and told again
// each time the answer improves, under the stages of analysis.Stage. Attend
// runs an Ear over a Source for an Audience.
//
// # When a strike is told
//
// Early: at the first window, 19 ms, if the reading is a clear note that explains
// nearly all of the sound; else as soon as two windows in a row name the same
// pitch, while most of the sound is explained; from 80 ms on even if they do
// not, with the other pitch as Second.
//
// Settled: two windows in a row agree within three of their standard
// deviations, and the pitch is known to within a cent or a quarter of the ring
// has been heard.
//
// Once the whole T60 of the partial heard has passed, a settled answer stays as
// it is: what a longer window would add is the room.
//
// Final: the ring has sunk into the room or by 60 dB, the next strike or a hand
// cut it off, four seconds are over, or the sound ended. A thing without a
// pitch is told once, as final, with Heard nil.
//
// A sound that breaks off in one sample, as a recording does that is cut short,
// ends the strike there: the step at its end is no onset.
//
// Withdrawn: it was told as a note and two windows in a row, the second 160 ms
// long or longer, say it is none.
//
// What rests on little sound must prove more: cut off within 0.16 s (0.3 s where
// most of the last events had no pitch, amid talk or rattling) a strike counts as
// a note only if its ring is seen to fall and its pitch is clear. So does what
// sounds from the first sample of a stream on, where no attack was heard.
//
// A tone that is blown, bowed or rubbed has no ring to be modelled: what repeats
// itself for a quarter of a second without falling is told by its period
// (package pitch), again each time it has lasted twice as long, up to six
// seconds.
//
// Four strokes and more, each at most 115 ms after the one before, are a roll:
// one strike, told early with its rate each time it has twice as many strokes,
// and after the last stroke read like any other, by the ring of that. Until it
// is known whether a second and third stroke belong to one they wait.
//
// What is struck while something rings is compared with it, partial by partial:
// a remark of the final telling says whether it is the same thing again or
// another beside it, where that is at least 95 % likely.
//
// Two things struck 6 to 24 ms apart are one strike with the partials of both; a
// remark of the final telling says so where what came later is seen to be absent
// before, and Heard and Second are then the pitch of each. Closer together they
// are not told from one thing with all those partials.
//
// A pitch never moves by more than half a semitone from one telling to the
// next without the one left behind being told as Second: the answer is
// undecided then, and the stage is early again.
package listen
