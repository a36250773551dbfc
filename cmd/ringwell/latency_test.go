package main

import (
	"context"
	"log/slog"
	"math"
	"net"
	"os/exec"
	"path/filepath"
	"slices"
	"sort"
	"sync"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio"
	"ringwell/webview"
)

// stamped is a microphone that remembers when each sample entered the callback.
type stamped struct {
	*audio.Capture
	mu     sync.Mutex
	ends   []int64 // of blocks
	stamps []time.Time
}

func (s *stamped) Next(ctx context.Context) (analysis.Block, error) {
	b, err := s.Capture.Next(ctx)
	if err == nil && len(b.Samples) > 0 {
		at, _ := s.Entered()
		s.mu.Lock()
		defer s.mu.Unlock()
		s.ends = append(s.ends, b.Start+int64(len(b.Samples)))
		s.stamps = append(s.stamps, at)
	}
	return b, err
}

// entered is when a sample entered the callback.
func (s *stamped) entered(sample int64) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := sort.Search(len(s.ends), func(i int) bool { return s.ends[i] > sample })
	return s.stamps[min(i, len(s.stamps)-1)]
}

// watchAnswer makes the page note every telling of a strike as it comes in on a
// socket of its own, and when the answer first read something else.
const watchAnswer = `(() => {
	const now = () => performance.timeOrigin + performance.now();
	window.tellings = [];
	window.changes = [];
	const socket = new WebSocket("ws://" + location.host + "/socket");
	socket.onmessage = (m) => {
		const d = JSON.parse(m.data);
		if (d.type === "strike") tellings.push({ at: now(), onset: d.strike.onset_sample, used: d.strike.used_s, pitched: d.strike.pitched, id: d.strike.id });
	};
	const answer = document.querySelector("#answer");
	new MutationObserver(() => changes.push({ at: now(), text: answer.textContent })).observe(answer, { childList: true, subtree: true, characterData: true });
	return new Promise((done) => { socket.onopen = () => done(true); });
})()`

// BenchmarkPageLatency strikes bars of changing pitch on the virtual microphone
// and tells, as the 50th and 95th percentile in ms, for the first telling with
// a pitch of each:
//
//   - needed: the sound it rests on, from the onset. No machine can be faster.
//   - page: from the callback getting the last of that sound until the text of
//     the answer has changed in a real browser.
//   - answer: both, from the callback getting the onset.
//
// The sound server's own delay lies before the callback, in neither; see
// BenchmarkRigLatency of audio/mic for that.
//
//	sh cmd/rig.sh env RINGWELL_BROWSER=1 go test -run '^$' -bench PageLatency -benchtime 30x ./cmd/ringwell
func BenchmarkPageLatency(b *testing.B) {
	needRigAndBrowser(b)
	command, err := captureCommand()
	if err != nil {
		b.Fatal(err)
	}
	mic, err := audio.OpenCapture(b.Context(), audio.CaptureOptions{Command: command})
	if err != nil {
		b.Fatal(err)
	}
	source := &stamped{Capture: mic}
	server, err := webview.New(webview.Config{Log: slog.New(slog.DiscardHandler), EncodeWAV: encodeWAV})
	if err != nil {
		b.Fatal(err)
	}
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go server.Serve(door)
	ctx, stop := context.WithCancel(context.Background())
	gone := make(chan struct{})
	go func() {
		defer close(gone)
		listen.Attend(ctx, func(context.Context) (listen.Source, error) { return source, nil }, listen.Options{}, nil, server)
	}()
	defer func() {
		stop()
		<-gone
		server.Shutdown(context.Background())
	}()

	page := browse(b, "http://"+door.Addr().String())
	page.reads("#answer", "^Strike something")
	if !ask[bool](page, watchAnswer) {
		b.Fatal("the page's socket did not open")
	}
	files := make([]string, 7)
	for i := range files {
		files[i] = filepath.Join(b.TempDir(), "bar.wav")
		bar(b, files[i], 440*math.Exp2(float64(5*i)/12), 0.4)
	}

	var needed, shown, answered []float64
	for n := 0; b.Loop(); n++ {
		ask[any](page, `void (tellings.length = 0, changes.length = 0)`)
		if words, err := exec.Command("paplay", "-d", "rig", files[n%len(files)]).CombinedOutput(); err != nil {
			b.Fatalf("paplay: %v: %s", err, words)
		}
		first := ask[*struct {
			Onset             int64
			Used, At, Telling float64
		}](page, `(() => {
			const t = tellings.find((t) => t.pitched);
			const c = t && changes.find((c) => /[A-G]/.test(c.text) && c.at > t.at - 50);
			return c ? { Onset: t.onset, Used: t.used, At: c.at, Telling: t.at } : null;
		})()`)
		if first == nil {
			b.Fatalf("strike %d was not answered", n)
		}
		last := first.Onset + int64(first.Used*float64(source.Rate()))
		ms := func(sample int64) float64 {
			return first.At - float64(source.entered(sample).UnixNano())/1e6
		}
		needed = append(needed, first.Used*1e3)
		shown = append(shown, ms(last))
		answered = append(answered, ms(first.Onset))
	}
	for _, m := range []struct {
		name string
		ms   []float64
	}{{"needed", needed}, {"page", shown}, {"answer", answered}} {
		slices.Sort(m.ms)
		b.ReportMetric(m.ms[len(m.ms)/2], m.name+"-p50-ms")
		b.ReportMetric(m.ms[min(len(m.ms)-1, len(m.ms)*95/100)], m.name+"-p95-ms")
	}
	b.ReportMetric(0, "ns/op")
}
