// Package drift tells what temperature does to a voice: cents a degree with an
// interval, from strikes against a thermometer, and where that leaves each voice
// against an instrument on a stage of another temperature.
//
// Cents against degrees is a straight line with scatter, now and then a reading
// that is plainly wrong (another beater, another place, a draught), and a lag:
// the thermometer is in the air, and a brake drum follows it an hour later. So
// the line is fitted to the temperature the object itself had,
//
//	dθ/dt = (air − θ)/τ
//
// for a ladder of τ, with errors that have the tails of Student's t with
// errorDegrees degrees of freedom (Lange, Little and Taylor, Robust statistical
// modeling using the t distribution, J. Am. Stat. Assoc. 84, 881 (1989), from
// memory, unchecked), by iterated weights. The lags are then weighed by how well
// each explains the readings, so that an unknown lag widens the interval.
//
// It needs readings at two temperatures at least. It does not know moisture,
// sun on one side, or a support that slips: it names moisture where wood moved
// more than its temperature can. What physics expects of the material (package
// material) is held beside the result and never mixed into it.
package drift
