package catalogue

import (
	"bytes"
	"encoding/binary"
	"image"
)

// upright turns a picture as an Exif orientation of 1 to 8 says (CIPA
// DC-008, Exif 2.3, tag 0x0112, from memory, unchecked): 1 as it is, 2 mirrored
// left to right, 3 turned by 180°, 4 mirrored top to bottom, 5 mirrored about
// the diagonal from the top left, 6 to be turned right by 90°, 7 mirrored
// about the other diagonal, 8 to be turned left by 90°.
func upright(in *image.RGBA, orientation int) *image.RGBA {
	if orientation < 2 || orientation > 8 {
		return in
	}
	w, h := in.Bounds().Dx(), in.Bounds().Dy()
	size := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(size)
	for y := range size.Dy() {
		for x := range size.Dx() {
			var sx, sy int
			switch orientation {
			case 2:
				sx, sy = w-1-x, y
			case 3:
				sx, sy = w-1-x, h-1-y
			case 4:
				sx, sy = x, h-1-y
			case 5:
				sx, sy = y, x
			case 6:
				sx, sy = y, h-1-x
			case 7:
				sx, sy = w-1-y, h-1-x
			case 8:
				sx, sy = w-1-y, x
			}
			out.SetRGBA(x, y, in.RGBAAt(sx, sy))
		}
	}
	return out
}

// orientation returns what a JPEG's, PNG's or WebP's Exif block says of its
// orientation, 1 where it says nothing that can be read.
func orientation(data []byte) int {
	if o := tiffOrientation(exif(data)); o >= 1 && o <= 8 {
		return o
	}
	return 1
}

// exif returns the TIFF block of a photo's Exif data; nil for none.
func exif(data []byte) []byte {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8")):
		for at := 2; at+4 <= len(data) && data[at] == 0xff; {
			marker, size := data[at+1], int(binary.BigEndian.Uint16(data[at+2:]))
			if marker == 0xda || size < 2 || at+2+size > len(data) { // the picture begins
				return nil
			}
			if body, ok := bytes.CutPrefix(data[at+4:at+2+size], []byte("Exif\x00\x00")); ok && marker == 0xe1 {
				return body
			}
			at += 2 + size
		}
	case bytes.HasPrefix(data, []byte("\x89PNG")):
		return chunk(data, 8, func(b []byte) (string, int, int) {
			return string(b[4:8]), int(binary.BigEndian.Uint32(b)), 4 // a check sum follows
		}, "eXIf")
	case bytes.HasPrefix(data, []byte("RIFF")):
		return chunk(data, 12, func(b []byte) (string, int, int) {
			n := int(binary.LittleEndian.Uint32(b[4:]))
			return string(b[:4]), n, n % 2
		}, "EXIF")
	}
	return nil
}

// chunk finds a chunk by name; head reads eight bytes as name, size and how
// many bytes follow what they announce.
func chunk(data []byte, at int, head func([]byte) (string, int, int), want string) []byte {
	for at+8 <= len(data) {
		name, size, tail := head(data[at:])
		if size < 0 || size > len(data)-at-8 {
			return nil
		}
		if name == want {
			body := data[at+8 : at+8+size]
			return bytes.TrimPrefix(body, []byte("Exif\x00\x00"))
		}
		at += 8 + size + tail
	}
	return nil
}

// tiffOrientation reads tag 0x0112 of the first directory; 0 for none.
func tiffOrientation(b []byte) int {
	if len(b) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.LittleEndian
	if string(b[:2]) == "MM" {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 0
	}
	n := int64(order.Uint16(b[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > int64(len(b)) {
			return 0
		}
		if order.Uint16(b[e:]) == 0x0112 {
			return int(order.Uint16(b[e+8:]))
		}
	}
	return 0
}
