package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// release is the version of this source.
const release = "0.1.0"

// version is the release and, where it was built from a repository, the
// commit, with a + if the tree had changes.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return release
	}
	commit, dirty := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 12:
			commit = s.Value[:12]
		case s.Key == "vcs.modified" && s.Value == "true":
			dirty = "+"
		}
	}
	if commit == "" {
		return release
	}
	return release + " (" + commit + dirty + ")"
}

type versionCommand struct{}

func (versionCommand) Run(std stdio) error {
	_, err := fmt.Fprintf(std.out, "ringwell %s, %s, %s/%s\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}
