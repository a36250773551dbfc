package catalogue

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

const (
	recordingsDir = "recordings"
	// unfinished begins the names of files that are being written.
	unfinished = ".new-"
)

// store holds recordings as files named by what is in them.
type store struct{ dir string }

// hash returns the name of some bytes: SHA-256 in hexadecimal.
func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// hashed reports whether a text can be such a name. Only such texts are ever
// made into paths.
func hashed(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

func (s store) path(hash string) string {
	return filepath.Join(s.dir, hash[:2], hash+".wav")
}

// add writes a recording. When it returns, the bytes are on the disk under
// their name and so is the name.
func (s store) add(data []byte) (string, error) {
	name := hash(data)
	path := s.path(name)
	folder := filepath.Dir(path)
	if err := makeFolder(folder); err != nil {
		return "", explainFile(err)
	}
	if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, data) {
		// It may be here from a run that ended before it was flushed.
		if err := flushFile(path); err != nil {
			return "", explainFile(err)
		}
	} else if err := writeFile(folder, path, data); err != nil {
		return "", explainFile(err)
	}
	return name, explainFile(flushFolder(folder))
}

// writeFile writes a file whole under another name, flushes and renames it, so
// that under its own name it is never half there.
func writeFile(folder, path string, data []byte) error {
	f, err := os.CreateTemp(folder, unfinished+"*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// read returns a recording whose bytes are what their name says.
func (s store) read(name string) ([]byte, error) {
	if !hashed(name) {
		return nil, fmt.Errorf("%q: %w", name, fs.ErrNotExist)
	}
	data, err := os.ReadFile(s.path(name))
	if err != nil {
		return nil, err
	}
	if hash(data) != name {
		return nil, fmt.Errorf("%s has changed on the disk and is no longer what was recorded", s.path(name))
	}
	return data, nil
}

// sum returns the SHA-256 of a file's bytes and how many they are.
func sum(path string) (string, int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// makeFolder makes a folder and those above it, and flushes each that gained
// one, so that none of them is lost with the power.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	above := filepath.Dir(dir)
	if above == dir {
		return os.Mkdir(dir, 0o777)
	}
	if err := makeFolder(above); err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return flushFolder(above)
}

func flushFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// flushFolder flushes the names in a folder. Some systems cannot; there the
// rename is as safe as they make it.
func flushFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, errors.ErrUnsupported) || errors.Is(err, syscall.EINVAL) {
		err = nil
	}
	return errors.Join(err, f.Close())
}

// explainFile adds to an error of the file system what can be done about it.
func explainFile(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("%w (%w)", ErrFull, err)
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%w (%w)", ErrReadOnly, err)
	}
	return err
}
