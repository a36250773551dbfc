package listen

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"testing"

	"ringwell/analysis"
)

// TestElsewhere: real recordings that Debian packages hold under a licence that
// keeps them out of this repository. testdata/strikes/README.md tells of them;
// each skips itself where its package is not installed.
func TestElsewhere(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/strikes/elsewhere.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []struct {
		ID        string  `json:"id"`
		Source    string  `json:"source"`
		Heard     float64 `json:"heard_hz"`
		Tolerance float64 `json:"tolerance_cents"`
		Format    string  `json:"format"`
		Path      string  `json:"path"`
		Sample    int     `json:"sample"`
		Use       int     `json:"use"`
	}
	if err := json.Unmarshal(raw, &list); err != nil {
		t.Fatal(err)
	}
	for _, w := range list {
		t.Run(w.ID, func(t *testing.T) {
			b, err := os.ReadFile(w.Path)
			if errors.Is(err, fs.ErrNotExist) {
				t.Skipf("%s: the Debian package is not installed", w.Source)
			}
			if err != nil {
				t.Fatal(err)
			}
			var x []float64
			var rate analysis.Rate
			if w.Format == "wav" {
				x, rate, err = firstChannel(b)
			} else {
				x, rate, err = patchSample(b, w.Sample)
			}
			if err != nil {
				t.Fatalf("%s: %v", w.Path, err)
			}
			if w.Use > 0 {
				x = x[:w.Use]
			}
			var heard []*analysis.Pitch
			for _, s := range lastOnes(hearAll(rate, x, 480, Options{LSB: lsb16})) {
				if s.Heard != nil && s.Stage != analysis.Withdrawn {
					heard = append(heard, s.Heard)
				}
			}
			if len(heard) != 1 {
				t.Fatalf("got %d pitched strikes, wanted 1 of %.2f Hz", len(heard), w.Heard)
			}
			if off := math.Abs(float64(heard[0].Frequency.Above(analysis.Hz(w.Heard)))); off > w.Tolerance {
				t.Errorf("heard: got %.2f Hz ± %.2f cents (likelihood %.2f), wanted %.2f Hz within %g cents", heard[0].Frequency, heard[0].Sigma, heard[0].Likelihood, w.Heard, w.Tolerance)
			}
		})
	}
}

// firstChannel reads 16 or 24-bit PCM from a WAV file, full scale 1.
func firstChannel(b []byte) (x []float64, rate analysis.Rate, err error) {
	le := binary.LittleEndian
	frame, bytes := 0, 0
	for at := 12; at+8 <= len(b); {
		size := int(le.Uint32(b[at+4:]))
		body := b[at+8 : min(at+8+size, len(b))]
		switch string(b[at : at+4]) {
		case "fmt ":
			rate = analysis.Rate(le.Uint32(body[4:]))
			frame, bytes = int(le.Uint16(body[12:])), int(le.Uint16(body[14:]))/8
		case "data":
			if bytes != 2 && bytes != 3 {
				return nil, 0, fmt.Errorf("%d bytes a sample, wanted 2 or 3", bytes)
			}
			for i := 0; i+frame <= len(body); i += frame {
				v := int32(body[i+bytes-1])<<24 | int32(body[i+bytes-2])<<16
				if bytes == 3 {
					v |= int32(body[i]) << 8
				}
				x = append(x, float64(v)/(1<<31))
			}
		}
		at += 8 + size + size%2
	}
	return x, rate, nil
}

// patchSample reads the nth sample of a Gravis Ultrasound patch: 16-bit,
// header of 96 bytes each after 239 bytes of others.
func patchSample(b []byte, nth int) (x []float64, rate analysis.Rate, err error) {
	le := binary.LittleEndian
	for at := 239; at+96 <= len(b); nth-- {
		size, mode := int(le.Uint32(b[at+8:])), b[at+55]
		if nth > 0 {
			at += 96 + size
			continue
		}
		if mode&1 == 0 || at+96+size > len(b) {
			return nil, 0, fmt.Errorf("mode %#x, %d bytes: wanted 16-bit samples", mode, size)
		}
		for i := at + 96; i < at+96+size; i += 2 {
			v := int16(le.Uint16(b[i:]))
			if mode&2 != 0 {
				v ^= -1 << 15 // unsigned
			}
			x = append(x, float64(v)*lsb16)
		}
		return x, analysis.Rate(le.Uint16(b[at+20:])), nil
	}
	return nil, 0, errors.New("no such sample")
}
