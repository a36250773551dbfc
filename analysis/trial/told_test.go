package trial

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/audio/wav"
)

func TestTold(t *testing.T) {
	got := Tell(1, 25)
	t.Logf("%+v", got)
	// Of many, 99 in a hundred are told (`make bench-accuracy`); of these, one each may
	// be missed.
	if got.StruckRight < got.Struck-1 || got.BlownRight < got.Blown-1 {
		t.Errorf("told apart: struck %d of %d, blown %d of %d", got.StruckRight, got.Struck, got.BlownRight, got.Blown)
	}
}

// Every recording at hand; the READMEs beside them say where they come from.
func TestToldOfRecordings(t *testing.T) {
	files, err := filepath.Glob("../../testdata/[sb]*/*.wav")
	if err != nil || len(files) < 25 {
		t.Fatalf("recordings: got %d, %v", len(files), err)
	}
	for _, file := range files {
		want := bench.Struck
		if strings.Contains(file, "blown") {
			want = bench.Blown
		}
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		x, rate := readMono(t, f)
		f.Close()
		if way, ok := ListenTo(x, rate); !ok || way != want {
			t.Errorf("%s: told %q (%v), wanted %q", filepath.Base(file), way, ok, want)
		}
	}
}

// readMono reads the first channel of a recording.
func readMono(t *testing.T, f *os.File) ([]float64, analysis.Rate) {
	t.Helper()
	r, err := wav.NewReader(f)
	if err != nil {
		t.Fatalf("%s: %v", f.Name(), err)
	}
	format := r.Format()
	x := make([]float64, int(r.Frames())*format.Channels)
	for n := 0; n < len(x); {
		got, err := r.Read(x[n:])
		n += got
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", f.Name(), err)
		}
	}
	for i := range x[:len(x)/format.Channels] {
		x[i] = x[i*format.Channels]
	}
	return x[:len(x)/format.Channels], analysis.Rate(format.Rate)
}
