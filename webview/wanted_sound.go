package webview

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"ringwell/webview/share"
)

// dir is where the sound of what was found is kept, beside the list.
func (f *foundFiles) dir() string { return filepath.Join(filepath.Dir(f.path), "found") }

const wavEnding = ".wav"

// soundName reports whether a strike's ID may be the name of a file. ULIDs may;
// nothing that could lead elsewhere does.
func soundName(id string) bool {
	return id != "" && len(id) <= 64 && strings.Map(plainLetter, id) == id
}

// sounds lists the strikes whose sound is kept.
func (f *foundFiles) sounds() map[string]bool {
	found := map[string]bool{}
	if f.path == "" {
		return found
	}
	files, err := os.ReadDir(f.dir())
	if err != nil {
		return found // there is none yet, or it cannot be read: nothing to offer
	}
	for _, file := range files {
		if id, ok := strings.CutSuffix(file.Name(), wavEnding); ok && soundName(id) && file.Type().IsRegular() {
			found[id] = true
		}
	}
	return found
}

// storeSounds writes the sound of strikes that fill places, removes that of
// those that do not any more, and returns whose there is. It is the saver's.
func (s *Server) storeSounds(fresh []entry, pins map[string]bool) (map[string]bool, error) {
	var failed error
	for _, e := range fresh {
		if s.cfg.EncodeWAV == nil || !soundName(e.strike.ID) {
			continue
		}
		var b bytes.Buffer
		err := s.cfg.EncodeWAV(&b, e.strike.Rate, e.sound, int(e.strike.Onset-e.strike.From), e.strike.Heard)
		if err == nil {
			err = share.WritePrivate(filepath.Join(s.found.dir(), e.strike.ID+wavEnding), b.Bytes())
		}
		if err != nil {
			failed = errors.Join(failed, fmt.Errorf("webview: keep the sound of strike %s: %w", e.strike.ID, err))
		}
	}
	there := s.found.sounds()
	for id := range there {
		if !pins[id] {
			if err := os.Remove(filepath.Join(s.found.dir(), id+wavEnding)); err != nil {
				failed = errors.Join(failed, fmt.Errorf("webview: remove the sound of strike %s: %w", id, err))
				continue
			}
			delete(there, id)
		}
	}
	return there, failed
}

// storedSound is the WAV file kept for a strike that fills a place; nil where
// there is none.
func (s *Server) storedSound(id string) []byte {
	s.mu.Lock()
	ok := s.hunt.stored[id] && soundName(id)
	path := filepath.Join(filepath.Dir(s.cfg.WantedPath), "found", id+wavEnding)
	s.mu.Unlock()
	if !ok {
		return nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		s.cfg.Log.Warn("sound of what was found", "strike", id, "err", err)
		return nil
	}
	return data
}

// soundFound has the sound of a strike that fills a place written, and tells
// the pages that it is there. Callers hold mu.
func (s *Server) soundFound() {
	s.hunt.changed = true
	s.hunt.revision++
	s.tellWanted()
	s.markDirty()
}
