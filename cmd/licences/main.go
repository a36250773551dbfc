// Command licences writes the licence texts of all that goes into the ringwell
// program to cmd/ringwell/licences.txt, and fails where one is not on the list
// of those we take. Run it by go generate ./cmd/ringwell.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	root := flag.String("root", ".", "the repository")
	out := flag.String("out", "", "file to write; empty: only check")
	flag.Parse()
	text, err := collect(*root)
	if err == nil && *out != "" {
		err = os.WriteFile(*out, text, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "licences:", err)
		os.Exit(1)
	}
}

// module is a Go module whose code is linked in.
type module struct{ path, version, dir string }

// platforms are those whose programs we look at: what is linked in differs a
// little between them.
func platforms() []string { return []string{"linux", "darwin"} }

func collect(root string) ([]byte, error) {
	modules, err := linked(root)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	own, err := os.ReadFile(filepath.Join(root, "LICENSE"))
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "ringwell is free software under this licence:\n\n%s\n", own)
	b.WriteString("It carries the work of others, whose licences follow. PortAudio is not among\n" +
		"them: the program uses the one your system has.\n")
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("go env GOROOT: %w", err)
	}
	golang, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(goroot)), "LICENSE"))
	if err != nil {
		return nil, err
	}
	chapter(&b, "The Go standard library and runtime", "BSD-3-Clause", golang)
	for _, m := range modules {
		text, err := licenceOf(m)
		if err != nil {
			return nil, err
		}
		name, ok := recognise(string(text))
		if !ok {
			return nil, fmt.Errorf("%s %s: its licence is not one we take; read %s", m.path, m.version, m.dir)
		}
		chapter(&b, m.path+" "+m.version, name, text)
	}
	page, err := os.ReadFile(filepath.Join(root, "webview", "page", "dist", "licences.txt"))
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "\n\n%s", page)
	return b.Bytes(), nil
}

func chapter(b *bytes.Buffer, what, licence string, text []byte) {
	fmt.Fprintf(b, "\n\n==== %s (%s) ====\n\n%s\n", what, licence, bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))))
}

// linked lists the modules of which a package is linked into the program, by
// path.
func linked(root string) ([]module, error) {
	var all []module
	for _, system := range platforms() {
		cmd := exec.Command("go", "list", "-deps", "-f",
			"{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}", "./cmd/ringwell")
		cmd.Dir = root
		cmd.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=1")
		var complaint bytes.Buffer
		cmd.Stderr = &complaint
		out, err := cmd.Output()
		if err != nil {
			return nil, fmt.Errorf("go list: %w: %s", err, complaint.String())
		}
		for _, l := range strings.Split(string(out), "\n") {
			if f := strings.Split(l, "\t"); len(f) == 3 {
				all = append(all, module{f[0], f[1], f[2]})
			}
		}
	}
	slices.SortFunc(all, func(a, b module) int { return strings.Compare(a.path, b.path) })
	return slices.Compact(all), nil
}

// licenceOf reads the licence text a module carries.
func licenceOf(m module) ([]byte, error) {
	entries, err := os.ReadDir(m.dir)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		for _, begin := range []string{"LICENSE", "LICENCE", "COPYING", "UNLICENSE"} {
			if strings.HasPrefix(name, begin) && !e.IsDir() {
				return os.ReadFile(filepath.Join(m.dir, e.Name()))
			}
		}
	}
	return nil, fmt.Errorf("%s %s carries no licence text in %s", m.path, m.version, m.dir)
}
