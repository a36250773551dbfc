package catalogue

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"testing"
)

// corners is a picture of w by h: red top left, green top right, blue bottom
// left, white bottom right.
func corners(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{255, 255, 255, 255}
			switch {
			case y < h/2 && x < w/2:
				c = color.RGBA{255, 0, 0, 255}
			case y < h/2:
				c = color.RGBA{0, 255, 0, 255}
			case x < w/2:
				c = color.RGBA{0, 0, 255, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	return m
}

func asJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func slate(t testing.TB) []byte { return asJPEG(t, corners(48, 32)) }

// tiff is an Exif block that states an orientation and a secret.
func tiff(o uint16) []byte {
	b := []byte("II*\x00\x08\x00\x00\x00\x01\x00")
	b = binary.LittleEndian.AppendUint16(b, 0x0112)
	b = binary.LittleEndian.AppendUint16(b, 3)
	b = binary.LittleEndian.AppendUint32(b, 1)
	b = binary.LittleEndian.AppendUint32(b, uint32(o))
	return append(b, "\x00\x00\x00\x00where it was taken"...)
}

func withExif(data []byte, o uint16) []byte {
	body := append([]byte("Exif\x00\x00"), tiff(o)...)
	head := []byte{0xff, 0xe1, 0, 0}
	binary.BigEndian.PutUint16(head[2:], uint16(len(body)+2))
	return bytes.Join([][]byte{data[:2], head, body, data[2:]}, nil)
}

// name says which corner a colour is of.
func name(c color.Color) string {
	r, g, b, _ := c.RGBA()
	switch hi := func(v uint32) bool { return v > 0x8000 }; {
	case hi(r) && hi(g) && hi(b):
		return "white"
	case hi(r):
		return "red"
	case hi(g):
		return "green"
	case hi(b):
		return "blue"
	}
	return "dark"
}

// Where the stored picture's corners lie when it is upright, by the meaning of
// the Exif tag: row 0 and column 0 of what is stored are, for 1 to 8, top left,
// top right, bottom right, bottom left, left top, right top, right bottom, left
// bottom (Exif 2.3, table of Orientation, from memory, unchecked).
func TestOrientation(t *testing.T) {
	for o, want := range map[uint16][2]string{ // top left, top right
		1: {"red", "green"}, 2: {"green", "red"}, 3: {"white", "blue"}, 4: {"blue", "white"},
		5: {"red", "blue"}, 6: {"blue", "red"}, 7: {"white", "green"}, 8: {"green", "white"},
	} {
		out, size, err := remake(withExif(slate(t), o))
		if err != nil {
			t.Fatal(err)
		}
		m, err := jpeg.Decode(bytes.NewReader(out))
		if err != nil {
			t.Fatal(err)
		}
		wantSize := image.Pt(48, 32)
		if o >= 5 {
			wantSize = image.Pt(32, 48)
		}
		got := [2]string{name(m.At(4, 4)), name(m.At(size.X-5, 4))}
		if got != want || size != wantSize {
			t.Errorf("orientation %d: got %v, %v, want %v, %v", o, got, size, want, wantSize)
		}
		if bytes.Contains(out, []byte("where it was taken")) || exif(out) != nil {
			t.Errorf("orientation %d: the photo still carries what the camera wrote", o)
		}
	}
}

// hugePNG claims to be w by h pixels and holds none.
func hugePNG(w, h uint32) []byte {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d")
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	ihdr = append(ihdr, 8, 2, 0, 0, 0)
	return binary.BigEndian.AppendUint32(append(b, ihdr...), crc32.ChecksumIEEE(ihdr))
}

func TestPhotosRefused(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	o, _ := jar(t, s)
	for why, data := range map[string][]byte{
		"a text":                  []byte("GIF89a"),
		"2.5 thousand million px": hugePNG(50000, 50000),
		"cut short":               slate(t)[:200],
		"too many bytes":          append(slate(t), make([]byte, mostPhotoBytes)...),
	} {
		if err := s.SetPhoto(ctx, o.ID, data); !errors.Is(err, ErrPhoto) {
			t.Errorf("%s: got %v, want ErrPhoto", why, err)
		}
	}
	if err := s.SetPhoto(ctx, "nobody", slate(t)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("of nobody: got %v, want fs.ErrNotExist", err)
	}
}

// webpPixel is a WebP file of one pixel, lossless, as it is widely quoted (from
// memory, checked only in that it decodes).
const webpPixel = "UklGRhoAAABXRUJQVlA4TA0AAAAvAAAAEAcQERGIiP4HAA=="

func TestPhotosKept(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	o, _ := jar(t, s)
	var asPNG bytes.Buffer
	if err := png.Encode(&asPNG, corners(4096, 64)); err != nil {
		t.Fatal(err)
	}
	asWebP, err := base64.StdEncoding.DecodeString(webpPixel)
	if err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		data []byte
		want image.Point
	}{
		"JPEG": {slate(t), image.Pt(48, 32)}, "PNG": {asPNG.Bytes(), image.Pt(2048, 32)}, "WebP": {asWebP, image.Pt(1, 1)},
	} {
		if err := s.SetPhoto(ctx, o.ID, c.data); err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		with, _ := s.Object(ctx, o.ID)
		data, err := s.Photo(ctx, with.Photo)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if c2, err := jpeg.DecodeConfig(bytes.NewReader(data)); err != nil || image.Pt(c2.Width, c2.Height) != c.want {
			t.Errorf("%s: got %d by %d, %v, want %v", what, c2.Width, c2.Height, err, c.want)
		}
	}
	if err := s.SetPhoto(ctx, o.ID, nil); err != nil {
		t.Fatal(err)
	}
	if got, _ := s.Object(ctx, o.ID); got.Photo != "" {
		t.Errorf("taken away: got %q, want none", got.Photo)
	}
}

func FuzzPhoto(f *testing.F) {
	f.Add(slate(f))
	f.Add(withExif(slate(f), 6))
	f.Add(hugePNG(3, 3))
	f.Fuzz(func(t *testing.T, data []byte) {
		out, size, err := remake(data)
		if err != nil {
			return
		}
		if c, err := jpeg.DecodeConfig(bytes.NewReader(out)); err != nil || c.Width != size.X || c.Height != size.Y || max(size.X, size.Y) > photoSide {
			t.Errorf("got %v, %+v, %v, want a JPEG of at most %d a side", size, c, err, photoSide)
		}
	})
}

// A telephone's photo, 12 million pixels.
func BenchmarkPhoto(b *testing.B) {
	data := asJPEG(b, corners(4000, 3000))
	for b.Loop() {
		if _, size, err := remake(data); err != nil || size != image.Pt(2048, 1536) {
			b.Fatal(size, err)
		}
	}
}
