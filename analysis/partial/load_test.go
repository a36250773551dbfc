package partial

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
)

// load reads a mono 16-bit WAV of testdata, full scale 1, and its rate.
func load(t *testing.T, dir, file string) (x []float64, rate float64) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", dir, file))
	if err != nil {
		t.Fatal(err)
	}
	for at := 12; at+8 <= len(b); {
		size := int(binary.LittleEndian.Uint32(b[at+4:]))
		body := b[at+8 : min(at+8+size, len(b))]
		switch string(b[at : at+4]) {
		case "fmt ":
			if c, bits := binary.LittleEndian.Uint16(body[2:]), binary.LittleEndian.Uint16(body[14:]); c != 1 || bits != 16 {
				t.Fatalf("%s: got %d channels of %d bits, want 1 of 16", file, c, bits)
			}
			rate = float64(binary.LittleEndian.Uint32(body[4:]))
		case "data":
			x = make([]float64, len(body)/2)
			for i := range x {
				x[i] = float64(int16(binary.LittleEndian.Uint16(body[2*i:]))) / 32768
			}
		}
		at += 8 + size + size%2
	}
	return x, rate
}
