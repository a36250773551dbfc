package share

import (
	"crypto/tls"
	"crypto/x509"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// clock is a clock a test can set.
type clock struct{ now time.Time }

func (c *clock) Now() time.Time { return c.now }

func newClock() *clock { return &clock{time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)} }

func address(t *testing.T, cidr string) Address {
	t.Helper()
	p, err := netip.ParsePrefix(cidr)
	if err != nil {
		t.Fatal(err)
	}
	return addressOf(p)
}

// site is a network whose addresses a test sets. Every door is on loopback,
// whatever its address is called.
type site struct {
	*Network
	dir       string
	clock     *clock
	addresses []Address
	told      []string
	bound     []string
}

func open(t *testing.T, dir string, c *clock, cidrs ...string) *site {
	t.Helper()
	s := &site{dir: dir, clock: c}
	s.move(t, cidrs...)
	n, err := Open(Options{
		Dir: dir, Names: []string{"hall", "hall.local"}, Now: c.Now,
		Find: func() ([]Address, error) { return s.addresses, nil },
		Tell: func(words string) { s.told = append(s.told, words) },
		Bind: func(at string) (net.Listener, error) {
			s.bound = append(s.bound, at)
			return net.Listen("tcp", "127.0.0.1:0")
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { n.Close() })
	s.Network = n
	return s
}

func (s *site) move(t *testing.T, cidrs ...string) {
	t.Helper()
	s.addresses = nil
	for _, c := range cidrs {
		s.addresses = append(s.addresses, address(t, c))
	}
}

func (s *site) look(t *testing.T) {
	t.Helper()
	if err := s.Look(); err != nil {
		t.Fatal(err)
	}
}

// leaf is the certificate a client is shown.
func (s *site) leaf(t *testing.T) *x509.Certificate {
	t.Helper()
	c, err := s.TLS().GetCertificate(&tls.ClientHelloInfo{})
	if err != nil {
		t.Fatal(err)
	}
	return c.Leaf
}

// verify holds a certificate against the authority as a browser does: RFC 5280
// through crypto/x509.
func (s *site) verify(cert *x509.Certificate, name string) error {
	roots := x509.NewCertPool()
	roots.AddCert(s.Authority().cert)
	_, err := cert.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: s.clock.now})
	return err
}

func TestCertificates(t *testing.T) {
	s := open(t, t.TempDir(), newClock(), "192.168.1.7/24", "fd12:3456::7/64")
	leaf := s.leaf(t)
	for _, name := range []string{"192.168.1.7", "fd12:3456::7", "hall.local", "hall"} {
		if err := s.verify(leaf, name); err != nil {
			t.Errorf("the page at %s: %v", name, err)
		}
	}
	for _, name := range []string{"192.168.1.8", "127.0.0.1", "example.com", "other.local"} {
		if s.verify(leaf, name) == nil {
			t.Errorf("the page's certificate also stands for %s", name)
		}
	}
	if d := leaf.NotAfter.Sub(leaf.NotBefore); d > 398*24*time.Hour {
		t.Errorf("the page's certificate lasts %v, wanted 398 days at most", d)
	}
	ca := s.Authority().cert
	if !ca.IsCA || !ca.MaxPathLenZero || ca.MaxPathLen != 0 || !ca.PermittedDNSDomainsCritical || ca.KeyUsage != x509.KeyUsageCertSign|x509.KeyUsageCRLSign {
		t.Errorf("the authority: CA %v, path length %d, constraints critical %v, usage %b", ca.IsCA, ca.MaxPathLen, ca.PermittedDNSDomainsCritical, ca.KeyUsage)
	}
	if leaf.IsCA || !slices.Equal(leaf.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		t.Errorf("the page's certificate: CA %v, usage %v, wanted a server's only", leaf.IsCA, leaf.ExtKeyUsage)
	}
	for _, path := range []string{"authority.pem", "page.pem"} {
		if info, err := os.Stat(filepath.Join(s.dir, path)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: got mode %v (%v), wanted 0600", path, info.Mode(), err)
		}
	}
}

// forged are certificates under the site's authority, by what they claim to be,
// such as somebody could make who has stolen its key.
func (s *site) forged(t *testing.T) map[string]*x509.Certificate {
	forge := func(names []string, cidrs ...string) *x509.Certificate {
		k := s.keys
		k.dir, k.leaf = t.TempDir(), nil
		var at []Address
		for _, c := range cidrs {
			at = append(at, address(t, c))
		}
		if _, err := k.issue(names, at, s.clock.now); err != nil {
			t.Fatal(err)
		}
		return k.leaf.Leaf
	}
	return map[string]*x509.Certificate{
		"example.com": forge([]string{"example.com"}),
		"hall.lan":    forge([]string{"hall.lan"}),
		"8.8.8.8":     forge(nil, "8.8.8.8/24"),
		"192.168.2.1": forge(nil, "192.168.2.1/24"),
		"fd00::1":     forge(nil, "fd00::1/64"),
	}
}

func TestConstraintsBind(t *testing.T) {
	s := open(t, t.TempDir(), newClock(), "192.168.1.7/16")
	for name, cert := range s.forged(t) {
		if err := s.verify(cert, name); err == nil || !strings.Contains(err.Error(), "not permitted") {
			t.Errorf("a certificate for %s under our authority: got %v, wanted it not permitted by a constraint", name, err)
		}
	}
}

func TestOpenSSLAgrees(t *testing.T) {
	s := open(t, t.TempDir(), newClock(), "192.168.1.7/16", "fd12:3456::7/64")
	if err := opensslVerify(t, s.Authority().cert, s.leaf(t)); err != nil {
		t.Errorf("openssl verify refuses the page's certificate: %v", err)
	}
	for name, cert := range s.forged(t) {
		if err := opensslVerify(t, s.Authority().cert, cert); err == nil || !strings.Contains(err.Error(), "permitted subtree violation") {
			t.Errorf("a certificate for %s under our authority: got %v, wanted openssl to see the constraint violated", name, err)
		}
	}
}

// opensslVerify asks OpenSSL, which checks paths by code of its own.
func opensslVerify(t *testing.T, ca, leaf *x509.Certificate) error {
	t.Helper()
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl is not installed")
	}
	dir := t.TempDir()
	for name, c := range map[string]*x509.Certificate{"ca": ca, "leaf": leaf} {
		der := filepath.Join(dir, name+".der")
		if err := os.WriteFile(der, c.Raw, 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(openssl, "x509", "-inform", "DER", "-in", der, "-out", filepath.Join(dir, name+".pem")).CombinedOutput(); err != nil {
			t.Fatalf("openssl cannot read the %s: %s", name, out)
		}
	}
	at := leaf.NotBefore.Add(2 * backdate).Unix()
	out, err := exec.Command(openssl, "verify", "-x509_strict", "-purpose", "sslserver", "-attime", strconv.FormatInt(at, 10),
		"-CAfile", filepath.Join(dir, "ca.pem"), filepath.Join(dir, "leaf.pem")).CombinedOutput()
	if err != nil {
		return &exec.Error{Name: string(out), Err: err}
	}
	return nil
}

func TestCertificatesAreKept(t *testing.T) {
	dir, c := t.TempDir(), newClock()
	first := open(t, dir, c, "192.168.1.7/24")
	print, leaf := first.Fingerprint(), first.leaf(t)
	again := open(t, dir, c, "192.168.1.7/24")
	if again.Fingerprint() != print || !again.leaf(t).Equal(leaf) {
		t.Error("after a restart there are other certificates, wanted the same")
	}

	// Another address in the same network: a new certificate, nothing to install.
	again.move(t, "192.168.1.99/24")
	again.look(t)
	if err := again.verify(again.leaf(t), "192.168.1.99"); err != nil || again.Fingerprint() != print {
		t.Errorf("after a move to 192.168.1.99: %v, and the authority stayed: %v", err, again.Fingerprint() == print)
	}
	if again.verify(again.leaf(t), "192.168.1.7") == nil {
		t.Error("the certificate still stands for the old address")
	}
	if len(again.told) != 1 || !strings.Contains(again.told[0], "https://192.168.1.99:") {
		t.Errorf("told %q, wanted the new address", again.told)
	}

	// Another network: a new authority, said so, and good for the old one too.
	again.move(t, "10.1.2.3/8")
	again.look(t)
	if again.Fingerprint() == print || len(again.told) != 3 || !strings.Contains(again.told[1], again.Fingerprint()) {
		t.Errorf("in another network: told %q, wanted the new fingerprint", again.told)
	}
	second := again.Fingerprint()
	again.move(t, "192.168.1.7/24")
	again.look(t)
	if again.Fingerprint() != second {
		t.Error("back in the first network: another authority again, wanted the second to do for both")
	}

	// Renewed when less than a month is left.
	leaf = again.leaf(t)
	c.now = leaf.NotAfter.Add(-leafLeft + time.Hour)
	again.look(t)
	if next := again.leaf(t); next.Equal(leaf) || again.verify(next, "192.168.1.7") != nil {
		t.Error("a month before the certificate's end it was not renewed")
	}
	c.now = again.Authority().cert.NotAfter.Add(-300 * 24 * time.Hour)
	again.look(t)
	if again.Fingerprint() == second {
		t.Error("the authority ends before what it signs")
	}

	// No network, and back.
	again.move(t)
	again.look(t)
	if urls := again.URLs(); len(urls) != 0 {
		t.Errorf("without an address: got URLs %v", urls)
	}
}

func TestBrokenAuthorityIsMovedAside(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "authority.pem"), []byte("rubbish"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir, newClock(), "192.168.1.7/24")
	if len(s.told) != 1 || !strings.Contains(s.told[0], "authority.pem.broken-1") {
		t.Errorf("told %q, wanted where the broken file is", s.told)
	}
	if s.verify(s.leaf(t), "192.168.1.7") != nil {
		t.Error("no certificate that fits was made")
	}
}

func TestServesSharedHostsOnly(t *testing.T) {
	s := open(t, t.TempDir(), newClock(), "192.168.1.7/24")
	_, port, _ := net.SplitHostPort(s.Addr().String())
	for host, want := range map[string]bool{
		"192.168.1.7:" + port: true, "hall.local:" + port: true, "HALL.local:" + port: true, "hall:" + port: true,
		"192.168.1.8:" + port: false, "127.0.0.1:" + port: false, "localhost:" + port: false, "evil.example:" + port: false,
		"hall.local.:" + port: false, "hall.local": false, "192.168.1.7:1": false, "": false, ":" + port: false, "hall.local.evil.example:" + port: false,
	} {
		if got := s.Serves(host); got != want {
			t.Errorf("Host %q: got %v, wanted %v", host, got, want)
		}
	}
}

func TestConnectionsArriveOverTLS(t *testing.T) {
	s := open(t, t.TempDir(), newClock(), "192.168.1.7/24")
	var door net.Listener
	for _, l := range s.doors {
		door = l
	}
	done := make(chan error, 1)
	go func() {
		c, err := s.Accept()
		if err == nil {
			err = tls.Server(c, s.TLS()).Handshake()
		}
		done <- err
	}()
	roots := x509.NewCertPool()
	roots.AddCert(s.Authority().cert)
	c, err := tls.Dial("tcp", door.Addr().String(), &tls.Config{RootCAs: roots, ServerName: "hall.local", Time: s.clock.Now, NextProtos: []string{"h2", "http/1.1"}})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if got := c.ConnectionState().NegotiatedProtocol; got != "http/1.1" {
		t.Errorf("got protocol %q, wanted http/1.1: websockets want it", got)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	s.Close()
	if _, err := s.Accept(); err != net.ErrClosed {
		t.Errorf("Accept after Close: got %v, wanted net.ErrClosed", err)
	}
}

func TestChosenAddresses(t *testing.T) {
	all := func(cidrs ...string) (ps []netip.Prefix) {
		for _, c := range cidrs {
			ps = append(ps, netip.MustParsePrefix(c))
		}
		return ps
	}
	for name, c := range map[string]struct {
		all     []netip.Prefix
		outward string
		want    string
	}{
		"the way out":           {all("192.168.1.7/24", "172.17.0.1/16"), "192.168.1.7", "192.168.1.7 in 192.168.1.0/24"},
		"no way out":            {all("192.168.1.7/24", "172.17.0.1/16"), "", "172.17.0.1 in 172.17.0.0/24, 192.168.1.7 in 192.168.1.0/24"},
		"a public way out":      {all("203.0.113.5/24", "10.0.0.2/8"), "203.0.113.5", "10.0.0.2 in 10.0.0.0/24"},
		"nothing private":       {all("203.0.113.5/24"), "203.0.113.5", ""},
		"IPv6 is not asked for": {all("fd00::2/64", "fe80::1/64"), "", ""},
	} {
		out, _ := netip.ParseAddr(c.outward)
		var got []string
		for _, a := range chosen(c.all, out) {
			got = append(got, a.IP.String()+" in "+a.Network.String())
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: got %v, wanted %s", name, got, c.want)
		}
	}
	for host, want := range map[string]int{"hall": 2, "Hall.example.org": 2, "": 0, "localhost": 0, "-x": 0, "a b": 0, "böse": 0, "127": 0} {
		if got := names(host); len(got) != want {
			t.Errorf("host name %q: got %v, wanted %d names", host, got, want)
		}
	}
}

// An address that everybody can reach, or nobody, is told; those of local
// networks are not. RFC 1918, RFC 4193, RFC 3927 and RFC 4291 say which they
// are, RFC 5737 and RFC 3849 give the public ones, meant for documentation.
func TestDoubtfulAddresses(t *testing.T) {
	for ip, want := range map[string]string{
		"192.168.1.7": "", "10.1.2.3": "", "172.31.0.1": "", "169.254.3.4": "", "fd12::1": "", "fe80::1": "", "::ffff:10.0.0.1": "",
		"127.0.0.1": "this computer only", "::1": "this computer only",
		"172.32.0.1": "no address of a local network", "203.0.113.5": "no address of a local network", "2001:db8::5": "no address of a local network",
		"::ffff:203.0.113.5": "no address of a local network",
	} {
		got := Doubt(netip.MustParseAddr(ip))
		if (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("Doubt(%s): got %q, wanted %q in it", ip, got, want)
		}
	}
}
