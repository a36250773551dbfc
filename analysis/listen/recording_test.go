package listen

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
	"time"

	"ringwell/analysis"
)

// recording is a mono 16-bit WAV file of testdata, read without package audio,
// which nothing under analysis may import.
type recording struct {
	rate analysis.Rate
	x    []float64
}

const lsb16 = 1.0 / 32768

func openRecording(t testing.TB, name ...string) recording {
	t.Helper()
	file := filepath.Join(append([]string{"..", "..", "testdata"}, name...)...)
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	r := recording{}
	for at := 12; at+8 <= len(raw); {
		size := int(binary.LittleEndian.Uint32(raw[at+4:]))
		body := raw[at+8 : min(at+8+size, len(raw))]
		switch string(raw[at : at+4]) {
		case "fmt ":
			channels, bits := binary.LittleEndian.Uint16(body[2:]), binary.LittleEndian.Uint16(body[14:])
			if channels != 1 || bits != 16 {
				t.Fatalf("%s: got %d channels of %d bits, wanted 1 of 16", file, channels, bits)
			}
			r.rate = analysis.Rate(binary.LittleEndian.Uint32(body[4:]))
		case "data":
			for i := 0; i+1 < len(body); i += 2 {
				r.x = append(r.x, float64(int16(binary.LittleEndian.Uint16(body[i:])))*lsb16)
			}
		}
		at += 8 + size + size%2
	}
	if r.rate == 0 || len(r.x) == 0 {
		t.Fatalf("%s: no sound in it", file)
	}
	return r
}

// epoch is the UTC of sample 0 in tests.
var epoch = time.Date(2024, 5, 17, 19, 30, 0, 0, time.UTC)

// hearAll runs an ear over x in blocks of a length and returns all tellings.
func hearAll(rate analysis.Rate, x []float64, block int, o Options) []analysis.Strike {
	if o.Epoch.IsZero() {
		o.Epoch = epoch
	}
	e := New(rate, o)
	var all []analysis.Strike
	for at := 0; at < len(x); at += block {
		b := analysis.Block{Start: int64(at), Samples: x[at:min(at+block, len(x))]}
		all = append(all, e.Step(b)...)
	}
	return append(all, e.Flush()...)
}

// lastOnes returns the last telling of each strike, in order of the first.
func lastOnes(all []analysis.Strike) []analysis.Strike {
	var last []analysis.Strike
	index := map[string]int{}
	for _, s := range all {
		if i, ok := index[s.ID]; ok {
			last[i] = s
			continue
		}
		index[s.ID] = len(last)
		last = append(last, s)
	}
	return last
}

// recordingNames lists directory and file of the recordings in testdata.
func recordingNames(t testing.TB) (names [][2]string) {
	t.Helper()
	for _, dir := range []string{"strikes-exact", "strikes"} {
		files, err := filepath.Glob(filepath.Join("..", "..", "testdata", dir, "*.wav"))
		if err != nil || len(files) == 0 {
			t.Fatalf("no recordings in testdata/%s", dir)
		}
		for _, f := range files {
			names = append(names, [2]string{dir, filepath.Base(f)})
		}
	}
	return names
}
