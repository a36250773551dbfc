package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
)

// faces maps the font files of node_modules to their names in dist. One width,
// upright, all weights; what they lack the system's sans gives.
func faces() map[string]string {
	const files = "@fontsource-variable/asap/files/asap-"
	return map[string]string{
		files + "latin-wght-normal.woff2":     "asap-latin.woff2",
		files + "latin-ext-wght-normal.woff2": "asap-latin-ext.woff2",
	}
}

// bundled lists the npm packages whose code or data is in dist.
func bundled() []string {
	return []string{"@fontsource-variable/asap", "lit", "lit-html", "lit-element", "@lit/reactive-element"}
}

// writeLicences writes the licence texts of all that is bundled to one file.
func writeLicences(page, to string) error {
	var b bytes.Buffer
	fmt.Fprintln(&b, "The page of ringwell carries the work of others, under these licences.")
	for _, name := range bundled() {
		dir := filepath.Join(page, "node_modules", name)
		manifest, err := os.ReadFile(filepath.Join(dir, "package.json"))
		if err != nil {
			return err
		}
		var about struct{ Version, License string }
		if err := json.Unmarshal(manifest, &about); err != nil {
			return fmt.Errorf("%s/package.json: %w", name, err)
		}
		text, err := os.ReadFile(filepath.Join(dir, "LICENSE"))
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "\n\n==== %s %s (%s) ====\n\n%s", name, about.Version, about.License, bytes.TrimRight(text, "\n"))
	}
	b.WriteByte('\n')
	return os.WriteFile(to, b.Bytes(), 0o644)
}
