package serving

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/gofrs/flock"

	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight/report"
)

// Uploads lie in a folder of this run alone, each in one of its own under a random name. The folder is locked while the program runs; a
// run that ended badly leaves it unlocked, and the next one takes it away.

// upload is a file that somebody dropped.
type upload struct {
	id    string // 32 random hex digits
	name  string // as the browser told it, fit to be shown; never part of a path
	dir   string
	bytes int64
	at    time.Time
	document
}

func (u *upload) path() string { return filepath.Join(u.dir, "artwork") }

// mostUploads bounds how many files are kept.
const mostUploads = 200

// store keeps uploads. It is safe for concurrent use.
type store struct {
	dir       string
	lock      *flock.Flock
	keep      time.Duration
	mostBytes int64 // kept together
	onRemove  func(id string)
	now       func() time.Time

	mu   sync.Mutex
	list []*upload // the oldest first
}

const (
	runPrefix = "run-"
	lockName  = "in-use"
)

// openStore makes a folder for this run below parent and takes away those that runs before it left behind.
func openStore(parent string, keep time.Duration, mostBytes int64) (*store, error) {
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return nil, err
	}
	starting := flock.New(filepath.Join(parent, "starting")) // or a run that has no lock yet would be taken for one that is over
	if err := starting.Lock(); err != nil {
		return nil, err
	}
	defer starting.Unlock()
	removeLeftovers(parent)
	dir, err := os.MkdirTemp(parent, runPrefix)
	if err != nil {
		return nil, err
	}
	lock := flock.New(filepath.Join(dir, lockName))
	if ok, err := lock.TryLock(); err != nil || !ok {
		os.RemoveAll(dir)
		return nil, errors.Join(err, errors.New("the folder for uploads cannot be locked"))
	}
	return &store{dir: dir, lock: lock, keep: keep, mostBytes: mostBytes, now: time.Now, onRemove: func(string) {}}, nil
}

func removeLeftovers(parent string) {
	old, _ := filepath.Glob(filepath.Join(parent, runPrefix+"*"))
	for _, dir := range old {
		lock := flock.New(filepath.Join(dir, lockName))
		if free, err := lock.TryLock(); err == nil && free {
			lock.Close()
			os.RemoveAll(dir)
		}
	}
}

// tooLarge is what an upload beyond the limit gets.
type tooLarge struct{ limit int64 }

func (e *tooLarge) Error() string {
	return fmt.Sprintf("the file is larger than %s, which is the most taken here", byteWords(e.limit))
}

// add keeps what r holds, at most limit bytes of it, under a name to be shown.
func (s *store) add(name string, r io.Reader, limit int64) (*upload, error) {
	var random [16]byte
	rand.Read(random[:]) // never fails
	u := &upload{id: hex.EncodeToString(random[:]), name: shownName(name), at: s.now()}
	u.dir = filepath.Join(s.dir, u.id)
	if err := os.Mkdir(u.dir, 0o700); err != nil {
		return nil, problem.About(u.name, err)
	}
	if err := u.fill(r, limit); err != nil {
		os.RemoveAll(u.dir)
		return nil, err
	}
	s.mu.Lock()
	s.list = append(s.list, u)
	old := s.surplus()
	s.mu.Unlock()
	s.drop(old)
	return u, nil
}

func (u *upload) fill(r io.Reader, limit int64) error {
	f, err := os.OpenFile(u.path(), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return problem.About(u.name, err)
	}
	u.bytes, err = io.Copy(f, io.LimitReader(r, limit+1))
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil && u.bytes > limit {
		return &tooLarge{limit}
	}
	return err
}

// surplus takes the oldest uploads off the list while there are too many, or too many bytes of them.
func (s *store) surplus() []*upload {
	var total int64
	for _, u := range s.list {
		total += u.bytes
	}
	n := 0
	for ; n < len(s.list)-1 && (len(s.list)-n > mostUploads || total > s.mostBytes); n++ {
		total -= s.list[n].bytes
	}
	old := slices.Clone(s.list[:n])
	s.list = slices.Delete(s.list, 0, n)
	return old
}

// get returns an upload, nil if there is none, or none any more.
func (s *store) get(id string) *upload {
	s.sweep()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, u := range s.list {
		if u.id == id {
			return u
		}
	}
	return nil
}

// all returns the uploads, the newest first.
func (s *store) all() []*upload {
	s.sweep()
	s.mu.Lock()
	defer s.mu.Unlock()
	list := slices.Clone(s.list)
	slices.Reverse(list)
	return list
}

// remove forgets an upload and takes its files away.
func (s *store) remove(id string) {
	s.mu.Lock()
	var gone []*upload
	s.list = slices.DeleteFunc(s.list, func(u *upload) bool {
		if u.id == id {
			gone = append(gone, u)
		}
		return u.id == id
	})
	s.mu.Unlock()
	s.drop(gone)
}

// sweep removes what was kept long enough.
func (s *store) sweep() {
	s.mu.Lock()
	until := s.now().Add(-s.keep)
	n := 0
	for n < len(s.list) && s.list[n].at.Before(until) {
		n++
	}
	old := slices.Clone(s.list[:n])
	s.list = slices.Delete(s.list, 0, n)
	s.mu.Unlock()
	s.drop(old)
}

func (s *store) drop(list []*upload) {
	for _, u := range list {
		os.RemoveAll(u.dir)
		s.onRemove(u.id)
	}
}

// close takes all of this run away.
func (s *store) close() error {
	err := s.lock.Close()
	return errors.Join(err, os.RemoveAll(s.dir))
}

// mostNameRunes is how much of a name is shown.
const mostNameRunes = 120

// shownName makes a name that a browser told fit to be shown, and to name downloads after: printable, without a folder.
func shownName(name string) string {
	name = strings.NewReplacer("/", "_", `\`, "_", ":", "_").Replace(strings.ToValidUTF8(name, "_"))
	name = strings.TrimSpace(report.Printable(name))
	if utf8.RuneCountInString(name) > mostNameRunes {
		name = string([]rune(name)[:mostNameRunes]) + "…"
	}
	if strings.Trim(name, ". ") == "" {
		return "artwork"
	}
	return strings.ReplaceAll(name, `\`, "_")
}
