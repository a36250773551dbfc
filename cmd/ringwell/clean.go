package main

import (
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// clean makes text from outside (names of devices and files, words of a
// driver) safe to write on a terminal and keeps it on one line: whatever is not
// a printable character is written as its escape, so that it can neither steer
// the terminal nor hide.
func clean(s string) string {
	plain := true
	for _, r := range s {
		if r == utf8.RuneError || r != ' ' && !unicode.IsPrint(r) {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			b.WriteString(`\x` + strconv.FormatUint(uint64(s[i])|0x100, 16)[1:])
		case r == ' ' || unicode.IsPrint(r):
			b.WriteRune(r)
		default:
			q := strconv.QuoteRuneToASCII(r)
			b.WriteString(q[1 : len(q)-1])
		}
		i += size
	}
	return b.String()
}

// cleaned passes on what is written to it line by line, each made clean.
type cleaned struct{ to io.Writer }

func (c cleaned) Write(p []byte) (int, error) {
	text := strings.TrimSuffix(string(p), "\n")
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		lines[i] = clean(l)
	}
	if _, err := io.WriteString(c.to, strings.Join(lines, "\n")+"\n"); err != nil {
		return 0, err
	}
	return len(p), nil
}
