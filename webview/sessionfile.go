package webview

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"ringwell/webview/share"
)

// sessionFile keeps the session across restarts. The zero sessionFile keeps
// nothing.
type sessionFile struct{ path string }

type savedSession struct {
	V       int        `json:"v"`
	Session Session    `json:"session"`
	Pins    []savedPin `json:"pins"`
}

// load reads the session that was kept. Without a file it returns fresh. What
// cannot be understood is moved aside, never lost, and the notice says where;
// a file that cannot even be read is left alone, and then nothing is kept.
func (f *sessionFile) load(fresh Session) (s Session, pins []pin, notice string) {
	if f.path == "" {
		return fresh, nil, ""
	}
	data, err := os.ReadFile(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fresh, nil, ""
	case err != nil:
		f.path = ""
		return fresh, nil, fmt.Sprintf("The session file cannot be read, so settings are not kept: %v.", err)
	}
	saved := savedSession{Session: fresh}
	if err := json.Unmarshal(data, &saved); err != nil {
		return fresh, nil, f.moveAside(err.Error())
	}
	if saved.V != SchemaVersion {
		return fresh, nil, f.moveAside(fmt.Sprintf("its version is %d, not %d", saved.V, SchemaVersion))
	}
	s, notice = restored(saved.Session, fresh)
	return s, loadPins(saved.Pins), notice
}

// restored takes what is valid of a saved session and the rest from fresh. The
// strikes a session froze or sounded do not outlive the program.
func restored(saved, fresh Session) (Session, string) {
	s, notice := fresh, ""
	s.Revision, s.Source = saved.Revision, saved.Source
	for _, c := range []Change{
		{Instrument: &saved.Instrument}, {Reference: &saved.Reference}, {Aim: &saved.Aim},
		{Target: Key{true, saved.Target}}, {Bend: &saved.Bend}, {Tolerance: &saved.Tolerance},
		{Kind: &saved.Kind}, {Purpose: &saved.Purpose},
	} {
		next, err := s.with(c)
		var r *Refusal
		if errors.As(err, &r) {
			notice = fmt.Sprintf("A saved setting was not taken over: %s", r.Words)
			continue
		}
		s = next
	}
	return s, notice
}

// moveAside renames a broken file and says so.
func (f *sessionFile) moveAside(why string) string {
	aside, err := f.aside()
	if err != nil {
		f.path = ""
		return fmt.Sprintf("The session file is broken (%s) and cannot be moved aside, so settings are not kept: %v.", why, err)
	}
	return fmt.Sprintf("The session file was broken (%s). It is now %s, and settings start afresh.", why, filepath.Base(aside))
}

// aside renames the file to the first free name.
func (f *sessionFile) aside() (to string, err error) {
	for n := 1; ; n++ {
		aside := fmt.Sprintf("%s.broken-%d", f.path, n)
		if _, err := os.Lstat(aside); err != nil {
			return aside, os.Rename(f.path, aside)
		}
	}
}

// save writes the session and the pins so that a crash at any moment leaves the old file or
// the new one. Only the owner can read it.
func (f *sessionFile) save(s Session, pins []pin) error {
	if f.path == "" {
		return nil
	}
	if err := f.write(s, pins); err != nil {
		return fmt.Errorf("webview: keep the session in %s: %w", f.path, err)
	}
	return nil
}

func (f *sessionFile) write(s Session, pins []pin) error {
	s.Frozen, s.FrozenID, s.Tone, s.Muted, s.Notice = false, nil, Tone{}, false, nil
	data, err := json.MarshalIndent(savedSession{SchemaVersion, s, savePins(pins)}, "", "  ")
	if err != nil {
		return err
	}
	return share.WritePrivate(f.path, append(data, '\n'))
}
