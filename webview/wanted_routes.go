package webview

import (
	"net/http"
)

func (s *Server) getWanted(w http.ResponseWriter, _ *http.Request) error {
	answer(w, s.Wanted())
	return nil
}

func (s *Server) putWanted(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Text *string `json:"text"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if want.Text == nil {
		return refuse(http.StatusUnprocessableEntity, "text", "Send the whole list as text; an empty text is an empty list.")
	}
	answer(w, s.WriteWanted(*want.Text))
	return nil
}

func (s *Server) patchWanted(w http.ResponseWriter, r *http.Request) error {
	var c WantedChange
	if err := readBody(w, r, &c); err != nil {
		return err
	}
	form, err := s.ChangeWanted(c)
	if err != nil {
		return err
	}
	answer(w, form)
	return nil
}
