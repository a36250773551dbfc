// Package pitch follows the pitch of sounds that repeat themselves: blown,
// bowed, rubbed. Tracker finds the period hop by hop; Fitter turns a period
// found into a frequency with a standard deviation. A struck bar, bowl or bell
// has no common period: package partial resolves those.
//
// Source: A. de Cheveigné & H. Kawahara, "YIN, a fundamental frequency
// estimator for speech and music", J. Acoust. Soc. Am. 111 (2002) 1917-1930;
// steps and equations in the comments are numbered as there.
package pitch
