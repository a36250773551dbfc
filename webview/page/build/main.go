// Command build makes the page: it bundles the TypeScript and CSS in
// webview/page/src with esbuild's Go API and writes what is embedded to
// webview/page/dist. It is run by `go generate ./webview` and needs what
// `npm ci --ignore-scripts` in webview/page puts into node_modules; the same
// sources and packages give the same bytes.
//
// With -tests it bundles every src/**/*.test.ts to .test instead, for
// `node --test`.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	tests := flag.Bool("tests", false, "bundle the unit tests to .test instead")
	out := flag.String("out", "", "write the page here instead of to dist")
	flag.Parse()
	if err := run(*tests, *out); err != nil {
		fmt.Fprintln(os.Stderr, "page/build:", err)
		os.Exit(1)
	}
}

func run(tests bool, out string) error {
	page, err := find()
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(page, "node_modules", "lit")); err != nil {
		return fmt.Errorf("%s has no node_modules: run `npm ci --ignore-scripts` there first", page)
	}
	if tests {
		return bundleTests(page)
	}
	if out == "" {
		out = filepath.Join(page, "dist")
	}
	return bundlePage(page, out)
}

// find returns the absolute path of webview/page, seen from there, from
// webview (as go generate runs) or from the top.
func find() (string, error) {
	for _, dir := range []string{".", "page", "webview/page"} {
		if _, err := os.Stat(filepath.Join(dir, "package.json")); err == nil {
			return filepath.Abs(dir)
		}
	}
	return "", fmt.Errorf("no package.json here: run it in webview/page, in webview or at the top")
}
