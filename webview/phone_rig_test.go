package webview

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

const (
	earFrame = 960 // samples of a frame, 20 ms at 48 kHz
)

// appendFrame writes a frame as a page does.
func appendFrame(dst []byte, kind byte, sequence uint32, clock uint64, sound []float64) []byte {
	dst = append(dst, frameVersion, kind)
	dst = binary.LittleEndian.AppendUint16(dst, uint16(len(sound)))
	dst = binary.LittleEndian.AppendUint32(dst, sequence)
	dst = binary.LittleEndian.AppendUint64(dst, clock)
	for _, x := range sound {
		if kind == frameInt16 {
			dst = binary.LittleEndian.AppendUint16(dst, uint16(int16(math.Round(x*32768))))
		} else {
			dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(float32(x)))
		}
	}
	return dst
}

func helloText(token string, rate float64, settings string) string {
	return `{"v":1,"type":"hello","token":"` + token + `","rate_hz":` + jsonNumber(rate) + `,"settings":` + settings + `}`
}

func jsonNumber(x float64) string {
	b, _ := json.Marshal(x)
	return string(b)
}

const clean = `{"echoCancellation":false,"noiseSuppression":false,"autoGainControl":false,"channelCount":1}`

// lend opens /ear on a paired device and waits until it is welcome.
func lend(t *testing.T, b *browser, rate float64) *websocket.Conn {
	t.Helper()
	c, resp, err := b.socket(earPath)
	if err != nil {
		t.Fatalf("%s: %v %v", earPath, err, resp)
	}
	t.Cleanup(func() { c.Close() })
	welcome(t, c, helloText(b.token(), rate, clean))
	return c
}

// lendHere opens /ear as a page on this machine does.
func (r *rig) lendHere(t testing.TB, hello string) *websocket.Conn {
	t.Helper()
	c, resp, err := websocket.DefaultDialer.Dial("ws://"+r.addr+earPath, http.Header{"Origin": {"http://" + r.addr}})
	if err != nil {
		t.Fatalf("%s: %v %v", earPath, err, resp)
	}
	t.Cleanup(func() { c.Close() })
	welcome(t, c, hello)
	return c
}

func welcome(t testing.TB, c *websocket.Conn, hello string) earTold {
	t.Helper()
	if err := c.WriteMessage(websocket.TextMessage, []byte(hello)); err != nil {
		t.Fatal(err)
	}
	return toldNext(t, c)
}

func toldNext(t testing.TB, c *websocket.Conn) (told earTold) {
	t.Helper()
	c.SetReadDeadline(time.Now().Add(patience))
	_, data, err := c.ReadMessage()
	if err == nil {
		err = json.Unmarshal(data, &told)
	}
	if err != nil || told.Type != typeEar {
		t.Fatalf("told on %s: got %s, %v", earPath, data, err)
	}
	return told
}

// phoneRig has a page here whose microphone is the ear.
func phoneRig(t *testing.T, rate float64, tune ...func(*Server)) (*rig, *websocket.Conn, *PhoneSource) {
	t.Helper()
	r := start(t, Config{Sources: []string{"mic", FromPhone}}, tune...)
	c := r.lendHere(t, helloText(r.token(caller{here: true}), rate, clean))
	s, err := r.OpenPhone(t.Context(), "", func(words string) { t.Errorf("it waits: %s", words) })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return r, c, s
}

func send(t testing.TB, c *websocket.Conn, message []byte) {
	t.Helper()
	if err := c.WriteMessage(websocket.BinaryMessage, message); err != nil {
		t.Fatal(err)
	}
}

// next waits for sound or an error.
func next(ctx context.Context, s listen.Source) (analysis.Block, error) {
	for {
		b, err := s.Next(ctx)
		if err != nil || len(b.Samples) > 0 {
			return b, err
		}
	}
}
