package catalogue

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io/fs"

	"golang.org/x/image/webp"
)

// How large a photo may be. A telephone takes about 50 million pixels.
const (
	mostPhotoBytes  = 32 << 20
	mostPhotoPixels = 64_000_000
	photoSide       = 2048 // pixels of the longer side that are kept
	photoQuality    = 85
)

// ErrPhoto: the bytes are no photo that is kept.
var ErrPhoto = errors.New("give a JPEG, PNG or WebP file of at most 64 million pixels and 32 MiB")

// SetPhoto gives an object a photo, made anew from the bytes of a JPEG, PNG or
// WebP file: upright, at most 2048 pixels long, and without what cameras write
// beside the picture, such as the place. It returns an error that wraps
// ErrPhoto where the bytes are none, and fs.ErrNotExist for no such object.
// With no bytes the photo is taken away.
func (s *Shelf) SetPhoto(ctx context.Context, object string, data []byte) error {
	var anew []byte
	var size image.Point
	if len(data) > 0 {
		var err error
		if anew, size, err = remake(data); err != nil {
			return fmt.Errorf("catalogue: photo of object %s: %w", object, err)
		}
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		name := ""
		if anew != nil {
			name = hash(anew)
			if _, err := tx.Exec(`INSERT INTO photo (hash, jpeg, width, height) VALUES (?,?,?,?) ON CONFLICT DO NOTHING`, name, anew, size.X, size.Y); err != nil {
				return err
			}
		}
		return one(tx.Exec(`UPDATE object SET photo = ?, changed = ? WHERE id = ?`, orNull(name), stamp(s.now()), object))
	})
	if err != nil {
		return fmt.Errorf("catalogue: photo of object %s: %w", object, err)
	}
	return nil
}

// Photo returns a photo as JPEG; fs.ErrNotExist where there is none of that
// hash.
func (r *Reader) Photo(ctx context.Context, hash string) ([]byte, error) {
	var data []byte
	err := r.db.QueryRowContext(ctx, `SELECT jpeg FROM photo WHERE hash = ?`, hash).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		err = fs.ErrNotExist
	}
	return data, told(err, "photo", hash)
}

// remake decodes a photo, having looked at its size first, and encodes it
// anew.
func remake(data []byte) ([]byte, image.Point, error) {
	if len(data) > mostPhotoBytes {
		return nil, image.Point{}, fmt.Errorf("%d bytes are too many: %w", len(data), ErrPhoto)
	}
	config, decode, err := format(data)
	if err != nil {
		return nil, image.Point{}, fmt.Errorf("%w (%v)", ErrPhoto, err)
	}
	if w, h := int64(config.Width), int64(config.Height); w < 1 || h < 1 || w*h > mostPhotoPixels {
		return nil, image.Point{}, fmt.Errorf("%d by %d pixels: %w", w, h, ErrPhoto)
	}
	img, err := decode(bytes.NewReader(data))
	if err != nil {
		return nil, image.Point{}, fmt.Errorf("%w (%v)", ErrPhoto, err)
	}
	out := upright(shrink(img), orientation(data))
	var b bytes.Buffer
	if err := jpeg.Encode(&b, out, &jpeg.Options{Quality: photoQuality}); err != nil {
		return nil, image.Point{}, err
	}
	return b.Bytes(), out.Bounds().Size(), nil
}

type decoder = func(*bytes.Reader) (image.Image, error)

// format reads a file's head. Only three decoders can ever be reached,
// whatever others the program registers.
func format(data []byte) (image.Config, decoder, error) {
	r := bytes.NewReader(data)
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		c, err := jpeg.DecodeConfig(r)
		return c, func(r *bytes.Reader) (image.Image, error) { return jpeg.Decode(r) }, err
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		c, err := png.DecodeConfig(r)
		return c, func(r *bytes.Reader) (image.Image, error) { return png.Decode(r) }, err
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP":
		c, err := webp.DecodeConfig(r)
		return c, func(r *bytes.Reader) (image.Image, error) { return webp.Decode(r) }, err
	}
	return image.Config{}, nil, errors.New("the file begins as none of the three")
}

// shrink makes a picture of at most photoSide pixels a side, each the mean of
// those it stands for, on white.
func shrink(img image.Image) *image.RGBA {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if long := max(w, h); long > photoSide {
		w, h = max(1, w*photoSide/long), max(1, h*photoSide/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if w == b.Dx() && h == b.Dy() {
		draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(out, out.Bounds(), img, b.Min, draw.Over)
		return out
	}
	band := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()/h+1))
	for y := range h {
		top, bottom := y*b.Dy()/h, (y+1)*b.Dy()/h
		rows := image.Rect(0, 0, b.Dx(), bottom-top)
		draw.Draw(band, rows, image.White, image.Point{}, draw.Src)
		draw.Draw(band, rows, img, image.Pt(b.Min.X, b.Min.Y+top), draw.Over)
		for x := range w {
			out.SetRGBA(x, y, mean(band, image.Rect(x*b.Dx()/w, 0, (x+1)*b.Dx()/w, bottom-top)))
		}
	}
	return out
}

// mean is the mean colour of a box of an opaque picture.
func mean(img *image.RGBA, box image.Rectangle) color.RGBA {
	var r, g, b, n uint32 // a box has at most mostPhotoPixels/photoSide pixels, whose sums fit
	for y := box.Min.Y; y < box.Max.Y; y++ {
		row := img.Pix[img.PixOffset(box.Min.X, y):img.PixOffset(box.Max.X, y)]
		for ; len(row) >= 4; row = row[4:] {
			r, g, b, n = r+uint32(row[0]), g+uint32(row[1]), b+uint32(row[2]), n+1
		}
	}
	return color.RGBA{uint8(r / n), uint8(g / n), uint8(b / n), 0xff}
}

// plainJPEG checks a photo that comes out of an export: it must be as remake
// leaves it, a JPEG of the size stated that carries no metadata.
func plainJPEG(p exportedPhoto) error {
	c, err := jpeg.DecodeConfig(bytes.NewReader(p.JPEG))
	if err != nil {
		return fmt.Errorf("%w (%v)", ErrPhoto, err)
	}
	if c.Width != p.Width || c.Height != p.Height || max(c.Width, c.Height) > photoSide || exif(p.JPEG) != nil {
		return fmt.Errorf("the photo is not as the shelf keeps photos: %w", ErrPhoto)
	}
	return nil
}
