package main

import (
	"os"
	"testing"
)

func TestRecognise(t *testing.T) {
	own, err := os.ReadFile("../../LICENSE")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why, text, want string
	}{
		{"our own", string(own), "MIT"},
		{"broken into other lines", "Redistribution and use in source\n  and binary forms, with or without", "BSD-2-Clause"},
		{"the clause on names", "Redistribution and use in source and binary forms ... be used to endorse or promote products derived", "BSD-3-Clause"},
		{"the GNU General Public License", "GNU GENERAL PUBLIC LICENSE Version 3 ... permission is hereby granted, free of charge ... without restriction", ""},
		{"no licence", "All rights reserved.", ""},
		{"empty", "", ""},
	} {
		if got, ok := recognise(c.text); got != c.want || ok != (c.want != "") {
			t.Errorf("%s: got %q, %v, want %q", c.why, got, ok, c.want)
		}
	}
}
