package webview

import (
	"math"
	"testing"
)

// What is kept makes earlier strikes known, and what is put away makes them
// unknown; what stands on the stand takes nothing that was struck before.
func TestTrailIsLookedAtAgain(t *testing.T) {
	r := shelved(t)
	first, second, other := r.strike(lowJar(), 0), r.strike(lowJar(), 1), r.strike(highJar(), 0)
	k := r.keep(first, map[string]any{})
	if !k.MadeObject {
		t.Fatalf("keep the first: got %+v, wanted a new object", k)
	}
	r.told(second, "an earlier strike is known once another of its thing is kept", func(s Strike) bool {
		return s.Recognised != nil && s.Recognised.Answer == "known" && s.Recognised.Candidates[0].Voice == k.Kept.Voice
	})
	r.told(other, "another thing's is not", func(s Strike) bool { return s.Recognised != nil && s.Recognised.Answer == "new" })
	r.mustAsk("PATCH", "/api/shelf", map[string]any{"stand": k.Kept.Voice}, new(ShelfForm))
	r.told(r.strike(lowJar(), 0), "what is struck on the stand is kept", func(s Strike) bool { return s.Kept != nil })
	for _, id := range []string{second, other} {
		if s := r.told(id, "the strike", func(Strike) bool { return true }); s.Kept != nil {
			t.Errorf("strike %s, from before there was a stand: got it kept as %s", id, s.Kept.Label)
		}
	}
	r.mustAsk("PATCH", "/api/shelf", map[string]any{"stand": nil}, new(ShelfForm))
	r.mustAsk("DELETE", "/api/shelf/objects/"+k.Kept.Object, nil, new(map[string]any))
	r.told(second, "it is unknown once the thing is put away", func(s Strike) bool { return s.Recognised == nil || s.Recognised.Answer == "new" })
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
