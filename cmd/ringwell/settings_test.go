package main

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// home gives the test settings and state of its own.
func home(t *testing.T, config string) {
	t.Helper()
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(dir, "config"))
	t.Setenv("XDG_STATE_HOME", filepath.Join(dir, "state"))
	t.Setenv("XDG_DATA_HOME", filepath.Join(dir, "data"))
	for _, v := range os.Environ() {
		if name, _, _ := strings.Cut(v, "="); strings.HasPrefix(name, "RINGWELL_") {
			t.Setenv(name, "") // Setenv puts it back afterwards
			os.Unsetenv(name)
		}
	}
	if config == "" {
		return
	}
	if err := os.MkdirAll(filepath.Dir(settingsPath()), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(settingsPath(), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
}

// parsed is the command line as run parses it.
func parsed(t *testing.T, args ...string) (*program, error) {
	t.Helper()
	file, err := loadSettings()
	if err != nil {
		return nil, err
	}
	var p program
	parser, err := newParser(&p, file, stdio{err: new(bytes.Buffer), out: new(bytes.Buffer)})
	if err != nil {
		t.Fatal(err)
	}
	_, err = parser.Parse(args)
	if err != nil {
		return nil, file.blame(err)
	}
	return &p, nil
}

// A flag goes before the environment, that before the file, that before the
// default.
func TestWhatGoesFirst(t *testing.T) {
	for _, c := range []struct {
		why, file, env string
		args           []string
		want           string
	}{
		{"default", "", "", nil, defaultPage},
		{"file", `page = "127.0.0.1:1001"`, "", nil, "127.0.0.1:1001"},
		{"environment before file", `page = "127.0.0.1:1001"`, "127.0.0.1:1002", nil, "127.0.0.1:1002"},
		{"flag before all", `page = "127.0.0.1:1001"`, "127.0.0.1:1002", []string{"--page", "127.0.0.1:1003"}, "127.0.0.1:1003"},
		{"flag, with the command named", "", "127.0.0.1:1002", []string{"listen", "--page=127.0.0.1:1003"}, "127.0.0.1:1003"},
	} {
		t.Run(c.why, func(t *testing.T) {
			home(t, c.file)
			if c.env != "" {
				t.Setenv("RINGWELL_PAGE", c.env)
			}
			p, err := parsed(t, c.args...)
			if err != nil {
				t.Fatal(err)
			}
			if p.Listen.Page != c.want {
				t.Errorf("file %q, environment %q, flags %v: got %s, want %s", c.file, c.env, c.args, p.Listen.Page, c.want)
			}
		})
	}
}

func TestEverySettingOfTheFile(t *testing.T) {
	home(t, `# the hall
log-level = "info"
from = "demo"
input = "USB"
channel = 2
rate = 44100
page = "127.0.0.1:9"
instrument = "marimba 5"
tuning = "`+filepath.ToSlash(mustWrite(t, "notes.csv", "note,hz\nC4,262\n"))+`"
reference = 442
kind = "bar"
clock-ppm = 2.5
`)
	p, err := parsed(t)
	if err != nil {
		t.Fatal(err)
	}
	l := p.Listen
	if p.LogLevel != "info" || *l.From != "demo" || *l.Input != "USB" || l.Channel != 2 || l.Rate != 44100 ||
		l.Page != "127.0.0.1:9" || *l.Instrument != "marimba 5" || l.Tuning == nil || *l.Reference != 442 ||
		*l.Kind != "bar" || *l.ClockPPM != 2.5 {
		t.Errorf("got %+v", l)
	}
	// What concerns any recording holds for measure too; the microphone's
	// channel does not.
	m, err := parsed(t, "measure", "x.wav")
	if err != nil {
		t.Fatal(err)
	}
	if *m.Measure.Reference != 442 || m.Measure.Channel != 0 {
		t.Errorf("measure: got %+v", m.Measure)
	}
}

// The names in the file are those of flags, and none was forgotten.
func TestSettingsAreFlags(t *testing.T) {
	var names []string
	for f := range reflect.TypeFor[settings]().Fields() {
		names = append(names, f.Tag.Get("toml"))
	}
	if !reflect.DeepEqual(names, settingNames()) {
		t.Errorf("settingNames() = %v, want those of settings, %v", settingNames(), names)
	}
	var p program
	parser, err := newParser(&p, &settingsFile{}, stdio{})
	if err != nil {
		t.Fatal(err)
	}
	flags := map[string]bool{}
	for _, command := range parser.Model.Leaves(true) {
		if command.Name != "listen" {
			continue
		}
		for _, group := range command.AllFlags(true) {
			for _, f := range group {
				flags[f.Name] = len(f.Tag.Envs) > 0
			}
		}
	}
	for _, n := range names {
		if !flags[n] {
			t.Errorf("setting %q is no flag that has a variable in the environment", n)
		}
	}
}

func TestSettingsRefused(t *testing.T) {
	for _, c := range []struct {
		why, file string
		says      []string
	}{
		{"unknown key", "reference = 440\n\nreferense = 442\n", []string{"line 3", `"referense"`, "config.toml", "reference"}},
		{"unknown key in a table", "[page]\ncolour = 1\n", []string{"page"}},
		{"unknown table", "[ear]\nkeen = true\n", []string{"line 1", `"ear"`}},
		{"not TOML", "reference = 440\npage 127\n", []string{"line 2", "config.toml"}},
		{"a word for a number", "channel = \"left\"\n", []string{"channel", "config.toml"}},
		{"the same key twice", "rate = 1\nrate = 2\n", []string{"line 2", "rate"}},
		{"out of range", "reference = 400\n", []string{"--reference", "415"}},
		{"no such kind", "kind = \"spoon\"\n", []string{"spoon", "glass", "config.toml"}},
		{"no such level", "log-level = \"loud\"\n", []string{"--log-level", "loud", "config.toml"}},
	} {
		t.Run(c.why, func(t *testing.T) {
			home(t, c.file)
			_, err := parsed(t)
			if err == nil {
				t.Fatalf("%q: taken, want an error", c.file)
			}
			for _, s := range c.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("%q: %v; want it to say %q", c.file, err, s)
				}
			}
		})
	}
}

func TestEnvironmentRefused(t *testing.T) {
	home(t, "")
	t.Setenv("RINGWELL_RATE", "fast")
	if _, err := parsed(t); err == nil || !strings.Contains(err.Error(), "RINGWELL_RATE") {
		t.Errorf("RINGWELL_RATE=fast: got error %v, want one that names it", err)
	}
}

// XDG Base Directory Specification 0.8 (from memory, unchecked): a relative
// path is to be ignored.
func TestXDG(t *testing.T) {
	t.Setenv("HOME", filepath.FromSlash("/home/ada"))
	for set, want := range map[string]string{
		"":         "/home/ada/.config/ringwell",
		"relative": "/home/ada/.config/ringwell",
		"/etc/xdg": "/etc/xdg/ringwell",
	} {
		t.Setenv("XDG_CONFIG_HOME", set)
		if got := filepath.ToSlash(configHome()); got != want {
			t.Errorf("XDG_CONFIG_HOME=%q: got %s, want %s", set, got, want)
		}
	}
	t.Setenv("XDG_STATE_HOME", "")
	if got := filepath.ToSlash(sessionPath()); got != "/home/ada/.local/state/ringwell/session.json" {
		t.Errorf("session: got %s", got)
	}
}

func mustWrite(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

var _ kong.Resolver = (*settingsFile)(nil)
