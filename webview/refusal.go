package webview

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
)

// bodyLimit is the longest body of a request, in bytes: a hundred times the
// longest session.
const bodyLimit = 64 << 10

// Refusal is why something asked of the server is not done. Words are one
// sentence that says what is so and, where it helps, what to do.
type Refusal struct {
	Status int    `json:"-"`     // HTTP status
	Field  string `json:"field"` // of the request's body; "" where it is about the whole
	Words  string `json:"words"`
	Reason string `json:"-"` // what it is counted under; "": by its status
}

func (r *Refusal) Error() string { return "webview: " + r.Words }

func refuse(status int, field, format string, args ...any) *Refusal {
	return &Refusal{Status: status, Field: field, Words: fmt.Sprintf(format, args...)}
}

// because says what the refusal is counted under.
func (r *Refusal) because(reason string) *Refusal {
	r.Reason = reason
	return r
}

// answer sends v as JSON.
func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Write(encode(v)) // the client has gone if this fails: nobody to tell
}

// answerRefusal sends a refusal; any other error is a failure of ours.
func answerRefusal(w http.ResponseWriter, err error) {
	var r *Refusal
	if !errors.As(err, &r) {
		r = &Refusal{Status: http.StatusInternalServerError, Words: "That failed inside ringwell: " + err.Error() + "."}
	}
	if t, ok := w.(*tallied); ok {
		t.tally.refused(r)
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(r.Status)
	w.Write(encode(struct {
		Error *Refusal `json:"error"`
	}{r}))
}

// readBody reads the JSON object of a request into v. It refuses another
// content type (415), too long a body (413), and what is not one JSON object
// with known fields of the right type (400).
func readBody(w http.ResponseWriter, r *http.Request, v any) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return refuse(http.StatusUnsupportedMediaType, "", "Send this with Content-Type: application/json.")
	}
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, bodyLimit))
	in.DisallowUnknownFields()
	if err := in.Decode(v); err != nil {
		return bodyRefusal(err)
	}
	if _, err := in.Token(); err != io.EOF {
		return refuse(http.StatusBadRequest, "", "The body holds more than one JSON object.")
	}
	return nil
}

func bodyRefusal(err error) error {
	var long *http.MaxBytesError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &long):
		return refuse(http.StatusRequestEntityTooLarge, "", "The body is longer than %d bytes.", long.Limit)
	case errors.As(err, &kind):
		return refuse(http.StatusBadRequest, kind.Field, "A %s cannot stand for %s.", kind.Value, fieldName(kind.Field))
	case errors.Is(err, os.ErrDeadlineExceeded):
		return refuse(http.StatusRequestTimeout, "", "The body took too long to come.")
	case errors.Is(err, io.EOF):
		return refuse(http.StatusBadRequest, "", "The body is empty; send a JSON object.")
	}
	return refuse(http.StatusBadRequest, "", "The body cannot be read as the JSON asked for: %v.", err)
}

func fieldName(field string) string {
	if field == "" {
		return "the body"
	}
	return field
}
