package share

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"path/filepath"
	"slices"
	"time"
)

const (
	leafLasts = 397 * 24 * time.Hour
	// leafLeft is how much must be left of a certificate for it to be used on.
	leafLeft = 30 * 24 * time.Hour
	// mostNetworks is how many networks one authority may speak for.
	mostNetworks = 8
)

// keys are the authority and the page's certificate, in a folder.
type keys struct {
	dir       string
	authority *Authority
	leaf      *tls.Certificate
}

func (k *keys) authorityPath() string { return filepath.Join(k.dir, "authority.pem") }
func (k *keys) leafPath() string      { return filepath.Join(k.dir, "page.pem") }

// load reads what is there. What is missing or broken is made anew by fit; a
// broken file is moved aside, which the notice says.
func (k *keys) load() (notice string, err error) {
	cert, key, err := readPair(k.authorityPath())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", nil
	case err != nil:
		aside, moved := moveAside(k.authorityPath())
		if moved != nil {
			return "", fmt.Errorf("share: read the certificate authority (%w), and move it aside: %w", err, moved)
		}
		return fmt.Sprintf("The certificate authority was broken (%v). It is now %s, and a new one is made.", err, aside), nil
	}
	k.authority = &Authority{cert, key}
	// Without a leaf, or with one that is broken, another is made: nobody has
	// installed it.
	if cert, key, err := readPair(k.leafPath()); err == nil {
		k.leaf = k.chain(cert, key)
	}
	return "", nil
}

func (k *keys) chain(cert *x509.Certificate, key *ecdsa.PrivateKey) *tls.Certificate {
	return &tls.Certificate{Certificate: [][]byte{cert.Raw, k.authority.cert.Raw}, PrivateKey: key, Leaf: cert}
}

// fit makes the authority and the certificate fit the names and addresses, as
// far as they do not yet, and reports which of them it made.
func (k *keys) fit(names []string, addresses []Address, now time.Time) (authority, leaf bool, err error) {
	if authority, err = k.found(names, addresses, now); err != nil {
		return false, false, err
	}
	leaf, err = k.issue(names, addresses, now)
	return authority, leaf, err
}

// found makes an authority, unless the present one may speak for all of these.
func (k *keys) found(names []string, addresses []Address, now time.Time) (made bool, err error) {
	if k.authority != nil {
		if k.authority.covers(names, addresses, now) {
			return false, nil
		}
		// Whoever goes to and fro between two networks installs the second
		// authority, which speaks for both, and is done.
		addresses = append(slices.Clone(addresses), k.authority.networks()...)
		addresses = addresses[:min(len(addresses), mostNetworks)]
	}
	a, err := newAuthority(names, addresses, now)
	if err == nil {
		err = writePair(k.authorityPath(), a.cert, a.key)
	}
	if err != nil {
		return false, fmt.Errorf("share: make the certificate authority: %w", err)
	}
	k.authority, k.leaf = a, nil
	return true, nil
}

// issue makes the page's certificate for these names and addresses, unless the
// present one fits.
func (k *keys) issue(names []string, addresses []Address, now time.Time) (made bool, err error) {
	var ips []net.IP
	for _, a := range addresses {
		ips = append(ips, a.IP.AsSlice())
	}
	if k.leaf != nil && k.fits(k.leaf.Leaf, names, ips, now) {
		return false, nil
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return false, err
	}
	template := &x509.Certificate{
		SerialNumber: serial(),
		Subject:      pkix.Name{CommonName: "ringwell page"},
		NotBefore:    now.Add(-backdate), NotAfter: now.Add(leafLasts - backdate),
		KeyUsage:    x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:    names, IPAddresses: ips, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, k.authority.cert, key.Public(), k.authority.key)
	if err != nil {
		return false, fmt.Errorf("share: make the page's certificate: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err == nil {
		err = writePair(k.leafPath(), cert, key)
	}
	if err != nil {
		return false, fmt.Errorf("share: make the page's certificate: %w", err)
	}
	k.leaf = k.chain(cert, key)
	return true, nil
}

func (k *keys) fits(cert *x509.Certificate, names []string, ips []net.IP, now time.Time) bool {
	return cert.CheckSignatureFrom(k.authority.cert) == nil &&
		!now.Before(cert.NotBefore) && now.Add(leafLeft).Before(cert.NotAfter) &&
		slices.Equal(cert.DNSNames, names) && slices.EqualFunc(cert.IPAddresses, ips, net.IP.Equal)
}
