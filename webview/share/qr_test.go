package share

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

func TestQRCodes(t *testing.T) {
	url := "https://192.168.100.100:7342/pair#" + newSecret(16)
	text, err := QRText(url)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	for _, l := range lines {
		if n := len([]rune(l)); n > 80 || n != len([]rune(lines[0])) {
			t.Errorf("a line of %d signs beside one of %d, wanted them alike and 80 at most: a terminal's width", n, len([]rune(lines[0])))
		}
	}
	svg, err := QRSVG(url)
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the SVG: %v", err)
		}
	}
	if strings.Contains(string(svg), url) {
		t.Error("the SVG holds the secret as text")
	}
	if _, err := QRText(strings.Repeat("x", 5000)); err == nil {
		t.Error("a text too long for any QR code was drawn")
	}
}
