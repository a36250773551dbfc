package share

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"fmt"
)

// newSecret returns n random bytes as text that can stand in a URL.
func newSecret(n int) string {
	b := make([]byte, n)
	rand.Read(b) // never fails: it ends the program instead
	return base64.RawURLEncoding.EncodeToString(b)
}

// newID returns a short random name of something that is no secret.
func newID() string {
	b := make([]byte, 6)
	rand.Read(b)
	return hex.EncodeToString(b)
}

// digest is the SHA-256 of a secret, which is what is kept of it.
type digest [sha256.Size]byte

func digestOf(secret string) digest { return sha256.Sum256([]byte(secret)) }

// is compares in a time that does not depend on the digests.
func (d digest) is(o digest) bool { return subtle.ConstantTimeCompare(d[:], o[:]) == 1 }

// MarshalText writes it as hexadecimal digits.
func (d digest) MarshalText() ([]byte, error) { return []byte(hex.EncodeToString(d[:])), nil }

// UnmarshalText reads exactly as many digits.
func (d *digest) UnmarshalText(text []byte) error {
	b, err := hex.DecodeString(string(text))
	if err != nil || len(b) != len(d) {
		return fmt.Errorf("share: %d digits stand where the digest of a secret should", len(text))
	}
	copy(d[:], b)
	return nil
}
