package share

import (
	"fmt"
	"strings"

	qrcode "github.com/skip2/go-qrcode"
)

// QRText draws text as a QR code (ISO/IEC 18004) for a terminal, with half
// blocks. Light modules are drawn as ink, for a dark terminal; readers take
// either.
func QRText(text string) (string, error) {
	q, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", fmt.Errorf("share: draw a QR code: %w", err)
	}
	return q.ToSmallString(false), nil
}

// QRSVG draws text as a QR code for a page: black on white, its quiet zone
// included, one unit a module.
func QRSVG(text string) ([]byte, error) {
	q, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return nil, fmt.Errorf("share: draw a QR code: %w", err)
	}
	modules := q.Bitmap()
	var path strings.Builder
	for y, row := range modules {
		for x, dark := range row {
			if dark {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	n := len(modules)
	return fmt.Appendf(nil, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges">`+
		`<path fill="#fff" d="M0 0h%dv%dH0z"/><path d="%s"/></svg>`, n, n, n, n, path.String()), nil
}
