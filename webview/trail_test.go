package webview

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"ringwell/analysis"
)

func entryIDs(entries []*entry) []string {
	out := []string{}
	for _, e := range entries {
		out = append(out, e.strike.ID)
	}
	return out
}

func TestTrailTakesTheLaterTelling(t *testing.T) {
	tr := newTrail()
	now := time.Unix(0, 0)
	telling := func(revision int) analysis.Strike {
		s := jar()
		s.Revision = revision
		return s
	}
	for _, c := range []struct {
		revision int
		taken    bool
	}{{2, true}, {1, false}, {2, false}, {3, true}, {9, true}, {8, false}} {
		if got := tr.put(telling(c.revision), now) != nil; got != c.taken {
			t.Errorf("revision %d: got taken %v, wanted %v", c.revision, got, c.taken)
		}
	}
	if got := tr.find(jar().ID).strike.Revision; got != 9 {
		t.Errorf("got revision %d on the trail, wanted 9", got)
	}
}

func TestTrailExpires(t *testing.T) {
	tr := newTrail()
	begin := time.Unix(0, 0)
	for n := range 4 {
		tr.put(strikeN(n), begin.Add(time.Duration(n)*time.Minute))
		tr.keep(strikeN(n).ID, make([]float32, 100))
	}
	tr.find(strikeN(1).ID).thrown = true
	if got := tr.expire(begin.Add(trailAge-1), ""); len(got) > 0 {
		t.Errorf("1 ns before ten minutes: got %v gone, wanted none", got)
	}
	// 0 and 1 are too old, 2 is just so, but the pages stay with it; 1 was not on show.
	got := tr.expire(begin.Add(trailAge+2*time.Minute), strikeN(2).ID)
	if want := []string{strikeN(0).ID}; !reflect.DeepEqual(got, want) {
		t.Errorf("after twelve minutes: got %v gone, wanted %v", got, want)
	}
	if got, want := entryIDs(tr.entries), []string{strikeN(2).ID, strikeN(3).ID}; !reflect.DeepEqual(got, want) {
		t.Errorf("after twelve minutes: got %v left, wanted %v", got, want)
	}
	if tr.bytes != 800 {
		t.Errorf("two sounds of 100 samples left: got %d bytes, wanted 800", tr.bytes)
	}
}

func TestTrailLength(t *testing.T) {
	tr := newTrail()
	now := time.Unix(0, 0)
	for n := range trailLength + 3 {
		tr.put(strikeN(n), now)
	}
	got := tr.expire(now, strikeN(1).ID)
	if want := []string{strikeN(0).ID, strikeN(2).ID, strikeN(3).ID}; !reflect.DeepEqual(got, want) {
		t.Errorf("three too many, one of the oldest pinned: got %v gone, wanted %v", got, want)
	}
}

func TestTrailSoundLimit(t *testing.T) {
	tr := newTrail()
	tr.limit = 4 * 250
	for n := range 4 {
		tr.put(strikeN(n), time.Unix(0, 0))
	}
	keep := func(n, samples int) (bool, []string) {
		kept, silenced := tr.keep(strikeN(n).ID, make([]float32, samples))
		return kept, entryIDs(silenced)
	}
	for _, c := range []struct {
		n, samples int
		kept       bool
		silenced   []string
		why        string
	}{
		{0, 100, true, []string{}, "room for it"},
		{1, 100, true, []string{}, "room for it"},
		{1, 150, true, []string{}, "in place of its own, just full"},
		{2, 100, true, []string{strikeN(0).ID}, "the oldest makes room"},
		{0, 100, true, []string{strikeN(1).ID}, "an old strike's sound comes late: not itself, the next oldest"},
		{3, 251, false, []string{}, "alone too much"},
		{3, 250, true, []string{strikeN(0).ID, strikeN(2).ID}, "alone just enough"},
		{9, 10, false, []string{}, "no such strike"},
		{2, 0, false, []string{}, "no sound"},
	} {
		kept, silenced := keep(c.n, c.samples)
		if kept != c.kept || !reflect.DeepEqual(silenced, c.silenced) {
			t.Errorf("%s: strike %d, %d samples: got %v, silenced %v, wanted %v, %v", c.why, c.n, c.samples, kept, silenced, c.kept, c.silenced)
		}
		if tr.bytes > tr.limit {
			t.Errorf("%s: got %d bytes, wanted at most %d", c.why, tr.bytes, tr.limit)
		}
	}
}

// The trail against the plainest thing that does the same: a map, sorted when
// asked.
func TestTrailAgainstPlainMap(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	tr := newTrail()
	plain := map[string]bool{} // ID: thrown
	for step := range 5000 {
		id := strikeN(rng.IntN(40)).ID
		switch rng.IntN(4) {
		case 0, 1:
			if _, ok := plain[id]; !ok {
				plain[id] = false
			}
			s := jar()
			s.ID, s.Revision = id, step+1
			tr.put(s, time.Unix(0, 0))
		case 2:
			delete(plain, id)
			tr.remove(id)
		case 3:
			if e := tr.find(id); e != nil {
				e.thrown, plain[id] = !e.thrown, !plain[id]
			}
		}
		from := ""
		if rng.IntN(3) > 0 {
			from = strikeN(rng.IntN(40)).ID
		}
		after, before := []string{}, ""
		for id, thrown := range plain {
			if !thrown && id > from {
				after = append(after, id)
			}
			if !thrown && id < from {
				before = max(before, id)
			}
		}
		slices.Sort(after)
		if got := entryIDs(tr.after(from)); !reflect.DeepEqual(got, after) {
			t.Fatalf("step %d, after %q: got %v, wanted %v", step, from, got, after)
		}
		if got := tr.before(from); got != before {
			t.Fatalf("step %d, before %q: got %q, wanted %q", step, from, got, before)
		}
	}
}
