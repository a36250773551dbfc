package main

import (
	"strings"
	"testing"
	"unicode"
)

func TestClean(t *testing.T) {
	for _, c := range []struct{ why, in, want string }{
		{"plain", "jam jar 3.wav", "jam jar 3.wav"},
		{"letters of other alphabets", "Flöte 瓶 ♯", "Flöte 瓶 ♯"},
		{"an escape sequence", "a\x1b[2Jb", `a\x1b[2Jb`},
		{"a line of its own", "a\nb\r", `a\nb\r`},
		{"the 8-bit escape", "a\u009b2J", `a\u009b2J`},
		{"text that runs backwards", "a\u202egpj", `a\u202egpj`},
		{"no width", "a\u200bb", `a\u200bb`},
		{"not UTF-8", "a\xffb\x80", `a\xffb\x80`},
		{"a tab", "a\tb", `a\tb`},
	} {
		if got := clean(c.in); got != c.want {
			t.Errorf("%s: clean(%q) = %q, want %q", c.why, c.in, got, c.want)
		}
	}
}

func FuzzClean(f *testing.F) {
	f.Add("a\x1b[31m\xff\u202e")
	f.Fuzz(func(t *testing.T, s string) {
		got := clean(s)
		for _, r := range got {
			if r != ' ' && !unicode.IsPrint(r) {
				t.Fatalf("clean(%q) = %q holds %U", s, got, r)
			}
		}
		if clean(got) != got {
			t.Fatalf("clean(clean(%q)) = %q, want %q", s, clean(got), got)
		}
	})
}

func TestCleanedKeepsLines(t *testing.T) {
	var out strings.Builder
	n, err := cleaned{&out}.Write([]byte("one\x1b\ntwo\n"))
	if want := "one\\x1b\ntwo\n"; out.String() != want || n != 9 || err != nil {
		t.Errorf("got %q, %d, %v; want %q, 9", out.String(), n, err, want)
	}
}
