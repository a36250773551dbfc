package listen

import (
	"context"
	"io"
	"slices"
	"sync"

	"ringwell/analysis"
)

// fakeSource plays sound in blocks, with a gap, a pause, a break or an end
// where the test wants them.
type fakeSource struct {
	name  string
	rate  analysis.Rate
	live  bool
	sound []float64
	block int

	gapAt, gap int   // before this sample so many are lost
	empty      int   // empty answers before the sound begins
	breaks     error // given instead of io.EOF at the end of the sound
	waits      bool  // at the end of the sound Next waits for its context

	mu     sync.Mutex
	at     int
	closed bool
}

func (s *fakeSource) Name() string        { return s.name }
func (s *fakeSource) Rate() analysis.Rate { return s.rate }
func (s *fakeSource) Live() bool          { return s.live }

func (s *fakeSource) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

func (s *fakeSource) isClosed() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.closed
}

func (s *fakeSource) Next(ctx context.Context) (analysis.Block, error) {
	if s.isClosed() {
		return analysis.Block{}, io.EOF
	}
	if err := ctx.Err(); err != nil {
		return analysis.Block{}, err
	}
	if s.empty > 0 {
		s.empty--
		return analysis.Block{Start: int64(s.at)}, nil
	}
	if s.at == len(s.sound) {
		switch {
		case s.waits:
			<-ctx.Done()
			return analysis.Block{}, ctx.Err()
		case s.breaks != nil:
			return analysis.Block{}, s.breaks
		}
		return analysis.Block{}, io.EOF
	}
	end := min(s.at+s.block, len(s.sound))
	b := analysis.Block{}
	if s.gap > 0 && s.at <= s.gapAt && s.gapAt < end {
		if s.at == s.gapAt {
			b.Lost = int64(s.gap)
		} else {
			end = s.gapAt
		}
	}
	b.Samples = slices.Clone(s.sound[s.at:end])
	b.Start = int64(s.at)
	if s.gap > 0 && s.at >= s.gapAt {
		b.Start += int64(s.gap)
	}
	s.at = end
	return b, nil
}

// FakeSource and NewFakeSource let the tests outside the package use it.
type FakeSource = fakeSource

func NewFakeSource(live bool, sound []float64, gapAt, gap int) *FakeSource {
	return &fakeSource{name: "fake", rate: 48000, live: live, sound: sound, block: 480, gapAt: gapAt, gap: gap}
}

// listener keeps what it is told.
type listener struct {
	tellings []analysis.Strike
	kept     []analysis.Strike
	sounds   [][]float32
	levels   []Level
	rooms    []Room
	states   []State
	onHear   func(analysis.Strike)
	onState  func(State)
}

func (l *listener) Hear(s analysis.Strike) {
	l.tellings = append(l.tellings, s)
	if l.onHear != nil {
		l.onHear(s)
	}
}
func (l *listener) Keep(s analysis.Strike, sound []float32) {
	l.kept = append(l.kept, s)
	l.sounds = append(l.sounds, sound)
}
func (l *listener) Level(v Level) { l.levels = append(l.levels, v) }
func (l *listener) Room(r Room)   { l.rooms = append(l.rooms, r) }
func (l *listener) State(s State) {
	l.states = append(l.states, s)
	if l.onState != nil {
		l.onState(s)
	}
}

func (l *listener) codes() (codes []string) {
	for _, s := range l.states {
		codes = append(codes, s.Code)
	}
	return codes
}
