// Package match holds partials against partials: which voice of a shelf a
// strike is (Recogniser), which voices are most alike (Apart) or beat with each
// other (Pairs), by how much two strikes differ (Compare, Look), whether a voice
// still sounds as it did (Examine), and how a group stands that is called over
// (CallOver). It is pure: figures in, figures and their reasons out.
//
// Two sets of partials are brought together by the best monotone alignment, by
// dynamic programming over the two in order of frequency: S.B. Needleman &
// C.D. Wunsch, J. Mol. Biol. 48 (1970) 443-453. What an alignment is worth is
// a log likelihood; whether the evidence is enough is a ratio of posteriors:
// R.E. Kass & A.E. Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795. Health rests
// on the prediction interval of one further observation, Student's t: A.
// Gelman et al., Bayesian Data Analysis (2013), section 3.2. All from memory,
// unchecked.
package match
