package webview

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"ringwell/analysis/listen"
	"ringwell/webview/share"
)

// The answers to requests about the doors, and what goes over /ear, as the
// page reads and writes them.
func TestWireOfTheDoors(t *testing.T) {
	at := time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC)
	device := share.Device{ID: "0123456789ab", Name: "blue phone " + hostile, Paired: at, Seen: at.Add(time.Hour)}
	token := share.Token{ID: "ba9876543210", Name: "foot switch", Call: "POST /api/tone", Made: at}
	print := "00:11:22:33:44:55:66:77:88:99:AA:BB:CC:DD:EE:FF:00:11:22:33:44:55:66:77:88:99:AA:BB:CC:DD:EE:FF"
	p := &phone{id: "0123456789ab", name: "blue phone", rate: 48000}
	p.tallies.frames.Store(1200)
	p.tallies.missing.Store(24)
	p.tallies.lost.Store(23040)
	urls := []string{"https://192.168.1.7:7342/", "https://hall:7342/", "https://hall.local:7342/"}
	for name, what := range map[string]any{
		"answers/token":      tokenAnswer{"kZ0pXwV3uQ"},
		"answers/share":      shareAnswer{On: true, URLs: urls, Fingerprint: &print, Here: true},
		"answers/share-away": shareAnswer{On: true, URLs: urls, Fingerprint: &print, Device: &device},
		"answers/share-off":  shareAnswer{URLs: []string{}, Here: true},
		"answers/pairing":    pairingAnswer{"https://192.168.1.7:7342/pair#AAAAAAAAAAAAAAAAAAAAAA", at.Add(share.OfferLasts)},
		"answers/pair":       device,
		"answers/devices":    devicesAnswer{[]share.Device{device}},
		"answers/scripts":    scriptsAnswer{[]string{"PATCH /api/session", "POST /api/tone"}, []share.Token{token}},
		"answers/granted":    grantedAnswer{token, "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"},
		"answers/refused": struct {
			Error *Refusal `json:"error"`
		}{refuse(403, "token", "This change does not come from ringwell's page as it is now.")},
		"ear/hello": earHello{V: SchemaVersion, Type: "hello", Token: "kZ0pXwV3uQ", Rate: 48000, Settings: map[string]any{
			"echoCancellation": false, "noiseSuppression": false, "autoGainControl": false, "channelCount": 1, "sampleRate": 48000,
		}},
		"ear/told":       p.told(),
		"ear/phones":     phonesMessage{head(typePhones), []Phone{samplePhone()}},
		"ear/no-phones":  phonesMessage{head(typePhones), []Phone{}},
		"ear/state-deaf": stateMessage{head(typeState), stateForm(listen.State{Code: listen.Deaf, Source: "blue phone", Rate: 48000, Words: "the link to blue phone is lost. Trying again now."})},
	} {
		var got bytes.Buffer
		if err := json.Indent(&got, encode(what), "", "  "); err != nil {
			t.Fatal(err)
		}
		got.WriteByte('\n')
		golden(t, name+".json", got.Bytes())
	}
	sound := []float64{0, 0.5, -0.5, 0.25, -1, 0.999969482421875}
	golden(t, "ear/frame-float32.bin", appendFrame(nil, frameFloat32, 7, 6720, sound))
	golden(t, "ear/frame-int16.bin", appendFrame(nil, frameInt16, 8, 5_000_000_000, sound))
}

// golden holds bytes against a file of testdata/wire.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join(wireDir, filepath.FromSlash(name))
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s: got\n%q\nwant\n%q\n(if the new form is meant: go test ./webview -run Wire -update)", file, got, want)
	}
}
