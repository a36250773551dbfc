package webview

import (
	"net/http"

	"ringwell/analysis"
	"ringwell/analysis/bench"
)

// benchTable is every path of the bench.
func (s *Server) benchTable() map[string]map[string]handler {
	return map[string]map[string]handler{
		"/api/bench":              {"GET": s.getBench, "POST": s.postBench, "PATCH": s.patchBench, "DELETE": s.deleteBench},
		"/api/bench/pour":         {"POST": s.postPour},
		"/api/bench/entries":      {"POST": s.postEntry},
		"/api/bench/undo":         {"POST": s.postUndo},
		"/api/bench/row":          {"POST": s.postRow},
		"/api/temperature":        {"GET": s.getTemperature, "POST": s.postTemperature},
		"/api/drift":              {"GET": s.getDrift, "POST": s.postDrift},
		"/api/drift/follow":       {"POST": s.postDriftFollow},
		"/api/drift/{voice}":      {"DELETE": s.deleteDrift},
		"/api/drift/{voice}/undo": {"POST": s.postDriftUndo},
	}
}

func (s *Server) getBench(w http.ResponseWriter, _ *http.Request) error {
	answer(w, s.Bench())
	return nil
}

func (s *Server) postBench(w http.ResponseWriter, r *http.Request) error {
	var spec BenchSpec
	if err := readBody(w, r, &spec); err != nil {
		return err
	}
	if len([]rune(spec.Vessel)) > longestName {
		return refuse(http.StatusUnprocessableEntity, "vessel", "A name has %d characters at most.", longestName)
	}
	j, err := s.job(spec)
	if err != nil {
		return err
	}
	session, err := bench.Begin(j, spec.Already)
	if err != nil {
		return refuse(http.StatusUnprocessableEntity, "already_ml", "%s.", sentenceCase(plain(err)))
	}
	spec.Pour = j.Pouring
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	b.spec, b.session, b.asks = &spec, session, nil
	answer(w, s.workOut())
	return nil
}

// onBench runs do with the job there is.
func (s *Server) onBench(w http.ResponseWriter, do func(b *workbench) error) error {
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.session == nil {
		return refuse(http.StatusConflict, "", "There is no job on the bench. Begin one with what it holds and an aim.")
	}
	if err := do(b); err != nil {
		return err
	}
	answer(w, s.workOut())
	return nil
}

func (s *Server) patchBench(w http.ResponseWriter, r *http.Request) error {
	var c struct {
		Aim    *string        `json:"aim"`
		Pour   *bench.Pouring `json:"pour"`
		Follow *bool          `json:"follow"`
		Vessel *string        `json:"vessel"`
	}
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	return s.onBench(w, func(b *workbench) error {
		spec := *b.spec
		if c.Aim != nil {
			spec.Aim = *c.Aim
		}
		if c.Pour != nil {
			spec.Pour = *c.Pour
		}
		if c.Follow != nil {
			spec.Follow = c.Follow
		}
		if c.Vessel != nil {
			if len([]rune(*c.Vessel)) > longestName {
				return refuse(http.StatusUnprocessableEntity, "vessel", "A name has %d characters at most.", longestName)
			}
			spec.Vessel = *c.Vessel
		}
		j, err := s.job(spec)
		if err != nil {
			return err
		}
		b.spec, b.session.Job = &spec, j
		return nil
	})
}

func (s *Server) deleteBench(w http.ResponseWriter, _ *http.Request) error {
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	b.spec, b.session, b.asks = nil, nil, nil
	answer(w, s.workOut())
	return nil
}

func (s *Server) postPour(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		ML    *float64 `json:"ml"` // negative: taken out
		Grams *float64 `json:"g"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	return s.onBench(w, func(b *workbench) error {
		if (want.ML == nil) == (want.Grams == nil) {
			return refuse(http.StatusUnprocessableEntity, "ml", "Say how much was poured, in ml or in g; negative is taken out.")
		}
		ml := 0.0
		if want.ML != nil {
			ml = *want.ML
		} else {
			ml = *want.Grams / b.session.Job.WaterDensity()
		}
		if err := b.session.Pour(ml); err != nil {
			return refuse(http.StatusUnprocessableEntity, "ml", "%s.", sentenceCase(plain(err)))
		}
		return nil
	})
}

func (s *Server) postEntry(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Strike *string  `json:"strike"`
		Anyway bool     `json:"anyway"` // it was what is meant, whatever it sounds like
		Hz     *float64 `json:"hz"`
		Sigma  float64  `json:"sigma_cents"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if (want.Strike == nil) == (want.Hz == nil) {
		return refuse(http.StatusUnprocessableEntity, "strike", "Name a strike, or type the frequency that was heard.")
	}
	var strike analysis.Strike
	if want.Strike != nil {
		s.mu.Lock()
		e := s.trail.find(*want.Strike)
		if e != nil {
			strike = e.strike
		}
		s.mu.Unlock()
		if e == nil || strike.Heard == nil {
			return refuse(http.StatusNotFound, "strike", "There is no strike %s with a pitch any more; strike it again.", *want.Strike)
		}
	}
	return s.onBench(w, func(b *workbench) error {
		e := bench.Entry{Air: s.air(), Sigma: analysis.Cents(want.Sigma)}
		if want.Hz != nil {
			e.Heard = analysis.Hz(*want.Hz)
		} else {
			told, ok := bench.Told(strike)
			if ok && told != b.session.Job.Way && !want.Anyway {
				s.ask(strike, told)
				s.workOut()
				return refuse(http.StatusConflict, "strike", "%s", b.asks.Words)
			}
			for _, was := range b.session.Entries {
				if was.Strike == strike.ID {
					return refuse(http.StatusConflict, "strike", "That strike is an entry already.")
				}
			}
			e = s.entryOf(strike)
		}
		if err := b.session.Hear(e); err != nil {
			return refuse(http.StatusUnprocessableEntity, "hz", "%s.", sentenceCase(plain(err)))
		}
		b.asks = nil
		return nil
	})
}

func (s *Server) postUndo(w http.ResponseWriter, _ *http.Request) error {
	return s.onBench(w, func(b *workbench) error {
		if b.asks != nil { // the question goes first
			b.asks = nil
			return nil
		}
		if !b.session.Undo() {
			return refuse(http.StatusConflict, "", "There is nothing left to take back.")
		}
		return nil
	})
}

// RowSpec is a set of vessels as POST /api/bench/row takes it.
type RowSpec struct {
	Way     bench.Way     `json:"way"`
	Pour    bench.Pouring `json:"pour"`
	Vessels []struct {
		Name   string  `json:"name"`
		Holds  float64 `json:"holds_ml"`
		Sounds []struct {
			In float64 `json:"in_ml"`
			Hz float64 `json:"hz"`
		} `json:"sounds"`
	} `json:"vessels"`
	Aims []string `json:"aims"` // each as in a wanted list
}

// RowForm says which vessel is for which aim; "ringwell bench row --json" writes
// it, too.
type RowForm struct {
	Placed []RowPlace `json:"placed"` // in the order of the aims
	Bare   []string   `json:"bare"`   // aims nothing is likely to reach
	Spare  []string   `json:"spare"`  // vessels left over
}

// RowPlace is a vessel with its aim.
type RowPlace struct {
	Aim    string     `json:"aim"`
	Vessel string     `json:"vessel"`
	Add    float64    `json:"add_ml"` // negative: take out
	Fill   float64    `json:"fill_ml"`
	Sigma  float64    `json:"sigma_ml"`
	Grams  float64    `json:"fill_g"`
	Chance float64    `json:"chance"` // that it reaches the aim
	Step   bench.Step `json:"step"`   // what to do first
}

// RowOf returns the form of a row.
func RowOf(row bench.Row, vessels []bench.Vessel, aims []bench.Aim) RowForm {
	out := RowForm{Placed: []RowPlace{}, Bare: []string{}, Spare: []string{}}
	for _, p := range row.Placed {
		out.Placed = append(out.Placed, RowPlace{
			aims[p.Aim].Name, vessels[p.Vessel].Name, round(p.Change, placesML), round(p.Fill.Value, placesML), round(p.Fill.Sigma, placesML),
			round(p.Grams, placesML), round(p.Chance, placesShare), p.Advice.Step,
		})
	}
	for _, a := range row.Bare {
		out.Bare = append(out.Bare, aims[a].Name)
	}
	for _, v := range row.Spare {
		out.Spare = append(out.Spare, vessels[v].Name)
	}
	return out
}

// mostVessels bounds what one request may have worked out.
const mostVessels = 24

func (s *Server) postRow(w http.ResponseWriter, r *http.Request) error {
	var spec RowSpec
	if err := readBody(w, r, &spec); err != nil {
		return err
	}
	if len(spec.Vessels) == 0 || len(spec.Aims) == 0 || len(spec.Vessels) > mostVessels || len(spec.Aims) > mostVessels {
		return refuse(http.StatusUnprocessableEntity, "vessels", "Give 1 to %d vessels and as many aims.", mostVessels)
	}
	var vessels []bench.Vessel
	var aims []bench.Aim
	for i, v := range spec.Vessels {
		j, err := s.job(BenchSpec{Way: spec.Way, Pour: spec.Pour, Holds: v.Holds, Aim: spec.Aims[0]})
		if err != nil {
			return err
		}
		if len(v.Sounds) > 12 {
			return refuse(http.StatusUnprocessableEntity, "vessels", "Vessel %d has more than 12 sounds.", i+1)
		}
		vessel, in := bench.Vessel{Name: v.Name, Job: j}, 0.0
		for _, sound := range v.Sounds {
			vessel.Entries = append(vessel.Entries, bench.Entry{Added: sound.In - in, Heard: analysis.Hz(sound.Hz)})
			in = sound.In
		}
		vessels = append(vessels, vessel)
	}
	s.mu.Lock()
	in := s.in
	s.mu.Unlock()
	for _, text := range spec.Aims {
		aim, err := benchAim(text, in)
		if err != nil {
			return err
		}
		aims = append(aims, aim)
	}
	row, err := bench.Assign(vessels, aims)
	if err != nil {
		return refuse(http.StatusUnprocessableEntity, "vessels", "%s.", sentenceCase(plain(err)))
	}
	answer(w, RowOf(row, vessels, aims))
	return nil
}
