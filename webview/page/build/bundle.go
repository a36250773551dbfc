package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

// target is the oldest browser the page is made for: what the trade's laptops
// and phones had in 2023.
const target = api.ES2022

// bundlePage empties out and writes the page there: index.html, app.js,
// ear.js for the audio thread, app.css, what installing needs, the faces and
// the licences of what is bundled.
func bundlePage(page, out string) error {
	if err := os.RemoveAll(out); err != nil {
		return err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	src := filepath.Join(page, "src")
	err := bundle(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{
			{InputPath: filepath.Join(src, "main.ts"), OutputPath: "app"},
			{InputPath: filepath.Join(src, "worklet.ts"), OutputPath: "ear"},
			{InputPath: filepath.Join(src, "style", "app.css"), OutputPath: "app"},
		},
		AbsWorkingDir:     page,
		Outdir:            out,
		Format:            api.FormatESModule,
		Platform:          api.PlatformBrowser,
		Conditions:        []string{"production"},
		External:          []string{"*.woff2"},
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		LegalComments:     api.LegalCommentsNone, // the licences stand whole in licences.txt
	})
	if err != nil {
		return err
	}
	for _, name := range []string{"index.html", "ringwell.webmanifest", "icon.svg", "icon-192.png", "icon-512.png"} {
		if err := copyFile(filepath.Join(src, name), filepath.Join(out, name)); err != nil {
			return err
		}
	}
	for from, to := range faces() {
		if err := copyFile(filepath.Join(page, "node_modules", from), filepath.Join(out, to)); err != nil {
			return err
		}
	}
	return writeLicences(page, filepath.Join(out, "licences.txt"))
}

// bundleTests writes every unit test of the page, with what it imports, to
// page/.test.
func bundleTests(page string) error {
	out := filepath.Join(page, ".test")
	if err := os.RemoveAll(out); err != nil {
		return err
	}
	var entries []string
	err := filepath.WalkDir(filepath.Join(page, "src"), func(path string, _ fs.DirEntry, err error) error {
		if strings.HasSuffix(path, ".test.ts") {
			entries = append(entries, path)
		}
		return err
	})
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return errors.New("no src/**/*.test.ts found")
	}
	return bundle(api.BuildOptions{
		EntryPoints:   entries,
		AbsWorkingDir: page,
		Outdir:        out,
		Outbase:       filepath.Join(page, "src"),
		Format:        api.FormatESModule,
		Platform:      api.PlatformNode,
		Sourcemap:     api.SourceMapInline,
	})
}

func bundle(o api.BuildOptions) error {
	o.Bundle, o.Write, o.Target, o.Charset = true, true, target, api.CharsetUTF8
	result := api.Build(o)
	for _, text := range api.FormatMessages(append(result.Errors, result.Warnings...), api.FormatMessagesOptions{}) {
		fmt.Fprint(os.Stderr, text)
	}
	if n := len(result.Errors) + len(result.Warnings); n > 0 {
		return fmt.Errorf("%d faults in the page's sources", n)
	}
	return nil
}

func copyFile(from, to string) error {
	data, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	return os.WriteFile(to, data, 0o644)
}
