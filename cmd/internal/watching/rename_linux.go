package watching

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

func renameNew(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, unix.EINVAL), errors.Is(err, unix.ENOSYS), errors.Is(err, unix.ENOTSUP):
		return linkNew(from, to) // the file system cannot do it
	case errors.Is(err, unix.EXDEV):
		return errNoRename
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}
