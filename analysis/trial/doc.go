// Package trial plays the bench against vessels and days whose truth is known:
// seeded players who pour with the errors of scale, syringe and eye, and
// seeded days of temperature with lag and outliers. The vessels follow other
// models than the ones that are fitted: glasses by potential flow, tapers and
// bowls by strips of added mass, bottles by plane waves through many short
// pipes with a neck, a shoulder and a body.
//
// The same seed gives the same figures on any machine.
package trial
