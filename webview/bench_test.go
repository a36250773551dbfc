package webview

import (
	"testing"

	"ringwell/analysis/listen"
)

// BenchmarkHear is what one telling of a strike with 20 partials costs the
// ear's goroutine with ten pages open: placing, encoding and putting it into
// ten outboxes.
func BenchmarkHear(b *testing.B) {
	r := start(b, Config{})
	for range 10 {
		p := r.dial()
		go func() {
			for {
				if _, _, err := p.ReadMessage(); err != nil {
					return
				}
			}
		}()
	}
	s := strikeN(1)
	for b.Loop() {
		s.Revision++
		r.Hear(s)
	}
	b.ReportMetric(float64(len(encode(strikeMessage{head(typeStrike), StrikeForm(s, r.in, r.session.aim())}))), "B/message")
}

func BenchmarkLevel(b *testing.B) {
	r := start(b, Config{})
	for b.Loop() {
		r.Level(listen.Level{Peak: 0.125, RMS: 0.03})
	}
}

// BenchmarkChange is how long a change of the bend holds the ear up at most:
// all strikes on show, of 20 partials each, land anew.
func BenchmarkChange(b *testing.B) {
	r := start(b, Config{})
	for n := range onShow {
		r.Hear(strikeN(n))
	}
	bend := 0.0
	for b.Loop() {
		bend = 30 - bend
		if _, err := r.Change(Change{Bend: &bend}); err != nil {
			b.Fatal(err)
		}
	}
}
