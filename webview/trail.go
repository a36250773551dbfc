package webview

import (
	"slices"
	"strings"
	"time"

	"ringwell/analysis"
)

// What the trail holds at most. It is all ringwell keeps of what it hears.
const (
	trailAge    = 10 * time.Minute
	trailSound  = 64 << 20 // bytes of kept sound
	trailLength = 2048     // strikes: a free-running recording brings many at once; some 15 MB
)

// trail is the strikes of the last ten minutes with their sound, oldest first.
// It is not safe for concurrent use: Server.mu guards it.
type trail struct {
	entries []*entry        // by ID, ascending
	bytes   int             // of sound
	newest  string          // the greatest ID ever put here
	limit   int             // of bytes
	pins    map[string]bool // strikes that stay, whatever their age
}

type entry struct {
	strike analysis.Strike
	sound  []float32 // nil until it is kept, and again once there is no room
	name   *string
	heard  time.Time     // by our clock, when it was first told: a file's strikes have other dates
	thrown bool          // away, but may be taken back
	kind   analysis.Kind // what was said to be in the hand when it was struck
	stored bool          // its sound is in a file too
	said   said          // the pitches the ear gave it; those in strike are what holds
	pinned bool          // the pitch is where a player pinned it

	recognised *Recognised // of its latest telling but perhaps one
	kept       *KeptMark   // on the shelf
	health     *HealthForm
	counted    bool // the call-over and the walk have had it
	tried      bool // to be kept by itself, as what stands on the stand
}

func newTrail() *trail { return &trail{limit: trailSound} }

func (t *trail) index(id string) (int, bool) {
	return slices.BinarySearchFunc(t.entries, id, func(e *entry, id string) int { return strings.Compare(e.strike.ID, id) })
}

// find returns the entry with the ID, thrown away or not; nil for none.
func (t *trail) find(id string) *entry {
	if i, ok := t.index(id); ok {
		return t.entries[i]
	}
	return nil
}

// put takes a telling of a strike that stands. It returns nil where a later
// telling is already here.
func (t *trail) put(s analysis.Strike, now time.Time) *entry {
	i, ok := t.index(s.ID)
	if !ok {
		t.newest = max(t.newest, s.ID)
		e := &entry{strike: s, heard: now}
		t.entries = slices.Insert(t.entries, i, e)
		return e
	}
	e := t.entries[i]
	if s.Revision <= e.strike.Revision {
		return nil
	}
	e.strike = s
	return e
}

// remove forgets a strike at once and for good.
func (t *trail) remove(id string) {
	if i, ok := t.index(id); ok {
		t.bytes -= soundBytes(t.entries[i].sound)
		t.entries = slices.Delete(t.entries, i, i+1)
	}
}

// keep stores the sound of a strike and returns the entries whose sound had to
// go to make room, oldest first. A sound that alone is more than the trail
// holds is not kept.
func (t *trail) keep(id string, sound []float32) (kept bool, silenced []*entry) {
	e := t.find(id)
	if e == nil || len(sound) == 0 || soundBytes(sound) > t.limit {
		return false, nil
	}
	t.bytes += soundBytes(sound) - soundBytes(e.sound)
	e.sound = sound
	for _, old := range t.entries {
		if t.bytes <= t.limit {
			break
		}
		if old != e && old.sound != nil && (old.stored || !t.pins[old.strike.ID]) {
			t.bytes -= soundBytes(old.sound)
			old.sound = nil
			silenced = append(silenced, old)
		}
	}
	if t.bytes > t.limit { // those that are left stay
		t.bytes -= soundBytes(e.sound)
		e.sound = nil
		return false, silenced
	}
	return true, silenced
}

// expire forgets what is older than trailAge or more than trailLength, but not
// the strike pinned or those of pins, and returns the IDs of those that were on show.
func (t *trail) expire(now time.Time, pinned string) (gone []string) {
	spare := len(t.entries) - trailLength
	t.entries = slices.DeleteFunc(t.entries, func(e *entry) bool {
		if e.strike.ID == pinned || t.pins[e.strike.ID] || (spare <= 0 && now.Sub(e.heard) < trailAge) {
			return false
		}
		spare--
		t.bytes -= soundBytes(e.sound)
		if !e.thrown {
			gone = append(gone, e.strike.ID)
		}
		return true
	})
	return gone
}

// after returns the entries on show that follow the ID; "" for all of them.
func (t *trail) after(id string) []*entry {
	i, ok := t.index(id)
	if ok {
		i++
	}
	return shown(t.entries[i:])
}

// before returns the ID of the last strike on show before the ID; "" for none.
func (t *trail) before(id string) string {
	i, _ := t.index(id)
	for i--; i >= 0; i-- {
		if !t.entries[i].thrown {
			return t.entries[i].strike.ID
		}
	}
	return ""
}

func shown(entries []*entry) []*entry {
	var out []*entry
	for _, e := range entries {
		if !e.thrown {
			out = append(out, e)
		}
	}
	return out
}

func soundBytes(sound []float32) int { return 4 * len(sound) }
