package share

import (
	"errors"
	"sync"
	"time"
)

// OfferLasts is how long a pairing secret can be used.
const OfferLasts = 5 * time.Minute

// ErrNoOffer says that a secret is wrong, used or too old. Which of them it is
// is nobody's business.
var ErrNoOffer = errors.New("share: this pairing code is wrong, has been used, or is older than five minutes")

// Offer is a secret with which one device may pair.
type Offer struct {
	Secret  string
	Expires time.Time
}

// Pairing holds the one offer there is at a time, in memory only. It is safe
// for concurrent use.
type Pairing struct {
	now func() time.Time

	mu    sync.Mutex
	offer Offer // without a secret: none
}

// NewPairing returns a Pairing without an offer.
func NewPairing(now func() time.Time) *Pairing { return &Pairing{now: now} }

// Offer makes an offer; the one before is void.
func (p *Pairing) Offer() Offer {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.offer = Offer{newSecret(16), p.now().Add(OfferLasts)}
	return p.offer
}

// Current returns the offer that can be used now, if there is one.
func (p *Pairing) Current() (Offer, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.offer, p.open()
}

func (p *Pairing) open() bool { return p.offer.Secret != "" && p.now().Before(p.offer.Expires) }

// Take uses an offer up, or returns ErrNoOffer.
func (p *Pairing) Take(secret string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	// Compared also where no offer is open, so that the time tells nothing.
	same := digestOf(secret).is(digestOf(p.offer.Secret))
	if !same || !p.open() {
		return ErrNoOffer
	}
	p.offer = Offer{}
	return nil
}
