package webview

import (
	"bufio"
	"bytes"
	"encoding/pem"
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"ringwell/webview/share"
)

// Both hosts are processes of this test, each in a network namespace of its
// own, joined by a pair of virtual cables: nothing of this machine's network is
// touched, and the kernel clears it all away when they end. The first host also
// has a user namespace of its own, so that nobody needs to be root.
const (
	netnsAsked  = "RINGWELL_NETNS" // 1: this machine can do it
	netnsRole   = "RINGWELL_NETNS_ROLE"
	netnsFirst  = "first"
	netnsSecond = "second "
	netnsHere   = "10.213.77.1"
	netnsThere  = "10.213.77.2"
)

func TestFromASecondHost(t *testing.T) {
	switch as := os.Getenv(netnsRole); {
	case as == netnsFirst:
		firstHost(t)
	case strings.HasPrefix(as, netnsSecond):
		secondHost(t, strings.TrimPrefix(as, netnsSecond))
	case os.Getenv(netnsAsked) != "1":
		t.Skip("network namespaces are made only where " + netnsAsked + "=1")
	default:
		c := role(t, netnsFirst)
		c.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWUSER | syscall.CLONE_NEWNET,
			UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Geteuid(), Size: 1}},
			GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getegid(), Size: 1}},
		}
		out, err := c.CombinedOutput()
		if err != nil || !strings.Contains(string(out), "--- PASS: TestFromASecondHost") {
			t.Fatalf("the first host: %v\n%s", err, out)
		}
		for line := range strings.Lines(string(out)) {
			if strings.Contains(line, "cut off at most") {
				t.Log(strings.TrimSpace(line))
			}
		}
	}
}

// role is this test again, in another role.
func role(t *testing.T, as string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run", "^TestFromASecondHost$", "-test.v", "-test.timeout", "1m")
	c.Env = append(os.Environ(), netnsRole+"="+as)
	return c
}

// ip runs the ip command, in the namespace this process is in.
func ip(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command("ip", args...).CombinedOutput(); err != nil {
		t.Fatalf("ip %s: %v: %s", strings.Join(args, " "), err, out)
	}
}

// firstHost runs ringwell's server, starts the second host, and revokes its
// pairing once it says that it has one.
func firstHost(t *testing.T) {
	ip(t, "link", "set", "lo", "up")
	ip(t, "link", "add", "here", "type", "veth", "peer", "name", "there")
	ip(t, "addr", "add", netnsHere+"/24", "dev", "here")
	ip(t, "link", "set", "here", "up")
	n, err := share.Open(share.Options{Dir: t.TempDir(), Find: share.Only(netip.MustParseAddr(netnsHere)), Names: []string{"hall.local"}})
	if err != nil {
		t.Fatal(err)
	}
	defer n.Close()
	clock := newClock()
	r := start(t, Config{Network: n, Sources: []string{"mic", FromPhone}, Now: clock.Now})
	go r.ServeShared()
	ca := filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: n.Authority().DER()}), 0o600); err != nil {
		t.Fatal(err)
	}
	// An offer that has grown old, and one that has not.
	old, expires, ok := r.OfferPairing()
	if !ok {
		t.Fatal("no pairing is offered")
	}
	clock.forward(expires.Sub(clock.Now()) + time.Second)
	url, _, _ := r.OfferPairing()
	child := role(t, netnsSecond+strings.Join([]string{r.addr, old, url, ca}, " "))
	child.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNET}
	var out, complaints bytes.Buffer
	child.Stderr = &complaints
	to, err := child.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	from, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	ip(t, "link", "set", "there", "netns", strconv.Itoa(child.Process.Pid))
	fmt.Fprintln(to, "plugged in")
	said := &lines{r: io.TeeReader(from, &out)}
	if said.until("PAIRED") {
		before := time.Now()
		if devices := r.cfg.Book.Devices(); len(devices) != 1 {
			t.Errorf("%d devices are paired, wanted 1", len(devices))
		} else if status, _, _ := r.ask("DELETE", "/api/devices/"+devices[0].ID, nil); status != http.StatusNoContent {
			t.Errorf("revoke: got %d", status)
		}
		fmt.Fprintln(to, before.UnixNano())
	}
	if said.until("GUESSED") {
		clock.forward(guessEvery)
		fmt.Fprintln(to, "later")
	}
	io.Copy(io.Discard, said.r)
	if err := child.Wait(); err != nil || !strings.Contains(out.String(), "--- PASS: TestFromASecondHost") {
		t.Errorf("the second host: %v\n%s%s", err, out.String(), complaints.String())
	}
	for reason, least := range map[string]int64{"unpaired": 10, byPairing: 5, "rate": 1} {
		if got := r.tally.all()[reason]; got < least {
			t.Errorf("counted as %s: %d, wanted %d or more", reason, got, least)
		}
	}
	for line := range strings.Lines(out.String()) {
		if strings.Contains(line, "cut off at most") {
			t.Log(strings.TrimSpace(line))
		}
	}
}

// lines waits for a line that begins with a word.
type lines struct{ r io.Reader }

func (l *lines) until(word string) bool {
	var line []byte
	for b := make([]byte, 1); ; {
		if _, err := l.r.Read(b); err != nil {
			return false
		}
		if line = append(line, b[0]); b[0] == '\n' {
			if strings.HasPrefix(string(line), word) {
				return true
			}
			line = line[:0]
		}
	}
}

// secondHost is what somebody on another machine can do.
func secondHost(t *testing.T, with string) {
	var here, old, url, caFile, word string
	if _, err := fmt.Sscan(with, &here, &old, &url, &caFile); err != nil {
		t.Fatal(err)
	}
	in := bufio.NewReader(os.Stdin)
	if _, err := fmt.Fscan(in, &word, &word); err != nil {
		t.Fatal(err)
	}
	ip(t, "addr", "add", netnsThere+"/24", "dev", "there")
	ip(t, "link", "set", "there", "up")
	text, err := os.ReadFile(caFile)
	if err != nil {
		t.Fatal(err)
	}
	_, oldSecret, _ := strings.Cut(old, "#")
	page, secret, _ := strings.Cut(url, "#")
	at := strings.TrimSuffix(strings.TrimPrefix(page, "https://"), "/pair")
	block, _ := pem.Decode(text)
	b := &browser{t: t, r: &sharedRig{at: at}}
	trust := trustOf(t, block.Bytes)
	b.trusts(trust)

	// The page of that machine itself cannot be reached, nor anything unpaired.
	if _, err := http.Get("http://" + strings.Replace(here, "127.0.0.1", netnsHere, 1) + "/"); err == nil {
		t.Error("the loopback page answers the network")
	}
	for _, path := range []string{"/", "/app.js", "/api/session", "/api/strikes", "/healthz", "/metrics", "/api/pairing/code.svg"} {
		if status, _, _ := b.ask("GET", path, "", ""); status != http.StatusUnauthorized {
			t.Errorf("unpaired, %s: got %d, wanted 401", path, status)
		}
	}
	for _, path := range []string{socketPath, earPath} {
		if _, resp, err := b.socketOver(trust, path); err == nil || resp == nil || resp.StatusCode != http.StatusUnauthorized {
			t.Errorf("unpaired, %s: got %v, wanted 401", path, err)
		}
	}
	if status, _, _ := b.pair(oldSecret, "x"); status != http.StatusForbidden {
		t.Errorf("an old secret: got %d, wanted 403", status)
	}
	if status, _, _ := b.pair("AAAAAAAAAAAAAAAAAAAAAA", "x"); status != http.StatusForbidden {
		t.Errorf("a guessed secret: got %d, wanted 403", status)
	}
	if status, text, _ := b.pair(secret, "second host"); status != http.StatusOK {
		t.Fatalf("pair: got %d %s", status, text)
	}
	cookie := b.cookie
	if status, _, _ := b.pair(secret, "x"); status != http.StatusForbidden {
		t.Errorf("a used secret: got %d, wanted 403", status)
	}
	b.cookie = cookie
	if status, _, _ := b.ask("GET", "/api/session", "", ""); status != http.StatusOK {
		t.Errorf("paired: got %d, wanted 200", status)
	}
	live, _, err := b.socketOver(trust, socketPath)
	if err != nil {
		t.Fatal(err)
	}
	defer live.Close()
	fmt.Println("\nPAIRED")
	var revoked int64
	if _, err := fmt.Fscan(in, &revoked); err != nil {
		t.Fatal(err)
	}
	live.SetReadDeadline(time.Now().Add(patience))
	for err = nil; err == nil; {
		_, _, err = live.ReadMessage()
	}
	if !websocket.IsCloseError(err, closeRevoked) {
		t.Errorf("the open socket: got %v, wanted close %d", err, closeRevoked)
	}
	// One clock: both hosts are on this machine. A second is what is promised;
	// this took 5 ms.
	took := time.Since(time.Unix(0, revoked))
	t.Logf("cut off at most %v after the revocation was asked for", took.Round(time.Millisecond))
	if took > time.Second {
		t.Errorf("cut off after %v, wanted within a second", took)
	}
	if status, _, _ := b.ask("GET", "/api/session", "", ""); status != http.StatusUnauthorized {
		t.Errorf("revoked: got %d, wanted 401", status)
	}
	// Guessing is slowed, also with the right secret in hand, until a while later.
	b.cookie = nil
	slowed := 0
	for range 2 * guessBurst {
		switch status, _, h := b.ask("POST", "/api/pair", "", `{"secret":"AAAAAAAAAAAAAAAAAAAAAA"}`); {
		case status == http.StatusTooManyRequests && h.Get("Retry-After") != "":
			slowed++
		case status != http.StatusForbidden || slowed > 0:
			t.Errorf("guessing on and on: got %d, wanted 403 and then 429 with Retry-After", status)
		}
	}
	if slowed < guessBurst {
		t.Errorf("of %d guesses %d were slowed, wanted %d or more", 2*guessBurst, slowed, guessBurst)
	}
	fmt.Println("\nGUESSED")
	if _, err := fmt.Fscan(in, &word); err != nil {
		t.Fatal(err)
	}
	if status, _, _ := b.pair("AAAAAAAAAAAAAAAAAAAAAA", "x"); status != http.StatusForbidden {
		t.Errorf("a guess after a while: got %d, wanted 403", status)
	}
}
