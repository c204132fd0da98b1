package watching

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"peelcheck/cmd/internal/problem"
)

// A move never overwrites and never loses. On one disk the file is renamed, which fails where its new name is taken. Across disks it is
// copied, the copy read back, and only then the old one removed. Where a move is to lead is on record before it begins, so a program that
// is killed between the copy and the removal knows the copy for its own when it is started again.

// errChanged means that the file is not the one that was judged.
var errChanged = errors.New("the file has changed since it was judged")

// errNoRename means that renaming cannot be done here without the danger of overwriting, or at all.
var errNoRename = errors.New("cannot be renamed")

// move moves a judged file into the folder of its verdict.
func (v *visit) move(rec *record) error {
	if rec.To != "" && !rec.Moved {
		if done, err := v.moveEnded(rec); done || err != nil {
			return err
		}
	}
	for n := 1; ; n++ {
		as := filepath.FromSlash(rec.As)
		if n > 1 || !v.free(as) {
			as = numbered(v.rel, n)
		}
		to := filepath.Join(string(rec.Verdict), as)
		if !v.free(as) {
			continue
		}
		if rec.To != "" && rec.Moved {
			rec.Earlier = append(rec.Earlier, rec.asEarlier())
		}
		rec.As, rec.To, rec.Moved = filepath.ToSlash(as), filepath.ToSlash(to), false
		err := v.book.put(*rec)
		if err == nil {
			err = v.moveTo(filepath.Join(v.Dir, to), rec.SHA256)
		}
		if errors.Is(err, fs.ErrExist) {
			continue // somebody was quicker
		}
		if err != nil {
			return err
		}
		rec.Moved = true
		_ = v.book.put(*rec) // it has been moved all the same; reading the book finds that out too
		return nil
	}
}

// moveEnded ends a move that was cut short between the copy and the removal.
func (v *visit) moveEnded(rec *record) (bool, error) {
	sum, err := hashFile(filepath.Join(v.Dir, filepath.FromSlash(rec.To)))
	if err != nil || sum != rec.SHA256 {
		return false, nil // it did not come so far
	}
	if sum, err = hashFile(v.path); err != nil || sum != rec.SHA256 {
		return false, err
	}
	if err := os.Remove(v.path); err != nil {
		return false, err
	}
	rec.Moved = true
	return true, v.book.put(*rec)
}

func (v *visit) moveTo(to, sum string) error {
	if err := v.makeFolder(filepath.Dir(to)); err != nil {
		return err
	}
	if err := v.unchanged(v.path); err != nil {
		return err
	}
	err := renameNew(v.path, to)
	if errors.Is(err, errNoRename) {
		return v.copyTo(to, sum)
	}
	if err != nil {
		return err
	}
	if err := v.unchanged(to); err != nil { // another file took its place at the last moment: it is not judged yet
		return errors.Join(err, v.back(to))
	}
	return errors.Join(syncFolder(filepath.Dir(to)), syncFolder(filepath.Dir(v.path)))
}

// back moves a file that was not judged back into the folder watched.
func (v *visit) back(from string) error {
	for n := 1; ; n++ {
		if err := renameNew(from, filepath.Join(v.Dir, numbered(v.rel, n))); !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
}

// takeBack moves sorted artwork that has changed since it was judged back to where it came from, to be judged again.
func (v *visit) takeBack(from string, known []earlier) result {
	if slices.ContainsFunc(known, func(e earlier) bool { return e.signature() == v.seen }) {
		return v.result
	}
	sum, err := hashFile(v.path)
	if err != nil {
		return v.failed(err)
	}
	if slices.ContainsFunc(known, func(e earlier) bool { return e.SHA256 == sum }) {
		return v.result
	}
	for n := 1; ; n++ {
		to := numbered(from, n)
		switch err := v.moveTo(filepath.Join(v.Dir, to), sum); {
		case err == nil:
			v.note.Kind, v.note.MovedTo = Changed, to
			return v.result
		case errors.Is(err, fs.ErrExist):
			continue
		case errors.Is(err, errChanged):
			v.end = changed
			return v.result
		default:
			v.end, v.note.Kind = troubled, Trouble
			v.note.Problems = []error{problem.New(v.path, "it has changed since it was judged, and cannot be taken back: "+problem.About(v.path, err).Reason, "close it in other programs; it is tried again")}
			return v.result
		}
	}
}

// unchanged fails if the file at path is not the one that was judged.
func (v *visit) unchanged(path string) error {
	info, err := os.Lstat(path)
	if err == nil && signatureOf(info) != v.seen {
		err = errChanged
	}
	return err
}

// copyTo copies the file to another disk and then removes it.
func (v *visit) copyTo(to, sum string) (err error) {
	tmp, err := v.copyBeside(to, sum)
	if tmp != "" {
		defer func() {
			if err != nil {
				os.Remove(tmp)
			}
		}()
	}
	if err != nil {
		return err
	}
	if err := renameNew(tmp, to); err != nil {
		return err
	}
	tmp = ""
	if err := syncFolder(filepath.Dir(to)); err != nil {
		return err
	}
	if err := v.unchanged(v.path); err != nil {
		return err
	}
	if err := os.Remove(v.path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(v.path))
}

// copyBeside makes a copy beside to and reads it back.
func (v *visit) copyBeside(to, sum string) (tmp string, err error) {
	in, err := os.Open(v.path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	out, err := os.CreateTemp(filepath.Dir(to), ".peelcheck-*.tmp")
	if err != nil {
		return "", err
	}
	tmp = out.Name()
	h := sha256.New()
	_, err = io.Copy(io.MultiWriter(out, h), in)
	when := time.Unix(0, v.seen.modified)
	err = errors.Join(err, out.Chmod(v.seen.mode.Perm()), out.Sync(), out.Close())
	if err == nil {
		err = os.Chtimes(tmp, when, when)
	}
	if err == nil && hex.EncodeToString(h.Sum(nil)) != sum {
		err = errChanged
	}
	if err != nil {
		return tmp, err
	}
	if got, err := hashFile(tmp); err != nil || got != sum {
		return tmp, errors.Join(err, errors.New("the copy on the other disk is not the same as the file"))
	}
	return tmp, nil
}

// leftoverAge is far more than writing one file takes.
const leftoverAge = time.Hour

// clearLeftovers removes files half written that a program killed long ago left behind.
func clearLeftovers(folders ...string) {
	for _, folder := range folders {
		// Nothing depends on it, so errors are passed over.
		_ = filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasPrefix(d.Name(), ".peelcheck-") || !strings.HasSuffix(d.Name(), ".tmp") {
				return nil
			}
			if info, err := d.Info(); err == nil && time.Since(info.ModTime()) > leftoverAge {
				os.Remove(path)
			}
			return nil
		})
	}
}
