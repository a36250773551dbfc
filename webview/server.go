package webview

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/webview/share"
)

// Config is what the server is told by the program around it. Functions must
// not call back into the server.
type Config struct {
	Version     string // of the program
	SessionPath string // file the session is kept in; "" keeps nothing

	// WantedPath is the file the wanted list is kept in, beside a directory for
	// the sound of what was found; "" keeps neither.
	WantedPath string

	// BenchPath is the file the bench is kept in; "" keeps nothing.
	BenchPath string
	// Thermometer reads the temperature in °C; nil: there is none. It is asked
	// every ten seconds.
	Thermometer func() (float64, error)

	// Sources are the choices POST /api/source takes, the usual one first.
	Sources []string
	// ChooseSource opens another source; its error is one sentence for people.
	// Nil: the source was settled at the start.
	ChooseSource func(Source) error
	// SetMuted and SetKind tell the ear; they must not block. Nil: not told.
	SetMuted func(bool)
	SetKind  func(analysis.Kind)

	// EncodeWAV writes mono sound as a WAV file. onset is the index in sound at
	// which the strike begins; heard may be nil.
	EncodeWAV func(w io.Writer, rate analysis.Rate, sound []float32, onset int, heard *analysis.Pitch) error

	// Instruments and Instrument are those there are; nil: the built-in ones.
	Instruments []string
	Instrument  func(name string, reference analysis.Hz) (instrument.Instrument, error)

	// Shelf is where strikes are kept; nil: nowhere.
	Shelf *ShelfOptions

	// Book lists the devices that are paired and what scripts may do; nil: one
	// that is kept in memory. Network is the shared door; nil: there is none.
	Book    *share.Book
	Network *share.Network

	Log *slog.Logger     // nil: slog.Default
	Now func() time.Time // nil: time.Now
}

// Server serves the page, holds the session and the trail, and is the ear's
// audience. Its methods are safe for concurrent use.
type Server struct {
	cfg   Config
	http  *http.Server
	page  assets
	hub   *hub
	file  sessionFile // the saver's alone once Serve runs
	found foundFiles  // the saver's too
	dirty chan struct{}
	stop  chan struct{}
	tasks sync.WaitGroup

	mux       *http.ServeMux
	calls     []string // a script's token may be for
	secret    []byte   // behind the page's tokens
	pairing   *share.Pairing
	tally     *tally
	crowd     *crowd
	paces     paces
	phones    *phones
	earTiming earTiming
	counters  counters

	choosing sync.Mutex // one choice of a source at a time

	// mu is held for as long as it takes to work out a message and put it into
	// the outboxes, so that messages leave in the order of what they tell, and
	// never while anything is read or written.
	mu      sync.Mutex
	session Session
	hunt    hunt
	shelf   *shelf
	bench   *workbench // has a lock of its own, taken before mu
	in      instrument.Instrument
	trail   *trail
	pins    []pin // the newest last; never changed in place
	state   State
	room    *post // the latest, for pages that come later
	toneEnd time.Time
	serving bool
	stopped bool
}

// Server is told what is heard.
var _ listen.Audience = (*Server)(nil)

// New returns a server with the session restored from cfg.SessionPath. A
// broken file there is no error: it is moved aside, and Session().Notice says
// so.
func New(cfg Config) (*Server, error) {
	if cfg.Instrument == nil {
		cfg.Instruments, cfg.Instrument = instrument.Names(), instrument.ByName
	}
	if cfg.Log == nil {
		cfg.Log = slog.Default()
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Book == nil {
		book, _, err := share.OpenBook("", cfg.Now)
		if err != nil {
			return nil, err
		}
		cfg.Book = book
	}
	page, err := pageFiles()
	if err != nil {
		return nil, fmt.Errorf("webview: read the page: %w", err)
	}
	s := &Server{
		cfg: cfg, page: page, hub: newHub(usualTiming()), trail: newTrail(), shelf: newShelf(cfg.Shelf),
		bench: &workbench{strikes: make(chan analysis.Strike, waitingStrikes), retune: make(chan struct{}, 1)},
		file:  sessionFile{cfg.SessionPath}, found: foundFiles{cfg.WantedPath}, dirty: make(chan struct{}, 1), stop: make(chan struct{}),
		state: State{Code: listen.Opening, Words: "The ear is being opened."},

		secret: make([]byte, 32), pairing: share.NewPairing(cfg.Now), tally: newTally(), paces: usualPaces(cfg.Now),
		phones: newPhones(), earTiming: usualEarTiming(),
	}
	rand.Read(s.secret) // never fails: it ends the program instead
	s.crowd = newCrowd(s.tally)
	if err := s.restore(); err != nil {
		return nil, err
	}
	s.restoreWanted()
	s.restoreBench()
	s.http = &http.Server{
		Handler:           s.guard(s.routes()),
		ConnContext:       s.crowd.context,
		ConnState:         s.crowd.change,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    headerLimit,
		ErrorLog:          slog.NewLogLogger(cfg.Log.Handler(), slog.LevelDebug),
	}
	return s, nil
}

// restore takes up the session of the last run.
func (s *Server) restore() error {
	fresh := defaultSession(s.cfg.Sources)
	session, pins, notice := s.file.load(fresh)
	s.pins = pins
	in, err := s.cfg.Instrument(session.Instrument, analysis.Hz(session.Reference))
	if err != nil {
		notice = fmt.Sprintf("There is no instrument %q any more; the %s is taken instead.", session.Instrument, fresh.Instrument)
		session.Instrument = fresh.Instrument
		if in, err = s.cfg.Instrument(session.Instrument, analysis.Hz(session.Reference)); err != nil {
			return fmt.Errorf("webview: take the usual instrument: %w", err)
		}
	}
	session.Instrument = in.Name
	if !slices.Contains(s.cfg.Sources, session.Source.Choice) {
		session.Source = fresh.Source // a choice this start does not offer, such as a file
	}
	if notice != "" {
		session.Notice = &notice
		s.cfg.Log.Warn("session", "notice", notice, "file", s.cfg.SessionPath)
	}
	session.Tone.Frequency = toneOf(in, session.aim())
	s.session, s.in = session, in
	if s.cfg.SetKind != nil {
		s.cfg.SetKind(session.Kind)
	}
	return nil
}

// Serve answers on l until Shutdown, and then returns nil. It refuses a
// listener that other machines can reach.
func (s *Server) Serve(l net.Listener) error {
	if !loopback(l.Addr()) {
		return fmt.Errorf("webview: serve on %s: only this machine may reach the page; take 127.0.0.1 or [::1]", l.Addr())
	}
	return s.serve(l)
}

// ServeShared answers paired devices on cfg.Network, over TLS, until Shutdown,
// and then returns nil.
func (s *Server) ServeShared() error {
	if s.cfg.Network == nil {
		return errors.New("webview: the local network is not shared")
	}
	return s.serve(tls.NewListener(s.cfg.Network, s.cfg.Network.TLS()))
}

func (s *Server) serve(l net.Listener) error {
	s.mu.Lock()
	if !s.stopped && !s.serving {
		s.serving = true
		s.tasks.Go(s.keepSession)
		s.tasks.Go(s.keepTime)
		s.tasks.Go(s.watchShelf)
		s.tasks.Go(s.keepBench)
		s.tasks.Go(s.watchThermometer)
	}
	s.mu.Unlock()
	if err := s.http.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("webview: serve on %s: %w", l.Addr(), err)
	}
	return nil
}

// task runs do until it returns by itself once stop is closed; false: the
// server has stopped already.
func (s *Server) task(do func()) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.stopped {
		return false
	}
	s.tasks.Go(do)
	return true
}

// Shutdown tells every page that the server is going away, lets requests end,
// and keeps the session. It returns ctx.Err() where ctx ends before that.
func (s *Server) Shutdown(ctx context.Context) error {
	err := errors.Join(s.hub.close(ctx), s.http.Shutdown(ctx))
	s.mu.Lock()
	if !s.stopped {
		s.stopped = true
		close(s.stop)
	}
	s.mu.Unlock()
	s.tasks.Wait()
	select {
	case <-s.dirty:
		s.saveSession()
	default:
	}
	return err
}

// keepSession writes the session after changes; however many come while it
// writes, it writes once more.
func (s *Server) keepSession() {
	for {
		select {
		case <-s.dirty:
			s.saveSession()
		case <-s.stop:
			return
		}
	}
}

func (s *Server) saveSession() {
	s.saveWanted()
	s.saveBench()
	if s.file.path == "" {
		return
	}
	s.mu.Lock()
	session, pins := s.session, s.pins
	s.mu.Unlock()
	err := s.file.save(session, pins)
	s.mu.Lock()
	defer s.mu.Unlock()
	was := s.session.Notice
	s.session.Notice = nil
	if err != nil {
		s.cfg.Log.Error("session not kept", "err", err)
		words := fmt.Sprintf("Settings cannot be kept across a restart: %v.", err)
		s.session.Notice = &words
	}
	if now := s.session.Notice; (was == nil) != (now == nil) || now != nil && *was != *now {
		s.session.Revision++
		s.tellSession()
	}
}

// keepTime lets go of what has grown too old.
func (s *Server) keepTime() {
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			s.tick(s.cfg.Now())
		case <-s.stop:
			return
		}
	}
}
