package webview

import (
	"errors"
	"io/fs"
	"net/http"
	"strings"

	"ringwell/webview/share"
)

type devicesAnswer struct {
	Devices []share.Device `json:"devices"`
}

type scriptsAnswer struct {
	Calls  []string      `json:"calls"` // what a token can be for
	Tokens []share.Token `json:"tokens"`
}

// grantedAnswer is the only time a script's token is shown.
type grantedAnswer struct {
	share.Token
	Secret string `json:"secret"`
}

func (s *Server) getDevices(w http.ResponseWriter, _ *http.Request) error {
	answer(w, devicesAnswer{s.cfg.Book.Devices()})
	return nil
}

// mine refuses a device that wants to deal with another.
func mine(r *http.Request) error {
	if c := whose(r); !c.here && c.device.ID != r.PathValue("id") {
		return refuse(http.StatusForbidden, "", "A device can only rename or remove itself. Use ringwell's own computer for others.").because(byPlace)
	}
	return nil
}

func (s *Server) nameDevice(w http.ResponseWriter, r *http.Request) error {
	if err := mine(r); err != nil {
		return err
	}
	var want struct {
		Name string `json:"name"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	name := strings.TrimSpace(want.Name)
	if name == "" {
		return refuse(http.StatusUnprocessableEntity, "name", "A device needs a name, to tell it from others.")
	}
	if err := checkName("name", name); err != nil {
		return err
	}
	device, err := s.cfg.Book.Rename(r.PathValue("id"), name)
	if err != nil {
		return noSuch(err, "device")
	}
	s.phones.rename(device.ID, device.Name)
	s.tellPhones()
	answer(w, device)
	return nil
}

// deleteDevice ends a pairing. The device's sockets close by themselves.
func (s *Server) deleteDevice(w http.ResponseWriter, r *http.Request) error {
	if err := mine(r); err != nil {
		return err
	}
	id := r.PathValue("id")
	if err := s.cfg.Book.Revoke(id); err != nil {
		return noSuch(err, "device")
	}
	s.cfg.Log.Info("revoked", "device", id)
	if !whose(r).here {
		http.SetCookie(w, &http.Cookie{Name: cookieName, Path: "/", MaxAge: -1, HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode})
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func noSuch(err error, what string) error {
	if errors.Is(err, fs.ErrNotExist) {
		return refuse(http.StatusNotFound, "", "There is no such %s.", what)
	}
	return err
}

func (s *Server) getScripts(w http.ResponseWriter, _ *http.Request) error {
	answer(w, scriptsAnswer{s.calls, s.cfg.Book.Tokens()})
	return nil
}

// postScript grants a script one call.
func (s *Server) postScript(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Name string `json:"name"`
		Call string `json:"call"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	name := strings.TrimSpace(want.Name)
	if name == "" {
		return refuse(http.StatusUnprocessableEntity, "name", "A script needs a name, to tell it from others.")
	}
	if err := checkName("name", name); err != nil {
		return err
	}
	if !s.grantable(want.Call) {
		return refuse(http.StatusUnprocessableEntity, "call", "A script's token can be for one of these calls: %s.", strings.Join(s.calls, ", "))
	}
	token, secret, err := s.cfg.Book.Grant(name, want.Call)
	if errors.Is(err, share.ErrTooMany) {
		return refuse(http.StatusConflict, "", "There are too many scripts. Remove one first.")
	}
	if err != nil {
		return err
	}
	answer(w, grantedAnswer{token, secret})
	return nil
}

func (s *Server) deleteScript(w http.ResponseWriter, r *http.Request) error {
	if err := s.cfg.Book.Withdraw(r.PathValue("id")); err != nil {
		return noSuch(err, "script")
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}
