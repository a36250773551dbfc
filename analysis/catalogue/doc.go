// Package catalogue is the shelf: the memory for objects, their voices, every
// strike that was kept and its recording.
//
// A shelf is a folder:
//
//	shelf.sqlite         one SQLite database; schema.sql documents it
//	recordings/ab/HASH.wav   recordings, named by the SHA-256 of their bytes
//	lock                 held by the one program that may write
//
// Whatever is written is safe before it is acknowledged. A recording's bytes
// are flushed, then the folder that names it, then the transaction with the row
// that points to it, and only then does Keep return. So after a crash there may
// be a recording that no row names, which Check tells and Empty removes, and
// never a row whose recording is missing.
//
// One goroutine writes. It takes its work from a bounded queue; reading goes
// over handles of its own and waits for nobody.
//
// What is put away stays until Empty is told to remove it.
//
// The recordings come encoded: this package knows nothing of their form.
//
// Sources: SQLite's documentation, "Atomic Commit In SQLite", "Write-Ahead
// Logging", "Defense Against The Dark Arts" (sqlite.org/atomiccommit.html,
// /wal.html, /security.html; from memory, unchecked); FIPS 180-4 (SHA-256).
package catalogue
