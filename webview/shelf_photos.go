package webview

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"

	"ringwell/analysis/catalogue"
)

// photoLimit is the longest photo that is read, in bytes; the catalogue looks
// at its pixels.
const photoLimit = 32 << 20

func (s *Server) putPhoto(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf) error {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "image/") {
		return refuse(http.StatusUnsupportedMediaType, "", "Send the bytes of a JPEG, PNG or WebP file with Content-Type: image/jpeg, image/png or image/webp.")
	}
	// A telephone on a slow network needs longer for a photo than for words.
	http.NewResponseController(w).SetReadDeadline(time.Now().Add(time.Minute))
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, photoLimit))
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		return refuse(http.StatusRequestEntityTooLarge, "photo", "The photo is longer than %d MiB.", photoLimit>>20)
	case err != nil:
		return refuse(http.StatusBadRequest, "photo", "The photo did not come whole. Send it again.")
	case len(data) == 0:
		return refuse(http.StatusUnprocessableEntity, "photo", "The photo is empty.")
	}
	id := r.PathValue("id")
	s.shelf.decoding.Lock()
	err = shelf.SetPhoto(r.Context(), id, data)
	s.shelf.decoding.Unlock()
	if err != nil {
		return err
	}
	return s.answerObject(w, r, shelf, id, http.StatusOK)
}

func (s *Server) deletePhoto(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf) error {
	id := r.PathValue("id")
	if err := shelf.SetPhoto(r.Context(), id, nil); err != nil {
		return err
	}
	return s.answerObject(w, r, shelf, id, http.StatusOK)
}

func (s *Server) getPhoto(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	hash, ok := strings.CutSuffix(r.PathValue("file"), ".jpg")
	if !ok {
		return refuse(http.StatusNotFound, "", "Photos end in .jpg.")
	}
	data, err := shelf.Photo(r.Context(), hash)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/jpeg")
	// Its name is what is in it: it never changes.
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
	return nil
}
