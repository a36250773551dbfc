package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The layout of the repository is policy: change the code, not these tables.
// Nothing here runs the go command, so that the test cache sees every file that
// is read.

// arrows lists for each package what of ours it may import, tests apart. A
// package that is not listed fails the test, so that a new one is a decision.
func arrows() map[string][]string {
	steps := []string{"analysis/onset", "analysis/pitch", "analysis/partial", "analysis/hearing", "analysis/trace"}
	return map[string][]string{
		"analysis":                   {},
		"analysis/fourier":           {},
		"analysis/onset":             {"analysis", "analysis/fourier"},
		"analysis/pitch":             {"analysis"},
		"analysis/partial":           {"analysis", "analysis/fourier"},
		"analysis/hearing":           {"analysis"},
		"analysis/trace":             {"analysis"},
		"analysis/clock":             {"analysis"},
		"analysis/instrument":        {"analysis"},
		"analysis/listen":            append([]string{"analysis"}, steps...),
		"analysis/listen/sourcetest": {"analysis", "analysis/listen"},
		"analysis/accuracy":          append([]string{"analysis", "analysis/listen", "analysis/instrument"}, steps...),
		"audio/wav":                  {},
		"audio":                      {"analysis", "analysis/listen", "audio/wav"},
		"audio/mic":                  {"audio"},
		"webview":                    {"analysis", "analysis/bench", "analysis/drift", "analysis/physics/air", "analysis/physics/cavity", "analysis/physics/material", "analysis/catalogue", "analysis/hearing", "analysis/match", "analysis/instrument", "analysis/listen", "analysis/wanted", "webview/share"},
		"webview/share":              {},
		"analysis/bench":             {"analysis", "analysis/physics/air", "analysis/physics/cavity", "analysis/physics/water"},
		"analysis/drift":             {"analysis", "analysis/physics/material"},
		"analysis/trial":             {"analysis", "analysis/bench", "analysis/drift", "analysis/listen", "analysis/physics/cavity", "analysis/physics/material", "analysis/physics/wall"},
		"analysis/physics/air":       {"analysis"},
		"analysis/physics/water":     {},
		"analysis/physics/material":  {"analysis"},
		"analysis/physics/cavity":    {},
		"analysis/physics/wall":      {},
		"analysis/wanted":            {"analysis", "analysis/instrument"},
		"analysis/match":             {"analysis"},
		"analysis/catalogue":         {"analysis", "analysis/match"},
		"webview/page/build":         {},
		"cmd/licences":               {},
		"cmd/ringwell":               {"analysis", "analysis/accuracy", "analysis/bench", "analysis/drift", "analysis/trial", "analysis/physics/air", "analysis/physics/cavity", "analysis/physics/material", "analysis/catalogue", "analysis/clock", "analysis/instrument", "analysis/listen", "analysis/match", "analysis/wanted", "audio", "audio/mic", "audio/wav", "webview", "webview/share"},
	}
}

// testArrows lists what tests may import beyond that.
func testArrows() map[string][]string {
	return map[string][]string{
		"analysis/listen":         {"audio", "audio/wav", "analysis/instrument", "analysis/listen/sourcetest"},
		"analysis":                {"audio/wav"},
		"analysis/wanted":         {"analysis/listen"},
		"analysis/physics/cavity": {"analysis/physics/air"},
		"analysis/bench":          {"analysis/physics/wall"},
		"analysis/trial":          {"audio/wav"},
		"audio":                   {"analysis/listen/sourcetest"},
		"audio/mic":               {"audio/wav"},
		"webview":                 {"audio/wav", "analysis/listen/sourcetest", "analysis/trial"},
	}
}

// outside lists the packages that alone may import a thing: what ties us to a
// device, a browser or a C library stays in one place.
func outside() map[string][]string {
	return map[string][]string{
		"github.com/gordonklaus/portaudio": {"audio/mic"},
		"C":                                {"audio/mic"},
		"unsafe":                           {"audio/mic"},
		"github.com/gorilla/websocket":     {"webview"},
		"github.com/skip2/go-qrcode":       {"webview/share"},
		"github.com/mewkiz/flac":           {"audio"},
		"github.com/alecthomas/kong":       {"cmd/ringwell"},
		"github.com/BurntSushi/toml":       {"cmd/ringwell"},
		"github.com/evanw/esbuild/pkg/api": {"webview/page/build"},
		"modernc.org/sqlite":               {"analysis/catalogue"},
		"modernc.org/sqlite/lib":           {"analysis/catalogue"},
		"database/sql":                     {"analysis/catalogue"},
		"golang.org/x/image/webp":          {"analysis/catalogue"},
	}
}

// browserless lists what nothing under analysis but the catalogue, which is
// files, may import, so that the ear can run where there are no files, sockets
// and processes: in a browser.
func browserless() []string {
	return []string{"os", "os/exec", "os/signal", "net", "net/http", "syscall", "plugin", "log", "log/slog", "path/filepath", "embed"}
}

// topLevel lists what may lie at the top, beside dotfiles.
func topLevel() []string {
	return []string{"cmd", "audio", "analysis", "webview", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "Makefile", "LICENSE"}
}

const module = "ringwell"

// root is the repository, seen from here.
var root = filepath.FromSlash("../..")

// importing is one import line.
type importing struct {
	from, what string
	test       bool
	at         string
}

func imports(t *testing.T) []importing {
	t.Helper()
	var all []importing
	walk(t, func(path string) {
		if filepath.Ext(path) != ".go" {
			return
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, filepath.Join(root, path), nil, parser.ImportsOnly)
		if err != nil {
			t.Error(err)
			return
		}
		for _, spec := range file.Imports {
			what, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Error(err)
				continue
			}
			all = append(all, importing{
				from: filepath.ToSlash(filepath.Dir(path)), what: what,
				test: strings.HasSuffix(path, "_test.go"), at: set.Position(spec.Pos()).String(),
			})
		}
	})
	if len(all) < 50 {
		t.Fatalf("only %d imports found below %s: this test looks in the wrong place", len(all), root)
	}
	return all
}

// walk calls visit with every file of ours, its path seen from the root.
func walk(t *testing.T, visit func(path string)) {
	t.Helper()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			if os.IsNotExist(err) { // another test's scratch file went
				return nil
			}
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); rel != "." && (strings.HasPrefix(name, ".") || name == "node_modules" || name == "bin") {
				return filepath.SkipDir
			}
			return nil
		}
		visit(rel)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestWhoImportsWhom(t *testing.T) {
	may, mayInTests := arrows(), testArrows()
	for _, i := range imports(t) {
		what, ours := strings.CutPrefix(i.what, module+"/")
		if !ours || what == i.from {
			continue
		}
		allowed, known := may[i.from]
		if !known {
			t.Errorf("%s: package %s stands in no table: say in arrows() what it may import", i.at, i.from)
			continue
		}
		if slices.Contains(allowed, what) || i.test && slices.Contains(mayInTests[i.from], what) {
			continue
		}
		t.Errorf("%s: %s may not import %s", i.at, i.from, what)
	}
}

func TestTheOutsideStaysInOnePlace(t *testing.T) {
	only := outside()
	for _, i := range imports(t) {
		if places, kept := only[i.what]; kept && !slices.Contains(places, i.from) && !i.test {
			t.Errorf("%s: %s may not import %s; only %s may", i.at, i.from, i.what, strings.Join(places, ", "))
		}
		inAnalysis := i.from == "analysis" || strings.HasPrefix(i.from, "analysis/") && i.from != "analysis/catalogue"
		if inAnalysis && !i.test && slices.Contains(browserless(), i.what) {
			t.Errorf("%s: nothing under analysis may import %s: it must also run in a browser", i.at, i.what)
		}
	}
}

func TestTopLevel(t *testing.T) {
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if name := e.Name(); !strings.HasPrefix(name, ".") && !slices.Contains(topLevel(), name) && name != "bin" && name != "ringwell" {
			t.Errorf("%s lies at the top of the repository; only these may: %s", name, strings.Join(topLevel(), ", "))
		}
	}
}

// Packages are named for what they hold.
func TestPackageNames(t *testing.T) {
	for pkg := range arrows() {
		for _, vague := range []string{"util", "utils", "common", "types", "helper", "helpers", "misc", "base"} {
			if filepath.Base(pkg) == vague {
				t.Errorf("%s: a package is named for what it holds", pkg)
			}
		}
	}
}

// State lives in values that somebody owns. A package-level variable is fine
// where it never changes: an error, an embedded file, a table.
func TestNoPackageState(t *testing.T) {
	type source struct {
		set  *token.FileSet
		file *ast.File
	}
	packages := map[string][]source{}
	walk(t, func(path string) {
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, filepath.Join(root, path), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Error(err)
			return
		}
		dir := filepath.Dir(path)
		packages[dir] = append(packages[dir], source{set, file})
	})
	for _, sources := range packages {
		variables := map[string]bool{}
		for _, s := range sources {
			for _, d := range s.file.Decls {
				if g, ok := d.(*ast.GenDecl); ok && g.Tok == token.VAR {
					declared(g, variables)
				}
			}
		}
		delete(variables, "_")
		for _, s := range sources {
			for _, d := range s.file.Decls {
				f, ok := d.(*ast.FuncDecl)
				if !ok {
					continue
				}
				own := map[string]bool{}
				declared(f, own)
				for _, id := range changed(f) {
					if variables[id.Name] && !own[id.Name] {
						t.Errorf("%s: %s is a package-level variable and is changed here", s.set.Position(id.Pos()), id.Name)
					}
				}
			}
		}
	}
}

// declared adds the names that are declared anywhere in n.
func declared(n ast.Node, names map[string]bool) {
	add := func(exprs ...ast.Expr) {
		for _, e := range exprs {
			if id, ok := e.(*ast.Ident); ok {
				names[id.Name] = true
			}
		}
	}
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ValueSpec:
			for _, id := range n.Names {
				add(id)
			}
		case *ast.Field:
			for _, id := range n.Names {
				add(id)
			}
		case *ast.AssignStmt:
			if n.Tok == token.DEFINE {
				add(n.Lhs...)
			}
		case *ast.RangeStmt:
			if n.Tok == token.DEFINE {
				add(n.Key, n.Value)
			}
		}
		return true
	})
}

// changed lists the names that are assigned to, not declared, in n, and the
// variables of which an element or a field is.
func changed(n ast.Node) []*ast.Ident {
	var all []*ast.Ident
	add := func(e ast.Expr) {
		for {
			switch x := e.(type) {
			case *ast.Ident:
				all = append(all, x)
				return
			case *ast.IndexExpr:
				e = x.X
			case *ast.SelectorExpr:
				e = x.X
			default:
				return
			}
		}
	}
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				for _, e := range n.Lhs {
					add(e)
				}
			}
		case *ast.IncDecStmt:
			add(n.X)
		}
		return true
	})
	return all
}

// What is committed stands by itself: it names no place on a maker's machine.
func TestNothingPointsOutside(t *testing.T) {
	// Put together here, so that this file does not hold them itself.
	words := []string{"/" + "work/", "shared" + "/", "the " + "study", "proto" + "type"}
	seen := 0
	walk(t, func(path string) {
		switch filepath.Ext(path) {
		case ".go", ".ts", ".css", ".html", ".md", ".sh", ".json", ".csv", ".toml", "":
		default:
			return
		}
		path = filepath.ToSlash(path)
		if path == "cmd/ringwell/licences.txt" || strings.HasPrefix(path, "webview/page/dist/") ||
			path == "webview/page/package-lock.json" || path == "ringwell" {
			return // other people's words
		}
		text, err := os.ReadFile(filepath.Join(root, path))
		if err != nil {
			if !os.IsNotExist(err) {
				t.Error(err)
			}
			return
		}
		seen++
		for n, line := range strings.Split(string(text), "\n") {
			line = strings.ReplaceAll(line, "."+words[3]+".", "") // JavaScript's
			for _, w := range words {
				if strings.Contains(line, w) {
					t.Errorf("%s:%d mentions %q: %s", path, n+1, w, strings.TrimSpace(line))
				}
			}
		}
	})
	if seen < 50 {
		t.Fatalf("only %d files looked at: this test looks in the wrong place", seen)
	}
}
