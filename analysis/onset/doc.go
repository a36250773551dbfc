// Package onset finds the moments at which something is struck.
//
// A strike is a sudden rise, above what sounded a moment before, in several
// bands at once: the log energies of twenty bands are compared with their own
// maxima 11 to 35 ms earlier. The maximum rather than the mean, and a floor in
// both terms, keep a beating ring and a steady noise from looking like one.
// The threshold follows the unrest of the last second and a half. The moment
// is then found to the sample where the residual of a short linear predictor,
// learned just before, first jumps.
//
// The idea of band-wise log-energy differences is common to the literature on
// onsets: Bello et al., "A tutorial on onset detection in music signals",
// IEEE Trans. Speech Audio Proc. 13(5), 2005, section III; the maximum over
// the recent past is that of Böck & Widmer, "Maximum filter vibrato suppression
// for onset detection", DAFx 2013 (there over frequency). Both from memory,
// unchecked. The constants were tuned by us on recordings and synthetic takes;
// each says so where it stands.
package onset
