package webview

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"sync"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
	"ringwell/analysis/match"
)

// ShelfOptions is the shelf the server keeps strikes on, and what it needs for
// it.
type ShelfOptions struct {
	// Write is nil where nothing can be written, Read where nothing can be
	// read; Notice then says why, in one sentence.
	Write  *catalogue.Shelf
	Read   *catalogue.Reader
	Notice string
	// Reopen tries to open the shelf to write, as it could not be before: another
	// program may have let go of it, or somebody made room. It closes nothing. Nil:
	// trying again is of no use.
	Reopen func(context.Context) (*catalogue.Shelf, error)

	Ear string // version of the ear that measures, as the shelf keeps it
	// Encode makes the recording of a strike, Decode reads one.
	Encode func(rate analysis.Rate, sound []float32, onset int, heard *analysis.Pitch) ([]byte, error)
	Decode func(data []byte) (sound []float64, rate analysis.Rate, err error)
	// Invented reports whether a source plays what is invented: that is kept on
	// a demo shelf only, and nothing else is kept there. Nil: none does.
	Invented func(source string) bool
}

// shelf is the shelf as the server knows it. Server.mu guards what is not said
// to be otherwise; nothing of it is held while the disk is read or written.
type shelf struct {
	ShelfOptions
	form     ShelfForm // but for its call-over and walk
	callOver *match.CallOver
	began    string
	degrees  *float64 // at the call-over
	walk     *instrument.Walk
	walkName string

	due   map[string]bool // strikes to be looked at
	again []string        // those to be looked at once more, the newest last
	pasts map[string]past // of voices, read since the shelf changed; only what looks again reads and fills it
	wake  chan struct{}

	known  prints        // has a lock of its own
	reopen time.Duration // how often Reopen is called

	decoding sync.Mutex // one photo at a time: the largest takes 256 MB
}

// ShelfForm is the shelf as a whole, as GET /api/shelf and the message shelf
// tell it.
type ShelfForm struct {
	Revision    int           `json:"revision"` // one more with every change of anything on it
	Open        bool          `json:"open"`     // it can be read
	Writable    bool          `json:"writable"`
	Demo        bool          `json:"demo"`   // invented things, to try it on
	Notice      *string       `json:"notice"` // why it cannot be written or read, in words
	Objects     int           `json:"objects"`
	Voices      int           `json:"voices"`
	Strikes     int           `json:"strikes"`
	Away        int           `json:"away"`        // what was put away and can be taken back
	Instruments []string      `json:"instruments"` // that were measured
	Temperature *float64      `json:"temperature_c"`
	Room        string        `json:"room"`
	Stand       *StandForm    `json:"stand"`     // what every strike is kept as; null: nothing stands there
	CallOver    *CallOverForm `json:"call_over"` // null: none is on
	Walk        *WalkForm     `json:"walk"`      // null: no instrument is being measured
}

// StandForm is the voice on the stand.
type StandForm struct {
	Voice  string `json:"voice"`
	Object string `json:"object"`
	Label  string `json:"label"`
	Kept   int    `json:"kept"` // strikes since it stands there
}

func newShelf(o *ShelfOptions) *shelf {
	s := &shelf{due: map[string]bool{}, wake: make(chan struct{}, 1), reopen: 3 * time.Second, form: ShelfForm{Instruments: []string{}}}
	if o == nil {
		words := "ringwell was started without a shelf."
		s.form.Notice = &words
		return s
	}
	s.ShelfOptions = *o
	if s.Write != nil && s.Read == nil {
		s.Read = &s.Write.Reader
	}
	s.form.Open, s.form.Writable = s.Read != nil, s.Write != nil
	if o.Notice != "" {
		s.form.Notice = &o.Notice
	}
	return s
}

// shelfForm is the whole of it. Callers hold mu.
func (s *Server) shelfForm() ShelfForm {
	form := s.shelf.form
	if s.shelf.callOver != nil {
		c := s.callOverForm()
		form.CallOver = &c
	}
	if s.shelf.walk != nil {
		w := walkForm(s.shelf.walkName, s.shelf.walk)
		form.Walk = &w
	}
	return form
}

// tellShelf tells the pages that something of the shelf has changed. Callers
// hold mu.
func (s *Server) tellShelf() {
	s.shelf.form.Revision++
	s.tell(typeShelf, shelfMessage{head(typeShelf), s.shelfForm()})
}

// shelfChanged counts anew what there is, tells the pages, and has the trail
// held against the shelf as it is now.
func (s *Server) shelfChanged(ctx context.Context) {
	read, err := s.reader()
	if err != nil {
		return
	}
	ctx = context.WithoutCancel(ctx) // it has changed, whether or not who changed it still waits
	tally, err := read.Tally(ctx)
	demo, err2 := read.Demo(ctx)
	instruments, err3 := read.Instruments(ctx)
	if err := errors.Join(err, err2, err3); err != nil {
		s.cfg.Log.Error("shelf", "err", err)
		if trouble := diskTrouble(err); trouble != nil {
			s.noticeShelf(fmt.Sprintf("The shelf cannot be read: %v.", trouble))
		}
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	f := &s.shelf.form
	f.Objects, f.Voices, f.Strikes, f.Away, f.Demo = tally.Objects, tally.Voices, tally.Strikes, tally.Away, demo
	f.Instruments = []string{}
	for _, in := range instruments {
		f.Instruments = append(f.Instruments, in.Name)
	}
	s.tellShelf()
	s.lookAgain()
}

// reader and writer are the shelf to read and to write, or why there is none.
func (s *Server) reader() (*catalogue.Reader, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shelf.Read == nil {
		return nil, s.noShelf()
	}
	return s.shelf.Read, nil
}

func (s *Server) writer() (*catalogue.Shelf, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shelf.Write == nil {
		return nil, s.noShelf()
	}
	return s.shelf.Write, nil
}

// noShelf says why there is none. Callers hold mu.
func (s *Server) noShelf() error {
	words := "The shelf cannot be written to."
	if n := s.shelf.form.Notice; n != nil {
		words = *n
	}
	return refuse(http.StatusServiceUnavailable, "", "%s", words)
}

// refusalOf says in a refusal what the catalogue says in its errors.
func refusalOf(err error) error {
	var fault *catalogue.Fault
	var refused *Refusal
	switch {
	case err == nil || errors.As(err, &refused):
		return err
	case errors.As(err, &fault):
		return refuse(http.StatusUnprocessableEntity, fault.Field, "%s", fault.Words)
	case errors.Is(err, catalogue.ErrPhoto):
		return refuse(http.StatusUnprocessableEntity, "photo", "%s.", sentenceCase(catalogue.ErrPhoto.Error()))
	case errors.Is(err, fs.ErrNotExist):
		return refuse(http.StatusNotFound, "", "The shelf has nothing of that ID.")
	case errors.Is(err, catalogue.ErrOther):
		return refuse(http.StatusConflict, "voice", "That strike is kept already, as another voice. Give it another voice on the shelf, or put it away.")
	}
	if trouble := diskTrouble(err); trouble != nil {
		if errors.Is(trouble, catalogue.ErrDamaged) {
			return refuse(http.StatusServiceUnavailable, "", "The shelf cannot be read: %v.", trouble)
		}
		return refuse(http.StatusInsufficientStorage, "", "It was not kept: %v.", trouble)
	}
	return fmt.Errorf("webview: shelf: %w", err)
}

// diskTrouble is which of the catalogue's errors about its disk err is, whose
// words say what to do; nil: none.
func diskTrouble(err error) error {
	for _, known := range []error{catalogue.ErrFull, catalogue.ErrReadOnly, catalogue.ErrDamaged} {
		if errors.Is(err, known) {
			return known
		}
	}
	return nil
}

// prints are what the voices sound like, for recognition, and what they are
// called.
type prints struct {
	mu     sync.Mutex
	fresh  bool
	voices []match.Voice
	labels map[string]label
	ear    *match.Recogniser
}

// label is what a voice is called.
type label struct{ object, name, words string }

// forget has everything read anew when it is next needed.
func (p *prints) forget() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.fresh = false
}

// with calls do with what is known, read anew where it has to be.
func (p *prints) with(ctx context.Context, r *catalogue.Reader, do func(*prints)) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.fresh {
		if err := p.read(ctx, r); err != nil {
			return err
		}
	}
	do(p)
	return nil
}

func (p *prints) read(ctx context.Context, r *catalogue.Reader) error {
	voices, err := r.Voiceprints(ctx)
	if err != nil {
		return err
	}
	rows, err := r.Find(ctx, catalogue.Query{})
	if err != nil {
		return err
	}
	p.voices, p.labels, p.ear, p.fresh = voices, labelsOf(rows), match.NewRecogniser(voices), true
	return nil
}

// renew reads one voice anew: what a strike that was kept changes.
func (p *prints) renew(row catalogue.Row) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.fresh {
		return
	}
	now := match.Voice{ID: row.Voice.ID, Object: row.Object.ID, Strikes: row.Strikes, Modes: row.Modes}
	for i := range p.voices {
		if p.voices[i].ID == now.ID {
			p.voices[i] = now
			return
		}
	}
	p.fresh = false // one that is new: its label may tell others apart too
}

// labelsOf calls each voice by its object and place, and by all there is where
// that does not tell it from another.
func labelsOf(rows []catalogue.Row) map[string]label {
	short := func(r *catalogue.Row) string { return joined(r.Object.Name, r.Voice.Place) }
	count := map[string]int{}
	for i := range rows {
		count[short(&rows[i])]++
	}
	all := map[string]label{}
	for i := range rows {
		r := &rows[i]
		words := short(r)
		if count[words] > 1 {
			words = voiceLabel(r)
		}
		all[r.Voice.ID] = label{r.Object.ID, r.Object.Name, words}
	}
	return all
}

func voiceLabel(r *catalogue.Row) string {
	return joined(r.Object.Name, r.Voice.Label())
}

// joined is a name and what else there is to say, if anything.
func joined(name, more string) string {
	if more == "" {
		return name
	}
	return name + ", " + more
}
