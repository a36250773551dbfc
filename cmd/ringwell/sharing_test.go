package main

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/webview/share"
)

func TestSharing(t *testing.T) {
	home(t, "")
	l := start(t, nil, "--from", "demo", "--share", "--share-address", "127.0.0.1:0")
	eventually(t, "the shared address and the fingerprint are printed", func() bool {
		return strings.Contains(l.out.String(), "The page is shared at https://") && strings.Contains(l.out.String(), "fingerprint") && strings.Contains(l.out.String(), "let the page on this computer show a code")
	})
	out := l.out.String()
	if !strings.Contains(out, "127.0.0.1 can be reached from this computer only") {
		t.Errorf("an address no other device can reach: got no word about it:\n%s", out)
	}
	if strings.Contains(out, "pair#") || strings.ContainsAny(out, "▀▄█") {
		t.Errorf("a pairing code was printed to what is no terminal:\n%s", out)
	}
	info, err := os.Stat(filepath.Join(doorsPath(), "authority.pem"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the authority's file: %v, %v, want 0600", info, err)
	}

	said := get[struct {
		On          bool
		URLs        []string
		Fingerprint string
	}](l, "/api/share")
	if !said.On || len(said.URLs) == 0 || !strings.Contains(out, said.URLs[0]) || !strings.Contains(out, said.Fingerprint) {
		t.Fatalf("GET /api/share: got %+v, want what was printed:\n%s", said, out)
	}
	r, err := http.Get(l.url + "/authority.crt")
	if err != nil {
		t.Fatal(err)
	}
	der, _ := io.ReadAll(r.Body)
	r.Body.Close()
	ca, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(ca)
	phone := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	defer phone.CloseIdleConnections()
	if r, err := phone.Get(said.URLs[0]); err != nil || r.StatusCode != http.StatusUnauthorized {
		t.Fatalf("the shared page before pairing: got %v, %v, want 401", r, err)
	}

	// Pair, list, and remove from another process.
	req, _ := http.NewRequest("POST", l.url+"/api/pairing", nil)
	req.Header.Set("X-Ringwell-Token", get[struct{ Token string }](l, "/api/token").Token)
	r, err = http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	var offer struct{ URL string }
	json.NewDecoder(r.Body).Decode(&offer)
	r.Body.Close()
	_, secret, _ := strings.Cut(offer.URL, "#")
	body, _ := json.Marshal(map[string]string{"secret": secret, "name": "phone \u202e"})
	r, err = phone.Post(said.URLs[0]+"api/pair", "application/json", bytes.NewReader(body))
	if err != nil || r.StatusCode != http.StatusOK || len(r.Cookies()) != 1 {
		t.Fatalf("pair: got %v, %v", r, err)
	}
	cookie := r.Cookies()[0]
	session := func() int {
		req, _ := http.NewRequest("GET", said.URLs[0]+"api/session", nil)
		req.AddCookie(cookie)
		r, err := phone.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		return r.StatusCode
	}
	if got := session(); got != http.StatusOK {
		t.Errorf("the paired phone: got %d, want 200", got)
	}
	status, list, complaints := ran("devices")
	if status != 0 || !strings.Contains(list, `phone \u202e`) {
		t.Errorf("ringwell devices: got %d, %q, %s", status, list, complaints)
	}
	_, text, _ := ran("devices", "--json")
	var devices []share.Device
	if err := json.Unmarshal([]byte(text), &devices); err != nil || len(devices) != 1 {
		t.Fatalf("ringwell devices --json: got %s", text)
	}
	page := strings.TrimPrefix(l.url, "http://")
	if status, text, complaints := ran("devices", "--remove", devices[0].ID, "--page", page); status != 0 {
		t.Fatalf("ringwell devices --remove: got %d, %s%s", status, text, complaints)
	}
	if got := session(); got != http.StatusUnauthorized {
		t.Errorf("the removed phone: got %d, want 401", got)
	}
	l.end()
}

func TestRemovingADeviceWithoutADaemon(t *testing.T) {
	home(t, "")
	if _, text, _ := ran("devices"); !strings.Contains(text, "No device is paired") {
		t.Errorf("no devices: got %q", text)
	}
	book, _, err := share.OpenBook(devicesPath(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"one", "two", "two"} {
		if _, _, err := book.Pair(name); err != nil {
			t.Fatal(err)
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	nobody := l.Addr().String()
	l.Close()
	if status, _, complaints := ran("devices", "--remove", "two", "--page", nobody); status != exitFault || !strings.Contains(complaints, "2 devices are called") {
		t.Errorf("an ambiguous name: got %d, %s", status, complaints)
	}
	if status, _, complaints := ran("devices", "--remove", "three", "--page", nobody); status != exitFault || !strings.Contains(complaints, "no device") {
		t.Errorf("an unknown name: got %d, %s", status, complaints)
	}
	if status, text, complaints := ran("devices", "--remove", "one", "--page", nobody); status != 0 || text != "one is no longer paired.\n" {
		t.Errorf("remove: got %d, %q, %s", status, text, complaints)
	}
	if _, text, _ := ran("devices"); strings.Contains(text, "one") {
		t.Errorf("after it was removed: got %q", text)
	}
}

func TestSharingFlags(t *testing.T) {
	home(t, "")
	for _, args := range [][]string{
		{"--share-address", "192.168.1.7"}, {"--share", "--share-address", "hall"}, {"--share", "--share-address", "0.0.0.0"},
		{"--share", "--share-address", "192.168.1.7:x"}, {"--share", "--share-address", "224.0.0.1"},
	} {
		if _, err := parsed(t, append([]string{"listen"}, args...)...); err == nil || !strings.Contains(err.Error(), "--share-address") {
			t.Errorf("%v: got %v, want a complaint about --share-address", args, err)
		}
	}
	// An address of documentation (RFC 5737) that this machine does not have.
	status, _, complaints := ran("listen", "--from", "demo", "--page", "127.0.0.1:0", "--share", "--share-address", "198.51.100.77")
	if status != exitFault || !strings.Contains(complaints, "no interface of this computer has that address") {
		t.Errorf("somebody else's address: got %d, %s", status, complaints)
	}
}
