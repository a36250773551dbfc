package main

import (
	"net"
	"strings"
	"testing"
)

func TestListenPageRefuses(t *testing.T) {
	for address, says := range map[string]string{
		"7341":              "127.0.0.1:7341",
		"":                  "127.0.0.1:7341",
		"0.0.0.0:7341":      "only this machine",
		":7341":             "only this machine",
		"[::]:7341":         "only this machine",
		"192.0.2.1:80":      "only this machine", // RFC 5737: for documentation
		"example.org:80":    "only this machine",
		"127.0.0.1:seventy": "--page",
	} {
		l, err := listenPage(address)
		if err == nil {
			l.Close()
		}
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got error %v, want one that says %q", address, err, says)
		}
	}
}

func TestListenPageTaken(t *testing.T) {
	first, err := listenPage("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	address := first.Addr().String()
	_, port, _ := net.SplitHostPort(address)
	second, err := listenPage(address)
	if err == nil {
		second.Close()
		t.Fatalf("%s taken twice", address)
	}
	for _, says := range []string{"taken", "http://" + address + "/", "--page 127.0.0.1:" + another(port)} {
		if !strings.Contains(err.Error(), says) {
			t.Errorf("got %q; want it to say %q", err, says)
		}
	}
	if another("65535") != "0" || another("80") != "81" {
		t.Errorf("after 65535 comes %s, after 80 %s; want 0 (any) and 81", another("65535"), another("80"))
	}
}
