package main

import "strings"

// taken are the licences of what we link in, each by phrases that stand in its
// text (Open Source Initiative, licence texts; from memory, unchecked) and one
// that must not. The first that fits counts.
func taken() []struct {
	name    string
	phrases []string
	without string
} {
	return []struct {
		name    string
		phrases []string
		without string
	}{
		{"Apache-2.0", []string{"apache license", "version 2.0"}, ""},
		{"Unlicense", []string{"this is free and unencumbered software released into the public domain"}, ""},
		{"CC0-1.0", []string{"cc0 1.0 universal"}, ""},
		{"MIT", []string{"permission is hereby granted, free of charge", "without restriction"}, "gnu "},
		{"ISC", []string{"permission to use, copy, modify, and/or distribute this software for any purpose with or without fee is hereby granted"}, ""},
		{"ISC", []string{"permission to use, copy, modify, and distribute this software for any purpose with or without fee is hereby granted"}, ""},
		{"BSD-3-Clause", []string{"redistribution and use in source and binary forms", "endorse or promote products"}, "gnu "},
		{"BSD-2-Clause", []string{"redistribution and use in source and binary forms"}, "gnu "},
	}
}

// recognise names the licence of a text, and reports whether we take it.
func recognise(text string) (name string, ok bool) {
	flat := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	for _, l := range taken() {
		fits := l.without == "" || !strings.Contains(flat, l.without)
		for _, p := range l.phrases {
			fits = fits && strings.Contains(flat, p)
		}
		if fits {
			return l.name, true
		}
	}
	return "", false
}
