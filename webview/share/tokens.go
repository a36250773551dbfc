package share

import (
	"io/fs"
	"slices"
)

// Tokens returns those that were granted, the first granted first.
func (b *Book) Tokens() []Token {
	b.mu.Lock()
	defer b.mu.Unlock()
	all := []Token{}
	for _, t := range b.file.Tokens {
		all = append(all, t.Token)
	}
	return all
}

// Grant makes a token for one call and returns the secret that stands for it,
// which is kept nowhere.
func (b *Book) Grant(name, call string) (Token, string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	was := b.file.Tokens
	if len(was) >= mostTokens {
		return Token{}, "", ErrTooMany
	}
	secret := newSecret(32)
	t := &tokenEntry{Token{newID(), name, call, b.now().UTC()}, digestOf(secret)}
	b.file.Tokens = append(slices.Clone(was), t)
	if err := b.save(); err != nil {
		b.file.Tokens = was
		return Token{}, "", err
	}
	return t.Token, secret, nil
}

// Token returns which token this secret stands for.
func (b *Book) Token(secret string) (Token, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	given := digestOf(secret)
	var found *tokenEntry
	for _, t := range b.file.Tokens { // all of them: the time must not tell which
		if t.Digest.is(given) {
			found = t
		}
	}
	if found == nil {
		return Token{}, false
	}
	return found.Token, true
}

// Withdraw makes a token worthless at once; the errors are those of Revoke.
func (b *Book) Withdraw(id string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.file.Tokens, func(t *tokenEntry) bool { return t.ID == id })
	if i < 0 {
		return fs.ErrNotExist
	}
	b.file.Tokens = slices.Delete(slices.Clone(b.file.Tokens), i, i+1)
	return b.save()
}
