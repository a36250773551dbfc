package share

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
	"time"
)

const (
	authorityYears = 10
	// authorityLeft is how much must be left of an authority for it to be used:
	// what it signs must not outlive it.
	authorityLeft = leafLasts + leafLeft
	// backdate covers a phone whose clock is behind ours.
	backdate = time.Hour
)

// Authority is the certificate authority of this machine alone.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// newAuthority makes one that may speak for these names and networks only.
func newAuthority(names []string, addresses []Address, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial(),
		// Told apart by its date where a phone has met several.
		Subject:   pkix.Name{CommonName: "ringwell on " + hostOf(names) + ", made " + now.UTC().Format("2006-01-02 15:04")},
		NotBefore: now.Add(-backdate), NotAfter: now.AddDate(authorityYears, 0, 0),
		KeyUsage:              x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         domains(names),
		PermittedIPRanges:           ranges(addresses),
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	return &Authority{cert, key}, nil
}

func hostOf(names []string) string {
	if len(names) == 0 {
		return "this computer"
	}
	return names[0]
}

// domains are the names an authority may speak for. A kind of name for which
// nothing is permitted would be permitted whole, so where this machine has no
// name one stands here that nothing can have (RFC 2606).
func domains(names []string) []string {
	if len(names) == 0 {
		return []string{"ringwell.invalid"}
	}
	return names
}

// ranges are the networks an authority may speak for; for none see domains: a
// single address for documentation (RFC 5737) stands there.
func ranges(addresses []Address) []*net.IPNet {
	var all []*net.IPNet
	for _, a := range addresses {
		n := &net.IPNet{IP: a.Network.Addr().AsSlice(), Mask: net.CIDRMask(a.Network.Bits(), a.Network.Addr().BitLen())}
		if !slices.ContainsFunc(all, func(o *net.IPNet) bool { return o.String() == n.String() }) {
			all = append(all, n)
		}
	}
	if all == nil {
		all = []*net.IPNet{{IP: net.IPv4(192, 0, 2, 1).To4(), Mask: net.CIDRMask(32, 32)}}
	}
	return all
}

// covers reports whether the authority may speak for all of these and has long
// enough to live.
func (a *Authority) covers(names []string, addresses []Address, now time.Time) bool {
	if now.Before(a.cert.NotBefore) || now.Add(authorityLeft).After(a.cert.NotAfter) {
		return false
	}
	for _, n := range names {
		if !slices.Contains(a.cert.PermittedDNSDomains, n) {
			return false
		}
	}
	for _, address := range addresses {
		if !slices.ContainsFunc(a.cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(address.IP.AsSlice()) }) {
			return false
		}
	}
	return true
}

// networks are those the authority may speak for, as addresses, so that a new
// one can take them over and keep what it covered.
func (a *Authority) networks() []Address {
	var all []Address
	for _, n := range a.cert.PermittedIPRanges {
		if p, err := netip.ParsePrefix(n.String()); err == nil {
			all = append(all, Address{p.Addr(), p})
		}
	}
	return all
}

// DER returns the certificate as a phone installs it. It is no secret.
func (a *Authority) DER() []byte { return slices.Clone(a.cert.Raw) }

// Fingerprint is the SHA-256 of the certificate as phones and computers show
// it: pairs of hexadecimal digits between colons.
func (a *Authority) Fingerprint() string {
	var pairs []string
	for _, b := range sha256.Sum256(a.cert.Raw) {
		pairs = append(pairs, fmt.Sprintf("%02X", b))
	}
	return strings.Join(pairs, ":")
}

// serial is a random serial number of 127 bits, positive as RFC 5280, section
// 4.1.2.2, wants it.
func serial() *big.Int {
	b := make([]byte, 16)
	rand.Read(b)
	b[0] &= 0x7f
	b[15] |= 1
	return new(big.Int).SetBytes(b)
}

// readPair reads a certificate and its key, both PEM in one file.
func readPair(path string) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	var cert *x509.Certificate
	var key *ecdsa.PrivateKey
	for block, rest := pem.Decode(data); block != nil; block, rest = pem.Decode(rest) {
		switch block.Type {
		case "CERTIFICATE":
			cert, err = x509.ParseCertificate(block.Bytes)
		case "EC PRIVATE KEY":
			key, err = x509.ParseECPrivateKey(block.Bytes)
		}
		if err != nil {
			return nil, nil, err
		}
	}
	if cert == nil || key == nil || !key.PublicKey.Equal(cert.PublicKey) {
		return nil, nil, errors.New("no certificate with its key in it")
	}
	return cert, key, nil
}

func writePair(path string, cert *x509.Certificate, key *ecdsa.PrivateKey) error {
	der, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		return err
	}
	data := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Raw})
	return WritePrivate(path, append(data, pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: der})...))
}
