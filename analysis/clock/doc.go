// Package clock measures how far an input's sample clock is off, against a
// tone whose frequency is known.
//
// The tone is turned to 0 Hz with the frequency it should have and averaged
// over short, windowed frames; the phase of what is left climbs at the rate
// by which the two differ. A straight line through that phase is the maximum
// likelihood estimate of the difference for a long record (Tretter, Estimating
// the frequency of a noisy sinusoid by linear regression, IEEE Trans. Inf.
// Theory 31, 1985; from memory, unchecked), and its scatter around the line
// gives the standard deviation, whatever the noise is.
package clock
