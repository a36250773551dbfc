package wav

import "encoding/binary"

// Note is the pitch a smpl chunk states: a MIDI key and the part of a semitone
// above it. Pitch 69.5 lies 50 cents above A4.
type Note struct {
	Key      int     // 0..127, 60 is middle C
	Fraction float64 // of a semitone upwards, 0 <= Fraction < 1
}

// Cue is a mark in the sound.
type Cue struct {
	ID    uint32
	Frame int64 // frames from the start of the sound
}

// maxMeta is how much of a smpl or cue chunk is looked at: 2700 cue points.
const maxMeta = 1 << 16

// parseSmpl reads the body of a smpl chunk: manufacturer, product, sample
// period, MIDI unity note, MIDI pitch fraction (of 2^32), and loops, which say
// nothing here. It returns nil if there is no pitch in it.
func parseSmpl(b []byte) *Note {
	if len(b) < 20 {
		return nil
	}
	key := binary.LittleEndian.Uint32(b[12:])
	if key > 127 {
		return nil
	}
	return &Note{
		Key:      int(key),
		Fraction: float64(binary.LittleEndian.Uint32(b[16:])) / (1 << 32),
	}
}

// parseCues reads the body of a cue chunk: a count, then for each point name,
// play order, chunk name, chunk start, block start and frame, 4 bytes each.
func parseCues(b []byte) []Cue {
	if len(b) < 4 {
		return nil
	}
	count := binary.LittleEndian.Uint32(b)
	var cues []Cue
	for p := b[4:]; len(p) >= 24 && uint32(len(cues)) < count; p = p[24:] {
		if string(p[8:12]) == "data" {
			cues = append(cues, Cue{
				ID:    binary.LittleEndian.Uint32(p),
				Frame: int64(binary.LittleEndian.Uint32(p[20:])),
			})
		}
	}
	return cues
}
