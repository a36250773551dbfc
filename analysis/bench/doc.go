// Package bench says how much water brings a vessel to a note, how far it will
// get and how sure that is, and follows the sounds while it is poured.
//
// There are two waters, and they pull opposite ways. In a vessel that is Struck
// the wall must move the water with it: water lowers it, by the depth to a power
// that is 4 to 6 in straight glasses (package wall; the published fourth-power
// law overstates a half-full one). In one that is Blown the air sounds: water
// leaves less of it, and raises the pitch (package cavity). A Job says which is
// meant; Told hears which was done.
//
// What is fitted is the period squared, t, over that of the first entry: water
// adds to it in a straight line in the air, and by a power in the wall. t is a
// Gaussian process whose mean is that law, whose departure from it is a small
// and smooth share of it, and whose noise is the scatter from strike to strike,
// the rounding of typed numbers and the errors of pouring, which stay in the
// vessel for every fill after (gauss.go, struck.go, blown.go). What the law has
// that is not linear is summed over on a grid. So an interval widens where
// nothing was heard, and more the farther from it: that is what extrapolation
// costs. Rasmussen and Williams, Gaussian Processes for Machine Learning, ch. 2,
// from memory, unchecked.
//
// It does not know: a vessel that is touched or stands differently from one
// strike to the next, water that runs up a wall, bubbles, and a beater that
// wakes another mode. Each looks like scatter; Doubt tells when the pitch goes
// the wrong way.
package bench
