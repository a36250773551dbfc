package share

import (
	"fmt"
	"os"
	"path/filepath"
)

// WritePrivate writes a file that only its owner can read, so that a crash at
// any moment leaves the old file or the new one. Its folder is made, private
// too, where it is missing.
func WritePrivate(path string, data []byte) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	temp, err := os.CreateTemp(dir, "."+filepath.Base(path)+"-*") // made 0600
	if err != nil {
		return err
	}
	defer os.Remove(temp.Name()) // fails, as it should, once renamed
	_, err = temp.Write(data)
	if err == nil {
		err = temp.Sync()
	}
	if closed := temp.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return err
	}
	return os.Rename(temp.Name(), path)
}

// moveAside renames a broken file to the first free name and returns that name.
func moveAside(path string) (string, error) {
	for n := 1; ; n++ {
		aside := fmt.Sprintf("%s.broken-%d", path, n)
		if _, err := os.Lstat(aside); err == nil {
			continue
		}
		return filepath.Base(aside), os.Rename(path, aside)
	}
}
