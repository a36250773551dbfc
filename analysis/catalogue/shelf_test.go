package catalogue

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// morning is when the tests' clock starts.
var morning = time.Date(2031, 3, 4, 9, 30, 0, 0, time.UTC)

// clock returns a clock that goes on a second whenever it is looked at.
func clock() func() time.Time {
	var mu sync.Mutex
	now := morning
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

func openShelf(t testing.TB, dir string) *Shelf {
	t.Helper()
	s, err := Open(context.Background(), dir, Options{Now: clock()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func number(x float64) *float64 { return &x }

// jar is an object with a voice, put on the shelf.
func jar(t testing.TB, s *Shelf) (Object, Voice) {
	t.Helper()
	ctx := context.Background()
	o, err := s.AddObject(ctx, Object{Name: "jar 7", Kind: analysis.Glass, Material: "soda-lime glass",
		Size: Size{HeightMM: number(121), MassG: number(286.5)}, KeptAt: "crate B", FoundAt: "a cellar", FoundOn: "2030-11", Notes: "label off\nlid lost"})
	if err != nil {
		t.Fatal(err)
	}
	v, err := s.AddVoice(ctx, Voice{Object: o.ID, Place: "rim", Beater: "felt", Support: "foam", Fill: "water 40 mm"})
	if err != nil {
		t.Fatal(err)
	}
	return o, v
}

// strikeOf is a strike as the ear could have given it, the n-th of its kind.
func strikeOf(voice string, n int) Kept {
	f := analysis.Hz(740.5).Shift(analysis.Cents(n % 3))
	p := analysis.Partial{Frequency: f, Sigma: 0.3, Level: 0, SigmaLevel: 0.1, T60: 1.25 + float64(n%5)/100, SigmaT60: 0.02}
	p.Cov[0][0], p.Cov[2][3], p.Cov[3][2] = 1e-6, -2e-7, -2e-7
	q := analysis.Partial{Frequency: f * 2.71, Sigma: 0.9, Level: -14.5, SigmaLevel: 0.4, Pair: 1, Beat: 1.5, SigmaBeat: 0.1}
	q.Cross[1][2] = 3e-5
	return Kept{
		Strike: analysis.Strike{
			ID: fmt.Sprintf("STRIKE%08d", n), Stage: analysis.Final, Source: "mic", Rate: 48000, Time: morning.Add(time.Duration(n) * time.Minute),
			Used: 1.5, ClockPPM: 29, Peak: 0.4,
			Heard:    &analysis.Pitch{Frequency: f, Sigma: 0.3, Basis: analysis.OnPartial, Partial: 0, Likelihood: 0.9},
			Partials: []analysis.Partial{p, q}, Remarks: []analysis.Remark{{Code: analysis.RemarkDamped, Words: "a hand stopped it"}},
		},
		Voice: voice, Frame: 2400, Temperature: number(19.5), Room: "cellar", Input: "hall pair", Analysis: "ear 3", Note: "",
	}
}

// soundOf is the bytes of a recording; what they mean is not the shelf's
// concern.
func soundOf(n int) []byte { return []byte(strings.Repeat(fmt.Sprintf("sound %d ", n), 400)) }

func keep(t testing.TB, s *Shelf, voice string, n int) Kept {
	t.Helper()
	k := strikeOf(voice, n)
	if err := s.Keep(context.Background(), k, soundOf(n)); err != nil {
		t.Fatal(err)
	}
	k.Recording = hash(soundOf(n))
	return k
}

// soundly checks that a shelf lacks nothing.
func soundly(t testing.TB, r *Reader) *Report {
	t.Helper()
	report, err := r.Check(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if !report.Sound() || len(report.Strangers) > 0 {
		t.Fatalf("check of %s: got %q, strangers %q, want none", r.Dir(), report.Faults, report.Strangers)
	}
	return report
}

func TestWhatIsKeptComesBack(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "of", "mine")
	s := openShelf(t, dir)
	o, v := jar(t, s)
	want := keep(t, s, v.ID, 1)
	if err := s.SetState(ctx, o.ID, Condition{State: Lent, Since: morning, Note: "to the trio"}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if got, err := r.Object(ctx, o.ID); err != nil || !reflect.DeepEqual(got, o) {
		t.Errorf("object: got %+v, %v, want %+v", got, err, o)
	}
	if got, err := r.Voice(ctx, v.ID); err != nil || !reflect.DeepEqual(got, v) {
		t.Errorf("voice: got %+v, %v, want %+v", got, err, v)
	}
	if got, err := r.Strike(ctx, want.ID); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("strike: got  %+v, %v\nwant %+v", got, err, want)
	}
	if got, err := r.Recording(want.Recording); err != nil || string(got) != string(soundOf(1)) {
		t.Errorf("recording: got %d bytes, %v, want %d as they were", len(got), err, len(soundOf(1)))
	}
	past, err := r.History(ctx, o.ID)
	if err != nil || len(past) != 2 || past[0].State != Whole || past[1] != (Condition{Lent, morning, "to the trio"}) {
		t.Errorf("history: got %+v, %v, want whole, then lent to the trio", past, err)
	}
	if got := soundly(t, r); got.Objects != 1 || got.Voices != 1 || got.Strikes != 1 || got.Recordings != 1 || len(got.Orphans) != 0 {
		t.Errorf("check: got %+v, want one of each", got)
	}
}

// Who got no answer asks again.
func TestKeepingTwiceIsKeepingOnce(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	_, v := jar(t, s)
	k := keep(t, s, v.ID, 1)
	if err := s.Keep(ctx, k, soundOf(1)); err != nil {
		t.Errorf("again: got %v, want no error", err)
	}
	if err := s.Keep(ctx, k, soundOf(2)); !errors.Is(err, ErrOther) {
		t.Errorf("another under the same ID: got %v, want ErrOther", err)
	}
	k = strikeOf("nobody", 3)
	if err := s.Keep(ctx, k, soundOf(3)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("for no voice: got %v, want fs.ErrNotExist", err)
	}
	if got := soundly(t, &s.Reader); got.Strikes != 1 || got.Recordings != 1 || len(got.Orphans) != 2 {
		t.Errorf("check: got %+v, want one strike, and two recordings that came to nothing", got)
	}
}

func TestFigures(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	_, v := jar(t, s)
	for n := range 9 { // at 0, 1 and 2 cents above 740.5 Hz, three each
		keep(t, s, v.ID, n)
	}
	f, err := s.Figures(ctx, v.ID)
	if err != nil {
		t.Fatal(err)
	}
	want := analysis.Hz(740.5).Shift(1)
	if off := f.Pitch.Above(want); off > 1e-6 || off < -1e-6 || f.Strikes != 9 || len(f.Modes) != 2 {
		t.Errorf("got %d strikes, %v Hz, %d modes, want 9, %v and 2", f.Strikes, f.Pitch, len(f.Modes), want)
	}
	// Deviations from the median: three of 0 and six of 1, whose median is 1.
	if d := f.Spread - 1.4826; d > 1e-6 || d < -1e-6 {
		t.Errorf("spread: got %v cents, want 1.4826", f.Spread)
	}
	if m := f.Modes[0]; m.Seen != 9 || m.Spread < 0.8 || m.Spread > 0.9 { // √(6·1/8) = 0.866
		t.Errorf("first mode: got %+v, want seen 9 times with a spread of 0.87 cents", m)
	}
	for n := range 8 {
		if err := s.PutAway(ctx, StrikePart, strikeOf(v.ID, n).ID); err != nil {
			t.Fatal(err)
		}
	}
	if f, err = s.Figures(ctx, v.ID); err != nil || f.Strikes != 1 || f.Spread != 0 {
		t.Errorf("after all but one are put away: got %+v, %v, want one strike without spread", f, err)
	}
	v.PinnedHz = 740.5 * 2.71
	if err := s.ChangeVoice(ctx, v); err != nil {
		t.Fatal(err)
	}
	if f, err = s.Figures(ctx, v.ID); err != nil || f.Pitch < 2000 || f.Pitch > 2012 {
		t.Errorf("pinned to the second partial: got %v Hz, %v, want 2009", f.Pitch, err)
	}
	near, err := s.Find(ctx, Query{Near: 2000, Within: 20})
	if err != nil || len(near) != 1 || near[0].Object.Name != "jar 7" || near[0].Off < 5 || near[0].Off > 15 {
		t.Errorf("within 20 cents of 2000 Hz: got %+v, %v, want jar 7", near, err)
	}
	if near, err = s.Find(ctx, Query{Near: 2000, Within: 3}); err != nil || len(near) != 0 {
		t.Errorf("within 3 cents of 2000 Hz: got %+v, %v, want nothing", near, err)
	}
	for _, c := range []struct {
		q    Query
		want int
	}{
		{Query{}, 1}, {Query{Words: "SODA rim 7"}, 1}, {Query{Words: "soda bell"}, 0}, {Query{Kind: analysis.Glass, KeptAt: "CRATE"}, 1},
		{Query{Kind: analysis.Bell}, 0}, {Query{State: Whole, Material: "lime"}, 1}, {Query{State: Lent}, 0},
		{Query{RingMin: 0.1}, 1}, {Query{RingMin: 9}, 0}, {Query{RingMax: 9}, 1}, {Query{RingMax: 0.1}, 0}, {Query{Object: v.Object, Voice: v.ID}, 1},
	} {
		if got, err := s.Find(ctx, c.q); err != nil || len(got) != c.want {
			t.Errorf("find %+v: got %d voices, %v, want %d", c.q, len(got), err, c.want)
		}
	}
	prints, err := s.Voiceprints(ctx)
	if err != nil || len(prints) != 1 || prints[0].ID != v.ID || len(prints[0].Modes) != 2 {
		t.Errorf("voiceprints: got %+v, %v, want one of two modes", prints, err)
	}
}

func TestPutAwayTakeBackEmpty(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	a, va := jar(t, s)
	b, vb := jar(t, s)
	keep(t, s, va.ID, 1)
	keep(t, s, vb.ID, 2)
	for _, id := range []string{a.ID, b.ID} {
		if err := s.PutAway(ctx, ObjectPart, id); err != nil {
			t.Fatal(err)
		}
	}
	if on, _ := s.Objects(ctx, false); len(on) != 0 {
		t.Errorf("on the shelf: got %d objects, want none", len(on))
	}
	if prints, _ := s.Voiceprints(ctx); len(prints) != 0 {
		t.Errorf("recognised: got %d voices, want none", len(prints))
	}
	if err := s.TakeBack(ctx, ObjectPart, b.ID); err != nil {
		t.Fatal(err)
	}
	gone, err := s.Empty(ctx, morning.AddDate(1, 0, 0), "")
	if want := (Emptied{Objects: 1, Voices: 1, Strikes: 1, Recordings: 1}); err != nil || gone != want {
		t.Errorf("emptied: got %+v, %v, want %+v", gone, err, want)
	}
	if err := s.TakeBack(ctx, ObjectPart, a.ID); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("take back what was emptied: got %v, want fs.ErrNotExist", err)
	}
	if got := soundly(t, &s.Reader); got.Objects != 1 || got.Strikes != 1 || len(got.Orphans) != 0 {
		t.Errorf("check: got %+v, want the other object whole", got)
	}
	if _, err := os.Stat(s.files.path(hash(soundOf(1)))); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the recording of what was emptied: got %v, want it gone", err)
	}
}

func TestTwoAtOnce(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s := openShelf(t, dir)
	_, v := jar(t, s)
	if _, err := Open(ctx, dir, Options{}); !errors.Is(err, ErrTaken) {
		t.Errorf("a second writer: got %v, want ErrTaken", err)
	}
	r, err := OpenReader(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var all sync.WaitGroup
	for n := range 40 {
		all.Go(func() { keep(t, s, v.ID, n) })
	}
	all.Wait()
	if got, err := r.Strikes(ctx, v.ID); err != nil || len(got) != 40 {
		t.Errorf("a reader beside: got %d strikes, %v, want 40", len(got), err)
	}
	s.Close()
	if err := s.Keep(ctx, strikeOf(v.ID, 50), soundOf(50)); !errors.Is(err, ErrClosed) {
		t.Errorf("on a closed shelf: got %v, want ErrClosed", err)
	}
	again, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatalf("after the first let go: %v", err)
	}
	again.Close()
}

func TestFaults(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	_, v := jar(t, s)
	for name, o := range map[string]Object{
		"name":     {Name: " "},
		"notes":    {Name: "a", Notes: "\x1b[2J"},
		"kind":     {Name: "a", Kind: "gong"},
		"found_on": {Name: "a", FoundOn: "last May"},
		"mass_g":   {Name: "a", Size: Size{MassG: number(-1)}},
		"kept_at":  {Name: "a", KeptAt: "two\nlines"},
		"material": {Name: "a", Material: "\xff"},
	} {
		_, err := s.AddObject(ctx, o)
		if f, ok := errors.AsType[*Fault](err); !ok || f.Field != name {
			t.Errorf("%+v: got %v, want a fault in %s", o, err, name)
		}
	}
	bad := strikeOf(v.ID, 1)
	bad.Partials[1].Cov[2][2] = inf()
	if _, ok := errors.AsType[*Fault](s.Keep(ctx, bad, soundOf(1))); !ok {
		t.Error("a covariance that is infinite was kept, want a fault")
	}
	if got := soundly(t, &s.Reader); got.Objects != 1 || got.Strikes != 0 {
		t.Errorf("check: got %+v, want nothing new", got)
	}
}

func inf() float64 { x := 0.0; return 1 / x }

// What a crack does is seen against the strikes on the shelf.
func TestHealthFromTheShelf(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	_, v := jar(t, s)
	for n := range 12 {
		keep(t, s, v.ID, n)
	}
	past, err := s.Soundings(ctx, v.ID, "", 10)
	if err != nil || len(past) != 10 || past[0].Partials[0].T60 != strikeOf(v.ID, 2).Partials[0].T60 {
		t.Fatalf("got %d strikes, %v, want the newest 10, oldest first", len(past), err)
	}
	now := strikeOf(v.ID, 13)
	if h := match.Examine(past, match.Sounding{Partials: now.Partials, Temperature: now.Temperature}); !h.Known || h.Suspect() {
		t.Errorf("one more of its kind: got %+v, want no change", h)
	}
	for i := range now.Partials {
		now.Partials[i].Frequency = now.Partials[i].Frequency.Shift(-20)
	}
	if h := match.Examine(past, match.Sounding{Partials: now.Partials, Temperature: now.Temperature}); !h.Suspect() || h.Changes[0].What != match.Fell {
		t.Errorf("20 cents lower: got %+v, want a fall", h)
	}
}
