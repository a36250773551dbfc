// Package wav reads and writes WAV sound: PCM of 8, 16, 24 and 32 bits, IEEE
// float of 32 and 64 bits, plain or WAVE_FORMAT_EXTENSIBLE, in RIFF files and
// in the 64-bit RF64 and BW64 forms, with the pitch of a smpl chunk and the
// marks of a cue chunk. It uses the standard library only.
//
// Reading trusts no number in the file. A chunk's size is an upper bound, never
// the size of an allocation: what is not there is not waited for. Writers that
// cannot go back to fill in a size leave 0 or a huge one; then sound goes on to
// the end of the file. Samples that are not finite, or beyond ±1e9 (nothing
// records that; their squares would not be finite for long), read as 0 and are
// counted.
//
// Errors are short sentences about the file, made to stand after its name.
//
// Sources:
//   - IBM and Microsoft, Multimedia Programming Interface and Data
//     Specifications 1.0, 1991, chapter 3: RIFF, WAVE, fmt, data, cue.
//   - Microsoft, Multiple Channel Audio Data and WAVE Files, 2001:
//     WAVE_FORMAT_EXTENSIBLE, valid bits, the subformat GUIDs.
//   - Microsoft, New Multimedia Data Types and Data Techniques 3.0, 1994: the
//     smpl chunk and the rule that formats other than PCM carry a fact chunk.
//   - EBU Tech 3306, RF64: An extended file format for audio data, 2009, and
//     ITU-R BS.2088 (BW64): ds64.
//
// All of these from memory, unchecked; sox, an independent program, reads what
// this package writes and the other way round (see the tests).
package wav
