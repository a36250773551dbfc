package webview

import (
	"context"
	"errors"
	"io/fs"
	"reflect"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// lookAgain has all strikes of the trail held against the shelf once more,
// because something on it has changed. Callers hold mu.
func (s *Server) lookAgain() {
	s.shelf.again, s.shelf.pasts = s.shelf.again[:0], map[string]past{}
	for _, e := range s.trail.entries { // those thrown away too: they may be taken back
		if e.strike.Stage == analysis.Final {
			s.shelf.again = append(s.shelf.again, e.strike.ID)
		}
	}
	s.wakeShelf()
}

// nextAgain is the newest strike still to be looked at again: a player looks at
// that first; and what is known of the pasts of voices. False: there is none, or
// one just heard goes before, or it is over.
func (s *Server) nextAgain() (entry, map[string]past, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.stopped {
		return entry{}, nil, false
	}
	for n := len(s.shelf.again) - 1; n >= 0 && len(s.shelf.due) == 0; n-- {
		id := s.shelf.again[n]
		s.shelf.again = s.shelf.again[:n]
		if e := s.trail.find(id); e != nil {
			return *e, s.shelf.pasts, true
		}
	}
	return entry{}, nil, false
}

// reconsider says anew of a strike as what it is kept, which voice it is, and
// whether that sounds as it did. Unlike consider it is no news to the call-over,
// the walk and the stand.
func (s *Server) reconsider(ctx context.Context, e entry, pasts map[string]past) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	kept, err := keptMark(ctx, shelf, e.strike.ID)
	if err != nil {
		return err
	}
	var verdict match.Verdict
	var form *Recognised
	err = s.shelf.known.with(ctx, shelf, func(p *prints) {
		if len(p.voices) > 0 {
			verdict = p.ear.Recognise(e.strike.Partials)
			form = recognisedForm(verdict, p.labels)
		}
	})
	if err != nil {
		return err
	}
	health := e.health
	if kept == nil {
		if health = nil; len(verdict.Candidates) == 1 {
			voice := verdict.Candidates[0].ID
			p, ok := pasts[voice]
			if !ok {
				if p, err = pastOf(ctx, shelf, voice, e.strike.ID); err != nil {
					return err
				}
				pasts[voice] = p // a strike that is not kept is in no past: one for all
			}
			_, health = s.judge(p, e.strike)
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.trail.find(e.strike.ID)
	if now == nil || now.strike.Revision != e.strike.Revision || now.kept != e.kept {
		return nil // somebody knew better meanwhile
	}
	if reflect.DeepEqual(now.kept, kept) && reflect.DeepEqual(now.recognised, form) && reflect.DeepEqual(now.health, health) {
		return nil
	}
	now.kept, now.recognised, now.health = kept, form, health
	now.tried = now.tried || kept != nil
	if !now.thrown {
		s.tellStrike(now)
	}
	return nil
}

// keptMark says as what a strike is on the shelf; nil: it is not there, or was
// put away.
func keptMark(ctx context.Context, shelf *catalogue.Reader, id string) (*KeptMark, error) {
	k, err := shelf.Strike(ctx, id)
	if errors.Is(err, fs.ErrNotExist) || err == nil && k.PutAway != nil {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	row, err := shelf.Row(ctx, k.Voice)
	if errors.Is(err, fs.ErrNotExist) || err == nil && (row.Voice.PutAway != nil || row.Object.PutAway != nil) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return markOf(id, &row), nil
}

func markOf(id string, row *catalogue.Row) *KeptMark {
	return &KeptMark{Voice: row.Voice.ID, Object: row.Object.ID, Label: voiceLabel(row), Strike: id}
}
