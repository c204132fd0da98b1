//go:build unix

package watching

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// linkNew moves a file by a second name for it, which fails where that is taken, and takes the first away.
func linkNew(from, to string) error {
	err := os.Link(from, to)
	switch {
	case errors.Is(err, syscall.EPERM), errors.Is(err, syscall.ENOTSUP), errors.Is(err, syscall.EMLINK), errors.Is(err, syscall.EXDEV):
		return errNoRename
	case err != nil:
		return err
	}
	a, errA := os.Lstat(from)
	b, errB := os.Lstat(to)
	if errors.Is(errA, fs.ErrNotExist) {
		return errB
	}
	if err := errors.Join(errA, errB); err != nil {
		return err
	}
	if !os.SameFile(a, b) {
		return errChanged // another file has taken its place and is judged by itself
	}
	return os.Remove(from)
}

// syncFolder writes a folder's list of names to the disk.
func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return err // but for network shares that cannot
	}
	return nil
}
