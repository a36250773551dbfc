package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/netip"
	"path/filepath"
	"syscall"
	"time"

	"ringwell/webview"
	"ringwell/webview/share"
)

// sharePort is where the page is shared unless told otherwise.
const sharePort = 7342

// sharing are the flags that open the page to the local network. They are to be
// said each time: no setting should open a door unseen.
type sharing struct {
	Share        bool   `env:"-" help:"Share the page with the local network, over TLS, for devices that were paired."`
	ShareAddress string `env:"-" placeholder:"IP[:PORT]" help:"The address to share the page at. (the one other networks are reached from, port ${share})"`
}

// at is what --share-address asks for; without it no IP and the usual port.
func (s *sharing) at() (ip netip.Addr, port uint16, err error) {
	if s.ShareAddress == "" {
		return netip.Addr{}, sharePort, nil
	}
	if ip, err = netip.ParseAddr(s.ShareAddress); err == nil {
		port = sharePort
	} else if at, e := netip.ParseAddrPort(s.ShareAddress); e == nil {
		ip, port = at.Addr(), at.Port()
	} else {
		return ip, 0, errors.New("--share-address: write an IP address, or one with a port, as in 192.168.1.7:7342")
	}
	if ip.IsUnspecified() || ip.IsMulticast() {
		return ip, 0, fmt.Errorf("--share-address: %s is no address of one computer; choose one of this computer's", ip)
	}
	return ip, port, nil
}

// validate refuses flags that cannot be meant.
func (s *sharing) validate() error {
	if s.ShareAddress != "" && !s.Share {
		return errors.New("--share-address: also say --share, which opens the page to the local network")
	}
	_, _, err := s.at()
	return err
}

// doorsPath is the folder of what the shared page needs: certificates and the
// list of devices. "" where there is no place.
func doorsPath() string {
	if dir := dataHome(); dir != "" {
		return filepath.Join(dir, "doors")
	}
	return ""
}

func devicesPath() string {
	if dir := doorsPath(); dir != "" {
		return filepath.Join(dir, "devices.json")
	}
	return ""
}

// book opens the list of devices and scripts. Where the page is not shared, one
// that cannot be read is no reason not to listen.
func (s *sharing) book(log *slog.Logger) (*share.Book, error) {
	b, notice, err := share.OpenBook(devicesPath(), time.Now)
	if err != nil {
		if s.Share {
			return nil, err
		}
		log.Warn("listening without paired devices and scripts", "err", err)
		return nil, nil
	}
	if notice != "" {
		log.Warn("paired devices", "notice", notice)
	}
	return b, nil
}

// open opens the shared door; nil without --share. What changes later is told.
func (s *sharing) open(tell func(words string)) (*share.Network, error) {
	if !s.Share {
		return nil, nil
	}
	dir := doorsPath()
	if dir == "" {
		return nil, errors.New("--share: there is no home folder to keep the certificates in")
	}
	ip, port, err := s.at()
	if err != nil {
		return nil, err
	}
	o := share.Options{Dir: dir, Port: port, Tell: tell}
	if ip.IsValid() {
		o.Find = share.Only(ip)
	}
	n, err := share.Open(o)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("%w. If another ringwell shares its page, end it first; otherwise choose another port with --share-address IP:PORT", err)
	}
	if err != nil {
		return nil, err
	}
	if ip.IsValid() && len(n.URLs()) == 0 {
		n.Close()
		return nil, fmt.Errorf("--share-address %s: no interface of this computer has that address", ip)
	}
	return n, nil
}

// share answers the local network until ctx ends, and says on the terminal how
// to get there. A pairing code is shown to eyes only: where out is no terminal,
// the page on this computer shows one.
func (d *daemon) share(ctx context.Context, n *share.Network, served chan<- error) {
	go func() { served <- d.server.ServeShared() }()
	go n.Watch(ctx)
	urls := n.URLs()
	if len(urls) == 0 {
		d.teller.say("This computer is in no local network now; the page is shared once it is.")
		return
	}
	d.teller.say("The page is shared at " + urls[0] + " with devices that were paired.")
	if ip, _, _ := d.command.at(); ip.IsValid() {
		if doubt := share.Doubt(ip); doubt != "" {
			d.teller.say(doubt)
		}
	}
	d.teller.say("Its certificate authority has the SHA-256 fingerprint " + n.Fingerprint() + ".")
	if words := invitation(d.server, terminal(d.std.out)); words != "" {
		d.teller.say(words)
	}
}

// invitation is how a device is paired: on a terminal with a code to scan.
func invitation(server *webview.Server, onTerminal bool) string {
	if !onTerminal {
		return "To pair a device let the page on this computer show a code."
	}
	url, _, ok := server.OfferPairing()
	if !ok {
		return ""
	}
	code, err := share.QRText(url)
	if err != nil {
		return ""
	}
	return "To pair a device scan this within five minutes, or open " + url + " there. For another let the page on this computer show a code.\n" + code
}
