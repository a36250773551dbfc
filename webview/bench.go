package webview

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/analysis/instrument"
	"ringwell/analysis/physics/air"
	"ringwell/analysis/physics/cavity"
	"ringwell/analysis/wanted"
)

// workbench is the job of water that is being done, what is known of the
// temperature, and the drift that is being noted. It has a lock of its own:
// an advice takes some tens of milliseconds, and strikes do not wait for it.
type workbench struct {
	strikes chan analysis.Strike // to be looked at
	retune  chan struct{}        // the instrument is another
	post    atomic.Pointer[post] // the latest, for pages that come later; nil: there was none
	file    benchFile

	mu       sync.Mutex
	revision int
	spec     *BenchSpec // nil: no job
	session  *bench.Session
	form     Bench // as it was last worked out
	asks     *BenchAsk
	asked    analysis.Strike
	warmth   *Warmth
	drift    driftLog
	notice   *string
}

const (
	waitingStrikes = 32               // for the bench; more at once are not followed
	warmthLasts    = 15 * time.Minute // a temperature is taken to hold for as long
	usualHumidity  = 50.0             // per cent, where only degrees are known
)

// BenchSpec is a job as POST /api/bench takes it. Of PATCH only aim, pour, follow and
// vessel count.
type BenchSpec struct {
	Way      bench.Way     `json:"way"`        // struck or blown
	Holds    float64       `json:"holds_ml"`   // struck: to the brim; blown: to the foot of the neck
	Already  float64       `json:"already_ml"` // in it before the first sound
	Aim      string        `json:"aim"`        // as in a wanted list: "F#5 +30 +-5"
	Pour     bench.Pouring `json:"pour"`       // scale, syringe or eye
	Vessel   string        `json:"vessel"`     // what it is called
	Follow   *bool         `json:"follow"`     // strikes that are heard become entries; null: yes
	Rounding float64       `json:"rounding_hz"`
	Scatter  float64       `json:"scatter_cents"`          // from one sound to the next; 0: usual
	Water    float64       `json:"water_celsius"`          // for weighing; 0: 20
	Stage    *float64      `json:"stage_celsius"`          // blown: the air where it will be played
	Neck     *BottleNeck   `json:"bottle"`                 // its measures, if they are known
	Humidity *float64      `json:"stage_humidity_percent"` // there
}

// BottleNeck is a bottle's inner measures in mm.
type BottleNeck struct {
	Bore   float64 `json:"neck_bore_mm"`
	Length float64 `json:"neck_length_mm"`
	Body   float64 `json:"body_bore_mm"`
}

// Bench is the state of the bench: GET /api/bench, and the message of that type.
type Bench struct {
	Revision int        `json:"revision"`
	Job      *BenchSpec `json:"job"` // null: there is none
	Aim      *BenchAim  `json:"aim"`
	Advice   *Advice    `json:"advice"`
	Pending  float64    `json:"pending_ml"` // poured, not yet sounded
	Undo     int        `json:"undo"`       // how many steps can be taken back
	Asks     *BenchAsk  `json:"asks"`
	Warmth   *Warmth    `json:"temperature"` // null: not known, or too old
	Cautions []string   `json:"cautions"`    // to be shown before water is poured
	Notice   *string    `json:"notice"`      // what is wrong with keeping it
}

// BenchAim is the aim as it was read.
type BenchAim struct {
	Name      string  `json:"name"`
	Target    float64 `json:"target_hz"` // bend included
	Tolerance float64 `json:"tolerance_cents"`
}

// BenchAsk is a strike that was not taken: it sounds as if the other thing was
// done. POST /api/bench/entries {"strike":ID,"anyway":true} takes it.
type BenchAsk struct {
	Strike string    `json:"strike"`
	Way    bench.Way `json:"way"` // what it sounds like
	Heard  float64   `json:"heard_hz"`
	Words  string    `json:"words"`
}

// Warmth is the latest temperature.
type Warmth struct {
	Celsius  float64  `json:"celsius"`
	Humidity *float64 `json:"humidity_percent"`
	At       string   `json:"at"` // UTC

	at time.Time
}

func (b *workbench) follows() bool { return b.spec != nil && (b.spec.Follow == nil || *b.spec.Follow) }

// cautions are said before water is poured.
func cautions(w bench.Way) []string {
	all := []string{
		"No hot water into cold glass; do not strike what is chipped or cracked. Wet floors are slippery, and shards in water are not seen.",
		"Keep water away from everything on mains power, the computer among it, and from the microphone.",
		"Never drink from it: glazes may hold lead. Follow your local codes, and leave to licensed practice what belongs there.",
	}
	if w == bench.Blown {
		all = append(all, "Wash a found bottle before it touches a mouth, and never blow a chipped rim.")
	}
	return all
}

// job reads a spec; refusals name its field.
func (s *Server) job(spec BenchSpec) (bench.Job, error) {
	unfit := func(field, format string, args ...any) error {
		return refuse(http.StatusUnprocessableEntity, field, format, args...)
	}
	s.mu.Lock()
	in := s.in
	s.mu.Unlock()
	j := bench.Job{
		Way: spec.Way, Capacity: spec.Holds, Pouring: spec.Pour, Rounding: analysis.Hz(spec.Rounding),
		Scatter: analysis.Cents(spec.Scatter), Water: spec.Water,
	}
	if j.Pouring == "" {
		j.Pouring = bench.Scale
	}
	aim, err := benchAim(spec.Aim, in)
	if err != nil {
		return j, err
	}
	j.Aim = aim
	if spec.Neck != nil {
		n := *spec.Neck
		if !(n.Bore >= 5 && n.Length >= 5 && n.Body > n.Bore && n.Body <= 500 && n.Length <= 500) {
			return j, unfit("bottle", "Give the neck's bore and length and the body's bore in mm, the body wider than the neck.")
		}
		j.Bottle = &cavity.Bottle{NeckRadius: n.Bore / 2000, NeckLength: n.Length / 1000, BodyRadius: n.Body / 2000, Volume: spec.Holds * 1e-6}
	}
	if spec.Stage != nil {
		humidity := usualHumidity
		if spec.Humidity != nil {
			humidity = *spec.Humidity
		}
		j.Stage = &air.Air{Celsius: *spec.Stage, Humidity: humidity / 100}
	}
	if err := j.Check(); err != nil {
		return j, unfit(fieldOf(err), "%s.", sentenceCase(plain(err)))
	}
	return j, nil
}

// plain is an error's words without the names of packages.
func plain(err error) string {
	words := err.Error()
	for _, p := range []string{"bench: ", "drift: ", "water: ", "air: "} {
		words = strings.ReplaceAll(words, p, "")
	}
	return strings.ReplaceAll(words, "\n", "; ")
}

// fieldOf names the field of a spec that an error of bench.Job.Check is about.
func fieldOf(err error) string {
	var fault *bench.Fault
	if !errors.As(err, &fault) {
		return ""
	}
	return map[string]string{
		"way": "way", "capacity": "holds_ml", "pouring": "pour", "aim": "aim", "tolerance": "aim", "scatter": "scatter_cents",
		"rounding": "rounding_hz", "water": "water_celsius", "stage": "stage_celsius",
	}[fault.Of]
}

func benchAim(text string, in instrument.Instrument) (bench.Aim, error) {
	list, faults := wanted.Parse(text)
	if len(faults) > 0 {
		return bench.Aim{}, refuse(http.StatusUnprocessableEntity, "aim", "%s.", sentenceCase(faults[0].Words))
	}
	if len(list.Places) != 1 {
		return bench.Aim{}, refuse(http.StatusUnprocessableEntity, "aim", "Give one place to aim at, as in F#5 +30 +-5.")
	}
	p := list.Places[0]
	return bench.Aim{Name: p.Name(), Target: p.Target(in), Tolerance: p.Tolerance}, nil
}

// Bench returns the bench as it stands.
func (s *Server) Bench() Bench {
	s.bench.mu.Lock()
	defer s.bench.mu.Unlock()
	return s.bench.form
}

// workOut makes the form anew and tells the pages. Callers hold bench.mu.
func (s *Server) workOut() Bench {
	b := s.bench
	b.revision++
	form := Bench{Revision: b.revision, Asks: b.asks, Cautions: []string{}, Notice: b.notice}
	if b.warmth != nil && s.cfg.Now().Sub(b.warmth.at) < warmthLasts {
		form.Warmth = b.warmth
	}
	if b.session != nil {
		spec := *b.spec
		form.Job = &spec
		if j, err := s.job(spec); err == nil { // the instrument may be another by now
			b.session.Job = j
		}
		j := b.session.Job
		tolerance := float64(j.Aim.Tolerance)
		if tolerance == 0 {
			tolerance = 5
		}
		form.Aim = &BenchAim{j.Aim.Name, round(j.Aim.Target, placesHz), round(tolerance, 2)}
		form.Advice = AdviceForm(b.session.Advise(), j, b.session.Entries)
		form.Pending, form.Undo = round(b.session.Pending, placesML), b.session.Undoable()
		form.Cautions = cautions(j.Way)
	}
	b.form = form
	s.tellBench()
	s.markDirty()
	return form
}

// tellBench tells the pages, those that come later as well. Callers hold
// bench.mu.
func (s *Server) tellBench() {
	p := post{key: typeBench, data: encode(benchMessage{head(typeBench), s.bench.form})}
	s.bench.post.Store(&p)
	s.hub.publish(p)
}

// retuned has the bench work out its aim anew, and never waits.
func (s *Server) retuned() {
	select {
	case s.bench.retune <- struct{}{}:
	default:
	}
}

// air is what is known of the air now; nil for nothing. Callers hold bench.mu.
func (s *Server) air() *air.Air {
	w := s.bench.warmth
	if w == nil || s.cfg.Now().Sub(w.at) >= warmthLasts {
		return nil
	}
	humidity := usualHumidity
	if w.Humidity != nil {
		humidity = *w.Humidity
	}
	return &air.Air{Celsius: w.Celsius, Humidity: humidity / 100}
}

// entryOf is a strike as an entry. Callers hold bench.mu.
func (s *Server) entryOf(strike analysis.Strike) bench.Entry {
	return bench.Entry{Heard: strike.Heard.Frequency, Sigma: strike.Heard.Sigma, Air: s.air(), Partials: strike.Partials, Strike: strike.ID}
}

// lookAt has the bench look at a strike, and never waits. Callers hold mu.
func (s *Server) lookAt(strike analysis.Strike) {
	if strike.Heard == nil && strike.Stage != analysis.Withdrawn || strike.Stage == analysis.Early {
		return
	}
	strike.Partials = slices.Clone(strike.Partials)
	select {
	case s.bench.strikes <- strike:
	default:
	}
}

// keepBench follows the strikes until the server stops.
func (s *Server) keepBench() {
	for {
		select {
		case strike := <-s.bench.strikes:
			s.follow(strike)
		case <-s.bench.retune:
			s.bench.mu.Lock()
			if s.bench.session != nil {
				s.workOut()
			}
			s.bench.mu.Unlock()
		case <-s.stop:
			return
		}
	}
}

// follow takes a strike as an entry, or brings the entry it is up to date.
func (s *Server) follow(strike analysis.Strike) {
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	if strike.Stage == analysis.Final && strike.Heard != nil {
		s.noteDrift(strike)
	}
	if !b.follows() || s.muted() {
		return
	}
	at := slices.IndexFunc(b.session.Entries, func(e bench.Entry) bool { return e.Strike == strike.ID })
	if strike.Stage == analysis.Withdrawn || strike.Heard == nil {
		if at >= 0 && at == len(b.session.Entries)-1 {
			b.session.Undo()
			s.workOut()
		}
		return
	}
	told, ok := bench.Told(strike)
	other := ok && told != b.session.Job.Way
	switch {
	case at >= 0 && other && strike.Stage == analysis.Final && at == len(b.session.Entries)-1:
		b.session.Undo()
		s.ask(strike, told)
	case at >= 0:
		b.session.Entries = slices.Clone(b.session.Entries)
		now := s.entryOf(strike)
		now.Added = b.session.Entries[at].Added
		b.session.Entries[at] = now
	case b.asks != nil && b.asks.Strike == strike.ID && !other:
		b.asks = nil
		if b.session.Hear(s.entryOf(strike)) != nil {
			return
		}
	case other && strike.Stage != analysis.Final:
		return // it may still turn out otherwise
	case other:
		s.ask(strike, told)
	default:
		b.asks = nil
		if b.session.Hear(s.entryOf(strike)) != nil {
			return // a sound outside what the bench works with
		}
	}
	s.workOut()
}

func (s *Server) muted() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.session.Muted
}

// ask asks about a strike that sounds as if the other thing was done. Callers
// hold bench.mu.
func (s *Server) ask(strike analysis.Strike, told bench.Way) {
	meant := s.bench.session.Job.Way
	s.bench.asked = strike
	s.bench.asks = &BenchAsk{
		Strike: strike.ID, Way: told, Heard: round(strike.Heard.Frequency, placesHz),
		Words: fmt.Sprintf("That sounds %s, and %s is meant: water moves the two opposite ways. Was it %s?", told, meant, told),
	}
}
