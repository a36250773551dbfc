package webview

import (
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"

	"ringwell/analysis"
)

// Five things, each struck three times, are found, likened, paired and compared.
func TestFindAlikePairsCompare(t *testing.T) {
	r := shelved(t)
	things := map[string][]analysis.Partial{
		"jar 7": lowJar(), "jar 9": object(741.5, 2.41, 4.12, 6.31), "high jar": highJar(), "slate": object(320, 1.7, 2.9), "pipe": object(790, 2.75, 5.4),
	}
	names := []string{"high jar", "jar 7", "jar 9", "pipe", "slate"}
	ids, kept := map[string]string{}, map[string]string{}
	for _, name := range names {
		for range 3 {
			id := r.strike(things[name], 0)
			ids[name], kept[name] = r.keepAs(id, name), id
		}
	}
	var got struct{ Voices []VoiceForm }
	r.mustAsk("GET", "/api/shelf/voices", nil, &got)
	if len(got.Voices) != 5 || !slices.IsSortedFunc(got.Voices, func(a, b VoiceForm) int { return strings.Compare(a.ObjectName, b.ObjectName) }) {
		t.Errorf("all: got %d voices, wanted 5 by name", len(got.Voices))
	}
	if v := got.Voices[1]; v.Strikes != 3 || v.Landing == nil || v.Landing.Note != "F#5" || v.Level == nil || *v.Level > -10 || v.Ring == nil || v.Spread == nil {
		t.Errorf("jar 7: got %+v, wanted three strikes near F#5", v)
	}
	r.mustAsk("GET", "/api/shelf/voices?near=F%235&within_cents=15", nil, &got)
	if len(got.Voices) != 2 || got.Voices[0].ObjectName != "jar 7" || got.Voices[0].Off == nil {
		t.Errorf("near F#5: got %+v, wanted jar 7 and jar 9", got.Voices)
	}
	r.mustAsk("GET", "/api/shelf/voices?near=790&within_cents=5", nil, &got)
	if len(got.Voices) != 1 || got.Voices[0].ObjectName != "pipe" {
		t.Errorf("near 790 Hz: got %+v, wanted the pipe", got.Voices)
	}
	var alike struct{ Alike []AlikeForm }
	r.mustAsk("GET", "/api/shelf/voices/"+ids["jar 7"]+"/alike?n=2", nil, &alike)
	if len(alike.Alike) != 2 || alike.Alike[0].Voice.ObjectName != "jar 9" || alike.Alike[0].Distance > 0.3 || len(alike.Alike[0].Reasons) == 0 || alike.Alike[0].Reasons[0].Words == "" {
		t.Errorf("most like jar 7: got %+v, wanted jar 9", alike.Alike)
	}
	var pairs struct{ Pairs []PairForm }
	r.mustAsk("GET", "/api/shelf/pairs", nil, &pairs)
	if len(pairs.Pairs) != 1 || math.Abs(pairs.Pairs[0].Beat-1.5) > 0.6 || pairs.Pairs[0].A.ObjectName != "jar 7" || pairs.Pairs[0].Sigma == nil {
		t.Errorf("pairs: got %+v, wanted jar 7 and jar 9 at 1.5 Hz", pairs.Pairs)
	}
	// On foam the second partial rings 2.3 times as long; still on the trail.
	foam := lowJar()
	foam[1].T60 *= 2.3
	on := r.strike(foam, 0)
	var c CompareForm
	r.mustAsk("GET", "/api/shelf/compare?a="+kept["jar 7"]+"&b="+on, nil, &c)
	if c.A.Label != "jar 7" || c.A.Voice == nil || c.B.Voice != nil || *c.B.Sound != "/api/strikes/"+on+".wav" || len(c.Partials) != 4 {
		t.Fatalf("compare: got %+v, %+v, %d pairs", c.A, c.B, len(c.Partials))
	}
	if d := c.Partials[1].Ring; d == nil || !d.Significant || math.Abs(d.By-2.3) > 0.5 || len(c.Words) == 0 || !strings.Contains(strings.Join(c.Words, " "), "times as long") {
		t.Errorf("on foam: got %+v, %q, wanted 2.3 times as long", d, c.Words)
	}
	if c.Spectra == nil || len(c.Spectra.Frequency) != len(c.Spectra.A) || len(c.Spectra.A) != len(c.Spectra.B) || c.Decay == nil || len(c.Decay.Time) < 40 {
		t.Errorf("curves: got %+v", c.Spectra)
	}
	if c.A.Gain == nil || c.B.Gain == nil || max(*c.A.Gain, *c.B.Gain) != 0 || min(*c.A.Gain, *c.B.Gain) < -6 {
		t.Errorf("gains: got %v and %v dB, wanted 0 and a little less", c.A.Gain, c.B.Gain)
	}
	for _, file := range []string{"shelf.jsonl", "objects.csv", "voices.csv", "strikes.csv"} {
		if status, got, h := r.ask("GET", "/api/shelf/export/"+file, nil); status != http.StatusOK || len(got) < 100 || !strings.Contains(h.Get("Content-Disposition"), file) {
			t.Errorf("%s: got %d, %d bytes, %v", file, status, len(got), h)
		}
	}
}

func (r *shelfRig) keepAs(id, name string) (voice string) {
	r.t.Helper()
	var list struct{ Objects []ObjectForm }
	r.mustAsk("GET", "/api/shelf/objects", nil, &list)
	for _, o := range list.Objects {
		if o.Name == name {
			return r.keep(id, m{"object": o.ID}).Kept.Voice
		}
	}
	return r.keep(id, m{"name": name}).Kept.Voice
}
