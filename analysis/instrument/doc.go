// Package instrument knows the notes of the fixed-pitch instruments of the
// trade, and where a heard frequency lands among them.
//
// A note is a label, a MIDI key number and any number of target frequencies:
// one by default, none or several for a prepared string. Built-in instruments
// stand in twelve-tone equal temperament on a reference pitch for A4; a real
// instrument is better measured than assumed, because bars are often stretched
// and drift with heat and age, so a CSV of measured frequencies or of offsets
// can stand in for any of it (see FromCSV).
//
// Sources:
//
//   - MIDI note numbers and f(n) = A·2^((n−69)/12), note 60 = middle C = C4:
//     MIDI 1.0, MIDI Association, public text.
//   - A4 = 440 Hz: ISO 16:1975, Standard tuning frequency. From memory,
//     unchecked.
//   - Ranges and transpositions: each row of the table in table.go says where
//     it comes from. Handbooks and makers disagree at the ends; what stands
//     on the stage decides, and a CSV says it.
package instrument
