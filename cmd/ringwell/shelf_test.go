package main

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/audio/wav"
)

// shelfRun runs ringwell shelf with a shelf of its own.
func shelfRun(dir string, args ...string) (status int, out, complaints string) {
	return ran(append([]string{"shelf", "--shelf", dir}, args...)...)
}

func TestShelfCommands(t *testing.T) {
	home(t, "")
	top := t.TempDir()
	dir := filepath.Join(top, "shelf")
	photo := filepath.Join(top, "jar.jpg")
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, 30, 20)), nil); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(photo, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	backup, lines, other := filepath.Join(top, "b.tar"), filepath.Join(top, "e.jsonl"), filepath.Join(top, "other")
	// Each goes on from the one before.
	for _, c := range []struct {
		args              string // words by |
		status            int
		out, mustComplain string
	}{
		{"list", 0, "There is no shelf yet.", ""},
		{"add|jar \x1b[2J7|--kind|glass|--found-on|2030-11", 2, "", "unexpected"}, // below
		{"check", 0, "All of it is whole.", ""},
		{"photo|jar 7|" + photo, 0, "", ""},
		{"photo|jar 7|" + filepath.Join(top, "none.jpg"), exitFault, "", "no such file"},
		{"state|jar 7|lent|--note|to the trio", 0, "", ""},
		{"list", 0, "jar 7  glass    lent", ""},
		{"change|jar 7|--name|jar 8|--kept-at|crate B|--mass-g|286.5", 0, "", ""},
		{"export|--csv|objects", 0, ",286.5,crate B,", ""},
		{"change|jar 8|--mass-g=-1", exitFault, "", "mass"},
		{"change|jar 8|--kind|cloud", exitFault, "", "cloud"},
		{"change|jar 7|--notes|x", exitFault, "", "nothing on the shelf is called jar 7"},
		{"change|jar 8|--name|jar 7", 0, "", ""},
		{"find|F#5|--bend|30", 0, "Nothing on the shelf is like that.", ""},
		{"find|H9", exitFault, "", "H9"},
		{"find|-3", exitUsage, "", ""},
		{"backup|" + backup, 0, "The shelf is in", ""},
		{"backup|" + backup, exitFault, "", "does not overwrite"},
		{"export|" + lines, 0, "", ""},
		{"export|" + lines, exitFault, "", "nothing is overwritten"},
		{"export|--csv|objects", 0, "jar 7,glass", ""},
		{"restore|" + backup, exitFault, "", "give another folder"},
		{"import|" + lines, exitFault, "", "import into a new one"},
		{"alike|jar 7", 0, "No strike of jar 7 was kept yet", ""},
		{"away|jar 7", 0, "is put away", ""},
		{"away|jar 7", exitFault, "", "nothing on the shelf is called jar 7"},
		{"back|jar 7", 0, "", ""},
		{"empty|jar 7", exitFault, "", "nothing that was put away is called jar 7"},
		{"away|jar 7", 0, "", ""},
		{"empty", 0, "jar 7, put away", ""},
		{"empty|all", 0, "1 object, 0 voices", ""},
		{"list", 0, "The shelf is empty.", ""},
	} {
		args := strings.Split(c.args, "|")
		if strings.HasPrefix(c.args, "add") {
			if status, _, complaints := shelfRun(dir, args...); status != exitFault || strings.Contains(complaints, "\x1b") {
				t.Errorf("%q: got status %d and %q, want %d and nothing that steers the terminal", args, status, complaints, exitFault)
			}
			args, c.status, c.mustComplain = []string{"add", "jar 7", "--kind", "glass"}, 0, ""
		}
		status, out, complaints := shelfRun(dir, args...)
		if status != c.status || !strings.Contains(out, c.out) || !strings.Contains(complaints, c.mustComplain) {
			t.Errorf("%q: got status %d, %q, %q, want %d, %q, %q", args, status, out, complaints, c.status, c.out, c.mustComplain)
		}
	}
	for _, args := range [][]string{{"restore", backup}, {"check"}} {
		if status, out, complaints := shelfRun(other, args...); status != 0 {
			t.Errorf("%q into another folder: got status %d, %q, %q", args, status, out, complaints)
		}
	}
	third := filepath.Join(top, "third")
	if status, out, complaints := shelfRun(third, "import", lines); status != 0 {
		t.Errorf("import: got status %d, %q, %q", status, out, complaints)
	}
	_, was, _ := shelfRun(other, "export")
	if _, is, _ := shelfRun(third, "export"); is != was || !strings.Contains(is, `"type":"photo"`) {
		t.Errorf("a restored shelf and an imported one differ:\n%s\n%s", was, is)
	}
}

// One program writes; another is told, and reading goes on.
func TestShelfOfTwo(t *testing.T) {
	home(t, "")
	ctx := context.Background()
	dir := t.TempDir()
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	o, err := s.AddObject(ctx, catalogue.Object{Name: "brake drum", Kind: analysis.Plate})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.AddVoice(ctx, catalogue.Voice{Object: o.ID, Place: "rim"}); err != nil {
		t.Fatal(err)
	}
	if status, _, complaints := shelfRun(dir, "add", "pipe"); status != exitFault || !strings.Contains(complaints, "another ringwell has it open") {
		t.Errorf("to write: got status %d, %q, want %d and that another has it open", status, complaints, exitFault)
	}
	if status, out, complaints := shelfRun(dir, "list"); status != 0 || !strings.Contains(out, "brake drum") || !strings.Contains(out, "rim") {
		t.Errorf("to read: got status %d, %q, %q, want the drum", status, out, complaints)
	}
}

// Recordings of a kit are kept, found by where they land, measured again, and
// each carries its pitch and its onset for samplers.
func TestShelfKeep(t *testing.T) {
	home(t, "")
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "shelf")
	strikes := filepath.Join(root, "testdata", "strikes")
	ok := func(args ...string) string {
		t.Helper()
		status, out, complaints := shelfRun(dir, args...)
		if status != 0 {
			t.Fatalf("%q: got status %d, %q, %q, want 0", args, status, out, complaints)
		}
		return out
	}
	ok("add", "the C", "--kind", "bar")
	file := filepath.Join(strikes, "glock_c6.wav")
	out := ok("keep", "the C", file, "--place", "middle", "--celsius", "19.5")
	if !strings.Contains(out, "1 strike of the C, middle") {
		t.Errorf("keep: got %q, want 1 strike", out)
	}
	ok("keep", "the C", file, "--place", "middle") // again, which is once
	if out := ok("list"); !strings.Contains(out, "middle") || !strings.Contains(out, "1 strike") || !strings.Contains(out, "Hz") {
		t.Errorf("list: got %q, want one strike with its pitch", out)
	}
	r, err := catalogue.OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	stale, err := r.Stale(ctx, "another", "", 10)
	if err != nil || len(stale) != 1 {
		t.Fatalf("got %d strikes, %v, want 1", len(stale), err)
	}
	k, err := r.Strike(ctx, stale[0].ID)
	if err != nil || k.Heard == nil || len(k.Partials) == 0 || k.Temperature == nil || *k.Temperature != 19.5 {
		t.Fatalf("got %+v, %v, want a strike with pitch, partials and temperature", k, err)
	}
	data, err := r.Recording(k.Recording)
	if err != nil {
		t.Fatal(err)
	}
	w, err := wav.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	for buf := make([]float64, 4096); ; {
		if _, err := w.Read(buf); err != nil {
			break // the marks may stand behind the sound
		}
	}
	note := noteOf(k.Heard.Frequency)
	if w.Format().Bits != 24 || w.Note() == nil || w.Note().Key != note.Key || len(w.Cues()) != 1 || w.Cues()[0].Frame != k.Frame {
		t.Errorf("recording: got %+v, note %+v, cues %+v, want 24 bits, %+v and frame %d", w.Format(), w.Note(), w.Cues(), note, k.Frame)
	}
	near := ok("find", strconv.FormatFloat(float64(k.Heard.Frequency), 'f', 3, 64))
	if !strings.Contains(near, "the C") {
		t.Errorf("near its own pitch: got %q, want it", near)
	}
	// Compared with itself nothing differs; with another bar nothing belongs together.
	if status, _, complaints := shelfRun(dir, "compare", "the C"); status != exitFault || !strings.Contains(complaints, "first strike of its voice") {
		t.Errorf("compare a lone strike: got status %d, %q, want %d and why", status, complaints, exitFault)
	}
	if out := ok("compare", "the C", k.ID); !strings.Contains(out, "the C, middle, struck") || !strings.HasSuffix(out, "No difference beyond chance.\n") || strings.Contains(out, "*") {
		t.Errorf("compare a strike with itself: got %q, want no difference", out)
	}
	ok("add", "the G", "--kind", "bar")
	if status, _, complaints := shelfRun(dir, "compare", "the C", "the G"); status != exitFault || !strings.Contains(complaints, "no strike of the G is kept") {
		t.Errorf("compare with nothing: got status %d, %q, want %d and why", status, complaints, exitFault)
	}
	ok("keep", "the G", filepath.Join(strikes, "glock_g6.wav"))
	if out := ok("compare", "the C", "the G"); !strings.Contains(out, "the G, as it comes") || !strings.Contains(out, "against the C") || !strings.Contains(out, "only in this") || !strings.Contains(out, "only in the other") {
		t.Errorf("compare two bars: got %q, want partials that only one has", out)
	}
	// An older ear's strike is measured again and comes out the same within
	// what was claimed: the sound kept is the sound heard, to 24 bits.
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Remeasure(ctx, k.ID, k.Strike, "older"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if out := ok("remeasure"); !strings.Contains(out, "1 strike measured again, 0 stay") {
		t.Errorf("remeasure: got %q, want 1 strike", out)
	}
	again, err := r.Strike(ctx, k.ID)
	if err != nil || again.Analysis != release || again.Heard == nil {
		t.Fatalf("measured again: got %+v, %v, want it by this ear", again, err)
	}
	if off := again.Heard.Frequency.Above(k.Heard.Frequency); math.Abs(float64(off)) > 3*math.Hypot(float64(k.Heard.Sigma), float64(again.Heard.Sigma))+0.01 {
		t.Errorf("measured again: %v cents off, want within three sigma of %v and %v", off, k.Heard.Sigma, again.Heard.Sigma)
	}
	if status, _, complaints := shelfRun(dir, "keep", "the C", filepath.Join(strikes, "truth.json")); status != exitFault || strings.Count(complaints, "\n") != 1 {
		t.Errorf("no recording: got status %d, %q, want %d and one line", status, complaints, exitFault)
	}
}

// Others read the pitch and the onset out of a recording of the shelf:
// libsndfile, which many samplers use, prints the fraction as 2^31 over it.
func TestLibsndfileReadsTheNote(t *testing.T) {
	if _, err := exec.LookPath("sndfile-info"); err != nil {
		t.Skip("sndfile-info is not installed")
	}
	const hz, onset = 747.6, 12000
	data, err := encodeKept(48000, make([]float32, 24000), onset, &analysis.Pitch{Frequency: hz})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "kept.wav")
	if err := os.WriteFile(file, data, 0o666); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("sndfile-info", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	number := func(name string) float64 {
		_, rest, _ := strings.Cut(string(said), name)
		rest, _, _ = strings.Cut(strings.TrimLeft(rest, " :"), "\n")
		x, err := strconv.ParseFloat(strings.Fields(rest + " ?")[0], 64)
		if err != nil {
			t.Fatalf("%s: %v in %s", name, err, said)
		}
		return x
	}
	key, fraction := number("Midi Note"), 0.5/number("Pitch Fract.")
	if got := 440 * math.Exp2((key+fraction-69)/12); math.Abs(1200*math.Log2(got/hz)) > 0.01 {
		t.Errorf("got note %v and %v of a semitone, which is %v Hz, want %v", key, fraction, got, hz)
	}
	if !strings.Contains(string(said), "Offset : 12000") {
		t.Errorf("got %s, want a cue at frame %d", said, onset)
	}
}

// A group is called over from a recording: one is missing, one was not called.
func TestShelfCallOver(t *testing.T) {
	home(t, "")
	top := t.TempDir()
	dir, tape := filepath.Join(top, "shelf"), filepath.Join(top, "tape")
	for i, name := range []string{"jar", "slate", "pipe"} {
		strikes := 6
		if raced {
			strikes = 2
		}
		recorded(t, filepath.Join(tape, name+".wav"), uint64(i+1), strikes)
	}
	if status, _, complaints := ran("measure", tape, "--keep", "--shelf", dir); status != 0 {
		t.Fatalf("keep: got status %d, %q", status, complaints)
	}
	before := filepath.Join(top, "before.wav")
	recorded(t, before, 1, 1)
	status, out, complaints := shelfRun(dir, "call-over", "jar", "pipe", "--from", before)
	if status != exitFault || !strings.Contains(out, "Strike each of 2 objects once") || !strings.Contains(out, "jar: present") ||
		!strings.Contains(out, "1 present, 0 suspect, 1 missing.") || !strings.Contains(out, "pipe: missing") {
		t.Errorf("got status %d, %q, %q, want the jar present and the pipe missing", status, out, complaints)
	}
	if status, out, _ := shelfRun(dir, "call-over", "jar", "--from", before); status != 0 || !strings.Contains(out, "1 present, 0 suspect, 0 missing.") {
		t.Errorf("the jar alone: got status %d, %q, want 0", status, out)
	}
	if status, out, _ := shelfRun(dir, "call-over", "slate", "--from", before); status != exitFault || !strings.Contains(out, "jar: not called") {
		t.Errorf("the slate alone: got status %d, %q, want that the jar is not called", status, out)
	}
	if status, _, complaints := shelfRun(dir, "call-over", "nobody"); status != exitFault || !strings.Contains(complaints, "nothing on the shelf is called nobody") {
		t.Errorf("nobody: got status %d, %q", status, complaints)
	}
	if status, out, _ := shelfRun(dir, "alike", "jar"); status != 0 || !strings.Contains(out, "% alike") || strings.Contains(out, "  jar") {
		t.Errorf("alike: got status %d, %q, want others with how alike they are", status, out)
	}
	if status, out, _ := shelfRun(dir, "pairs"); status != 0 || !strings.Contains(out, "No two objects") {
		t.Errorf("pairs: got status %d, %q, want none", status, out)
	}
}
