package share

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestAnOfferIsGoodOnceAndForFiveMinutes(t *testing.T) {
	c := newClock()
	p := NewPairing(c.Now)
	if _, ok := p.Current(); ok || p.Take("") == nil {
		t.Error("without an offer: nothing is wrong with an empty secret")
	}
	first := p.Offer()
	if len(first.Secret) < 22 { // 128 bits in base64
		t.Errorf("a secret of %d letters, wanted 22 or more", len(first.Secret))
	}
	if p.Take(first.Secret+"x") == nil || p.Take("") == nil || p.Take(first.Secret) != nil {
		t.Error("wanted the right secret to be taken and no other")
	}
	if !errors.Is(p.Take(first.Secret), ErrNoOffer) {
		t.Error("a used secret was taken")
	}
	old := p.Offer()
	c.now = c.now.Add(OfferLasts)
	if p.Take(old.Secret) == nil {
		t.Error("a secret five minutes old was taken")
	}
	replaced := p.Offer()
	last := p.Offer()
	c.now = c.now.Add(OfferLasts - time.Second)
	if p.Take(replaced.Secret) == nil || p.Take(last.Secret) != nil {
		t.Error("of two offers wanted the later one only")
	}
}

func TestLifeOfADevice(t *testing.T) {
	c := newClock()
	path := filepath.Join(t.TempDir(), "deep", "devices.json")
	b, notice, err := OpenBook(path, c.Now)
	if err != nil || notice != "" {
		t.Fatal(notice, err)
	}
	phone, secret, err := b.Pair("blue phone")
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Pair("tablet"); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), secret) {
		t.Error("the file holds the secret itself")
	}
	info, _ := os.Stat(path)
	folder, _ := os.Stat(filepath.Dir(path))
	if info.Mode().Perm() != 0o600 || folder.Mode().Perm() != 0o700 {
		t.Errorf("got file %v in folder %v, wanted 0600 in 0700", info.Mode(), folder.Mode())
	}

	b, _, err = OpenBook(path, c.Now) // a restart
	if err != nil {
		t.Fatal(err)
	}
	c.now = c.now.Add(time.Hour)
	got, ok := b.Device(secret)
	if !ok || got.ID != phone.ID || got.Name != "blue phone" || !got.Seen.Equal(c.now) {
		t.Errorf("after a restart: got %+v %v, wanted the phone, seen just now", got, ok)
	}
	for _, wrong := range []string{"", secret[1:], secret + "x", strings.ToUpper(secret)} {
		if _, ok := b.Device(wrong); ok {
			t.Errorf("the secret %q is somebody's", wrong)
		}
	}
	if d, err := b.Rename(phone.ID, "green phone"); err != nil || d.Name != "green phone" {
		t.Errorf("renamed: got %+v, %v", d, err)
	}
	gone := b.Revoked(phone.ID)
	select {
	case <-gone:
		t.Fatal("gone before it was revoked")
	default:
	}
	if err := b.Revoke(phone.ID); err != nil {
		t.Fatal(err)
	}
	select {
	case <-gone:
	default:
		t.Error("its sockets were not told that it was revoked")
	}
	select {
	case <-b.Revoked(phone.ID):
	default:
		t.Error("who asks later is not told that it was revoked")
	}
	if _, ok := b.Device(secret); ok || !errors.Is(b.Revoke(phone.ID), fs.ErrNotExist) || len(b.Devices()) != 1 {
		t.Errorf("after it was revoked: %+v", b.Devices())
	}
	c.now = c.now.Add(PairedFor)
	if len(b.Devices()) != 0 {
		t.Errorf("after %v: still paired: %+v", PairedFor, b.Devices())
	}
}

func TestABookIsFull(t *testing.T) {
	c := newClock()
	b, _, _ := OpenBook("", c.Now)
	for range mostDevices {
		if _, _, err := b.Pair("x"); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := b.Pair("x"); !errors.Is(err, ErrTooMany) {
		t.Errorf("device %d: got %v, wanted %v", mostDevices+1, err, ErrTooMany)
	}
	c.now = c.now.Add(PairedFor) // those that have lapsed make room
	if _, _, err := b.Pair("x"); err != nil || len(b.Devices()) != 1 {
		t.Errorf("once the others have lapsed: got %v and %d devices", err, len(b.Devices()))
	}
}

func TestBrokenBookIsMovedAside(t *testing.T) {
	for _, text := range []string{"", "rubbish", `{"v":2}`, `{"v":1,"devices":[null]}`, `{"v":1,"devices":[{"digest":"00"}]}`} {
		path := filepath.Join(t.TempDir(), "devices.json")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		b, notice, err := OpenBook(path, time.Now)
		if err != nil || !strings.Contains(notice, "devices.json.broken-1") || len(b.Devices()) != 0 {
			t.Errorf("%q: got %q, %v", text, notice, err)
		}
		if kept, _ := os.ReadFile(path + ".broken-1"); string(kept) != text {
			t.Errorf("%q: moved aside it reads %q", text, kept)
		}
	}
}

func TestLifeOfAToken(t *testing.T) {
	path := filepath.Join(t.TempDir(), "devices.json")
	b, _, _ := OpenBook(path, time.Now)
	foot, secret, err := b.Grant("foot switch", "POST /api/tone")
	if err != nil {
		t.Fatal(err)
	}
	b, _, _ = OpenBook(path, time.Now)
	if got, ok := b.Token(secret); !ok || got.ID != foot.ID || got.Call != "POST /api/tone" {
		t.Errorf("after a restart: got %+v %v", got, ok)
	}
	if _, ok := b.Device(secret); ok {
		t.Error("a script's token pairs a device")
	}
	if err := b.Withdraw(foot.ID); err != nil {
		t.Fatal(err)
	}
	if _, ok := b.Token(secret); ok || len(b.Tokens()) != 0 || !errors.Is(b.Withdraw(foot.ID), fs.ErrNotExist) {
		t.Error("a token withdrawn still stands")
	}
}
