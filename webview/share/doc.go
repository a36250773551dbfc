// Package share lets devices on the local network reach ringwell's page: which
// addresses are shared, the certificates that make the way to them private, who
// has been paired, and what scripts may do.
//
// # Certificates
//
// An Authority of this machine's own signs the certificate of the page. It is
// made at the first start that shares, and a phone that is to trust the page
// installs it once. So that it can be used for nothing else it is constrained
// (RFC 5280, section 4.2.1.10) to this machine's names and to the networks its
// shared addresses lie in, and to server authentication. The networks rather
// than the single addresses: a laptop gets another address in the same network
// every other day, and each new authority would have to be installed again. An
// address in another network needs a new authority, and says so.
//
// The page's certificate lasts 397 days, under the 398 that browsers take
// (CA/Browser Forum Baseline Requirements 6.3.2, from memory, unchecked), and
// is made anew when less than a month is left of it or an address changes.
//
// # Secrets
//
// Secrets are random, are stored only as SHA-256 digests (they are too long to
// be guessed from those), are compared in constant time and never logged.
// Files are 0600 in folders that are 0700.
package share
