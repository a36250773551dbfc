package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/BurntSushi/toml"
	"github.com/alecthomas/kong"
)

// settings is the settings file: the flags a player would rather not type
// every time, under the flags' own names.
type settings struct {
	LogLevel    *string  `toml:"log-level"`
	From        *string  `toml:"from"`
	Input       *string  `toml:"input"`
	Channel     *int     `toml:"channel"`
	Rate        *float64 `toml:"rate"`
	Page        *string  `toml:"page"`
	Instrument  *string  `toml:"instrument"`
	Tuning      *string  `toml:"tuning"`
	Reference   *float64 `toml:"reference"`
	Kind        *string  `toml:"kind"`
	ClockPPM    *float64 `toml:"clock-ppm"`
	Shelf       *string  `toml:"shelf"`
	Thermometer *string  `toml:"thermometer"`
}

// settingsFile is a settings file as it was read.
type settingsFile struct {
	path   string
	values map[string]any // by flag name
}

// configHome, stateHome and dataHome follow the XDG Base Directory Specification 0.8:
// the variable where it holds an absolute path, else the default below the
// home directory. "" where there is no home either.
func configHome() string { return xdg("XDG_CONFIG_HOME", ".config") }
func dataHome() string   { return xdg("XDG_DATA_HOME", ".local/share") }
func stateHome() string  { return xdg("XDG_STATE_HOME", ".local/state") }

func xdg(variable, below string) string {
	if dir := os.Getenv(variable); filepath.IsAbs(dir) {
		return filepath.Join(dir, "ringwell")
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return ""
	}
	return filepath.Join(home, filepath.FromSlash(below), "ringwell")
}

func settingsPath() string { return filepath.Join(configHome(), "config.toml") }

// loadSettings reads the settings file; a missing one is empty. Errors name
// the file and the line.
func loadSettings() (*settingsFile, error) {
	f := &settingsFile{path: settingsPath(), values: map[string]any{}}
	if configHome() == "" {
		return f, nil
	}
	text, err := os.ReadFile(f.path)
	if errors.Is(err, fs.ErrNotExist) {
		return f, nil
	}
	if err != nil {
		return nil, fmt.Errorf("settings: %w", err)
	}
	var s settings
	meta, err := toml.Decode(string(text), &s)
	var syntax toml.ParseError
	switch {
	case errors.As(err, &syntax):
		return nil, fmt.Errorf("settings: %s, line %d: %s", f.path, syntax.Position.Line, syntax.Message)
	case err != nil:
		return nil, fmt.Errorf("settings: %s: %s", f.path, strings.TrimPrefix(err.Error(), "toml: "))
	}
	if unknown := meta.Undecoded(); len(unknown) > 0 {
		key := unknown[0].String()
		return nil, fmt.Errorf("settings: %s, line %d: unknown key %q; known are: %s",
			f.path, lineOf(string(text), unknown[0]), key, strings.Join(settingNames(), ", "))
	}
	// The same file once more, as values by name, for kong to parse as if typed.
	if _, err := toml.Decode(string(text), &f.values); err != nil {
		return nil, fmt.Errorf("settings: %s: %w", f.path, err)
	}
	return f, nil
}

func settingNames() []string {
	return []string{"log-level", "from", "input", "channel", "rate", "page", "instrument", "tuning", "reference", "kind", "clock-ppm", "shelf", "thermometer"}
}

// lineOf finds the line, from 1, on which a key stands: the first that begins
// with it, or with the table it is in. The decoder does not say.
func lineOf(text string, key toml.Key) int {
	for _, word := range []string{key[len(key)-1], key[0]} {
		for i, line := range strings.Split(text, "\n") {
			line = strings.TrimLeft(line, " \t[\"'")
			if rest, ok := strings.CutPrefix(line, word); ok && strings.IndexAny(rest+"=", " \t=.]\"'") == 0 {
				return i + 1
			}
		}
	}
	return 1
}

// Validate is part of kong.Resolver; loadSettings has checked all.
func (f *settingsFile) Validate(*kong.Application) error { return nil }

// Resolve gives kong the file's value of a flag, unless the environment has
// one or the flag is none of the settings (env:"-").
func (f *settingsFile) Resolve(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
	if len(flag.Tag.Envs) == 0 {
		return nil, nil
	}
	for _, name := range flag.Tag.Envs {
		if _, ok := os.LookupEnv(name); ok {
			return nil, nil
		}
	}
	if v, ok := f.values[flag.Name]; ok {
		return fmt.Sprint(v), nil
	}
	return nil, nil
}

// blame adds the settings file to an error about a flag whose value came from
// it.
func (f *settingsFile) blame(err error) error {
	for name, v := range f.values {
		if strings.Contains(err.Error(), "--"+name) && strings.Contains(err.Error(), fmt.Sprintf("%q", fmt.Sprint(v))) {
			return fmt.Errorf("%w (set in %s)", err, f.path)
		}
	}
	return err
}
