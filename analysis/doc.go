// Package analysis holds the words every other package of ringwell speaks in:
// quantities with a unit (Rate, Hz, Cents), the Block of samples that comes
// from a source, and the Strike that is made of it, with its Partials and its
// Pitch. It imports nothing of ours and computes only what a conversion needs.
package analysis
