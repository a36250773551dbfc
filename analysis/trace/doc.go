// Package trace follows one partial through its ring, sample by sample, and
// says whether it moved: a glide (a bell lowered into water) or a wobble (a
// bowl that is rocked or swirled). A sum of damped waves, which is what package
// partial fits, is the wrong model for both.
//
// The partial is followed in short windows by the reassigned frequency, which
// is exact for a wave that glides evenly (Auger and Flandrin, IEEE Trans. Signal
// Processing 43 (1995) 1068). The sound is then turned back along that path and
// low-passed, and what phase is left over is added to it: the path becomes as
// exact as the noise allows, and free of the windows' own smoothing.
package trace
