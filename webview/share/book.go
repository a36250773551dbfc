package share

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"sync"
	"time"
)

// PairedFor is how long a device stays paired: as long as browsers keep a
// cookie at most (400 days: RFC 6265bis, section 5.5, from memory, unchecked),
// rounded down.
const PairedFor = 398 * 24 * time.Hour

const (
	bookVersion = 1
	// most of each kind there may be. Chosen: nobody looks through more.
	mostDevices, mostTokens = 32, 32
	// seenStep is how stale the kept time of a device's last visit may be.
	seenStep = 10 * time.Minute
)

// ErrTooMany says that the book is full.
var ErrTooMany = errors.New("share: the list is full; take one away first")

// Device is a browser that was paired.
type Device struct {
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Paired time.Time `json:"paired"` // UTC
	Seen   time.Time `json:"seen"`   // UTC, to ten minutes once kept
}

// Token lets a script or a sensor make one call.
type Token struct {
	ID   string    `json:"id"`
	Name string    `json:"name"`
	Call string    `json:"call"` // method and path, as in "POST /api/tone"
	Made time.Time `json:"made"` // UTC
}

type deviceEntry struct {
	Device
	Digest digest `json:"digest"`
	gone   chan struct{}
}

type tokenEntry struct {
	Token
	Digest digest `json:"digest"`
}

type bookFile struct {
	V       int            `json:"v"`
	Devices []*deviceEntry `json:"devices"`
	Tokens  []*tokenEntry  `json:"tokens"`
}

// Book lists the devices that are paired and the tokens of scripts. It is kept
// in a file and is safe for concurrent use.
type Book struct {
	path string // "": kept in memory only
	now  func() time.Time

	mu   sync.Mutex
	file bookFile
	kept map[string]time.Time // what the file says of Seen
}

// OpenBook reads the book at path; without a file, or without a path, it is
// empty. A file that cannot be understood is moved aside, which the notice
// says: then nobody is paired. An error is a file that cannot be read or moved.
func OpenBook(path string, now func() time.Time) (b *Book, notice string, err error) {
	b = &Book{path: path, now: now, file: bookFile{V: bookVersion}, kept: map[string]time.Time{}}
	if path == "" {
		return b, "", nil
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return b, "", nil
	}
	if err != nil {
		return nil, "", fmt.Errorf("share: read the list of paired devices: %w", err)
	}
	var f bookFile
	if err := json.Unmarshal(data, &f); err != nil || f.V != bookVersion || slices.Contains(f.Devices, nil) || slices.Contains(f.Tokens, nil) {
		aside, err := moveAside(path)
		if err != nil {
			return nil, "", fmt.Errorf("share: the list of paired devices is broken and cannot be moved aside: %w", err)
		}
		return b, fmt.Sprintf("The list of paired devices was broken. It is now %s; pair your devices again.", aside), nil
	}
	for _, d := range f.Devices {
		d.gone = make(chan struct{})
		b.kept[d.ID] = d.Seen
	}
	b.file = f
	return b, "", nil
}

// save keeps the book. Callers hold mu.
func (b *Book) save() error {
	if b.path == "" {
		return nil
	}
	data, err := json.MarshalIndent(b.file, "", "  ")
	if err == nil {
		err = WritePrivate(b.path, append(data, '\n'))
	}
	if err != nil {
		return fmt.Errorf("share: keep the list of paired devices in %s: %w", b.path, err)
	}
	for _, d := range b.file.Devices {
		b.kept[d.ID] = d.Seen
	}
	return nil
}

// Devices returns those that are paired, the first paired first.
func (b *Book) Devices() []Device {
	b.mu.Lock()
	defer b.mu.Unlock()
	all := []Device{}
	for _, d := range b.file.Devices {
		if b.valid(d) {
			all = append(all, d.Device)
		}
	}
	return all
}

func (b *Book) valid(d *deviceEntry) bool { return b.now().Before(d.Paired.Add(PairedFor)) }

// Pair adds a device and returns the secret it shows from then on, which is
// kept nowhere.
func (b *Book) Pair(name string) (Device, string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	was := b.file.Devices
	devices := slices.DeleteFunc(slices.Clone(was), func(d *deviceEntry) bool { return !b.valid(d) })
	if len(devices) >= mostDevices {
		return Device{}, "", ErrTooMany
	}
	now := b.now().UTC()
	secret := newSecret(32)
	d := &deviceEntry{Device{newID(), name, now, now}, digestOf(secret), make(chan struct{})}
	b.file.Devices = append(devices, d)
	if err := b.save(); err != nil {
		b.file.Devices = was
		return Device{}, "", err
	}
	return d.Device, secret, nil
}

// Device returns whose secret this is, and notes that it was here.
func (b *Book) Device(secret string) (Device, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	given := digestOf(secret)
	var found *deviceEntry
	for _, d := range b.file.Devices { // all of them: the time must not tell which
		if d.Digest.is(given) {
			found = d
		}
	}
	if found == nil || !b.valid(found) {
		return Device{}, false
	}
	found.Seen = b.now().UTC()
	if found.Seen.Sub(b.kept[found.ID]) > seenStep {
		b.kept[found.ID] = found.Seen
		b.save() // a stale time of the last visit harms nobody
	}
	return found.Device, true
}

func (b *Book) find(id string) int {
	return slices.IndexFunc(b.file.Devices, func(d *deviceEntry) bool { return d.ID == id })
}

// Rename gives a device another name. The error is fs.ErrNotExist where there
// is no such device.
func (b *Book) Rename(id, name string) (Device, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	i := b.find(id)
	if i < 0 {
		return Device{}, fs.ErrNotExist
	}
	d := b.file.Devices[i]
	was := d.Name
	if d.Name = name; was != name {
		if err := b.save(); err != nil {
			d.Name = was
			return d.Device, err
		}
	}
	return d.Device, nil
}

// Revoke ends the pairing of a device at once, also where that cannot be kept:
// then the error says so. It is fs.ErrNotExist where there is no such device.
func (b *Book) Revoke(id string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	i := b.find(id)
	if i < 0 {
		return fs.ErrNotExist
	}
	close(b.file.Devices[i].gone)
	b.file.Devices = slices.Delete(slices.Clone(b.file.Devices), i, i+1)
	delete(b.kept, id)
	return b.save()
}

// Revoked returns a channel that is closed once the device is no longer
// paired.
func (b *Book) Revoked(id string) <-chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	if i := b.find(id); i >= 0 {
		return b.file.Devices[i].gone
	}
	gone := make(chan struct{})
	close(gone)
	return gone
}
