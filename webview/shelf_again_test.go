package webview

import (
	"math"
	"testing"
)

// What the trail says of a strike follows the shelf: kept, renamed, put away,
// taken back, and nobody strikes anything again for it.
func TestTheTrailFollowsTheShelf(t *testing.T) {
	r := shelved(t)
	a, b := r.strike(lowJar(), 0), r.strike(lowJar(), 1)
	thrown := r.strike(lowJar(), 0)
	if status, _, _ := r.ask("DELETE", "/api/strikes/"+thrown, nil); status != 204 {
		t.Fatalf("throw one away: got %d, wanted 204", status)
	}
	k := r.keep(a, m{"name": "jar 7", "place": "rim"})
	is := func(id, answer, words string) {
		t.Helper()
		s := r.told(id, "it is told as "+answer+" "+words, func(s Strike) bool {
			return s.Recognised != nil && s.Recognised.Answer == answer && (words == "" || s.Recognised.Words == words)
		})
		if s.Kept != nil {
			t.Errorf("%s: got kept as %s, wanted not kept", id, s.Kept.Label)
		}
	}
	is(b, "known", "jar 7, rim")
	object := "/api/shelf/objects/" + k.Kept.Object
	r.mustAsk("PATCH", object, m{"name": "the green jar"}, &m{})
	is(b, "known", "the green jar, rim")
	r.told(a, "what it is kept as has its new name", func(s Strike) bool { return s.Kept != nil && s.Kept.Label == "the green jar, rim" })
	r.mustAsk("DELETE", object, nil, &m{})
	r.told(b, "its voice is on the shelf no more", func(s Strike) bool { return s.Recognised == nil || s.Recognised.Answer == "new" })
	r.told(a, "it is kept no more", func(s Strike) bool { return s.Kept == nil })
	r.mustAsk("POST", object+"/restore", m{}, &m{})
	is(b, "known", "the green jar, rim")
	r.told(a, "it is kept again", func(s Strike) bool { return s.Kept != nil && s.Kept.Voice == k.Kept.Voice })
	r.mustAsk("POST", "/api/strikes/"+thrown+"/restore", m{}, &m{})
	is(thrown, "known", "the green jar, rim")

	// What stands on the stand is kept from now on, and nothing from before; what
	// was put away is not kept again by itself.
	r.mustAsk("PATCH", "/api/shelf", m{"stand": k.Kept.Voice}, &m{})
	r.mustAsk("DELETE", "/api/shelf/strikes/"+a, nil, &m{})
	last := r.strike(lowJar(), 0)
	r.told(last, "it is kept by itself", func(s Strike) bool { return s.Kept != nil })
	r.mustAsk("PATCH", object, m{"name": "jar 8"}, &m{})
	r.told(last, "that is told", func(s Strike) bool { return s.Kept != nil && s.Kept.Label == "jar 8, rim" })
	is(b, "known", "jar 8, rim")
	is(a, "known", "jar 8, rim")
}

// A history that grows long enough tells of the strikes heard before.
func TestHealthFollowsTheShelf(t *testing.T) {
	r := shelved(t)
	first := r.keep(r.strike(lowJar(), 0), m{"name": "jar 7"})
	waits := r.strike(lowJar(), 0)
	r.told(waits, "too little is known", func(s Strike) bool { return s.Health != nil && !s.Health.Known })
	for range 5 {
		r.keep(r.strike(lowJar(), 0), m{"voice": first.Kept.Voice})
	}
	s := r.told(waits, "enough is known", func(s Strike) bool { return s.Health != nil && s.Health.Known })
	if s.Health.Suspect {
		t.Errorf("got %+v, wanted that it sounds as it did", s.Health)
	}
}

// The pitch a player pinned on the trail is the pin of the voice it is kept as.
func TestAPinIsKept(t *testing.T) {
	r := shelved(t)
	id := r.strike(lowJar(), 0)
	var s Strike
	r.mustAsk("POST", "/api/strikes/"+id+"/pin", map[string]any{"partial": 1}, &s)
	k := r.keep(id, map[string]any{})
	var v VoiceForm
	r.mustAsk("GET", "/api/shelf/voices/"+k.Kept.Voice, nil, &v)
	if v.Pinned == nil || math.Abs(*v.Pinned-s.Heard.Frequency) > 0.01 {
		t.Errorf("voice of a strike pinned to %v Hz: got pin %v", s.Heard.Frequency, v.Pinned)
	}
}
