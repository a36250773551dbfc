// Package accuracy measures the ear against exact truth: it makes strikes from
// formulas, adds one of six backgrounds, has them read, and prints one table
// of errors against the Cramér-Rao bound, of partials missed and invented, of
// pairs told apart, of how true the uncertainties are, and of what is refused;
// then it has whole takes heard by a whole ear (package listen), as sound comes
// in from a microphone: which strikes are found and when, what pitch is heard,
// how soon, and what is told where there is nothing. The last table holds what
// is aimed at against what was reached.
//
// The same seed gives the same table on any machine and any number of cores.
// The distributions (fixed, so that tables of different days compare):
// frequencies 100 to 6000 Hz, log-uniform; 1 to 20 partials; T60 0.05 to 4 s;
// near pairs 0.3 to 8 Hz apart and 0 to 15 dB unequal; a click of 2 to 5 ms at
// half the amplitude of the strongest partial.
package accuracy
