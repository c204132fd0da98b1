// Package resultcache keeps what was worked out from a file in a folder, for the next run. Start at Open.
package resultcache

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Cache keeps entries as files, one each. It is safe for several goroutines and processes at once: an entry is written beside its place and
// moved there, and one that is torn, changed or moved is no entry. A nil Cache keeps nothing.
type Cache struct {
	dir, program string        // the SHA-256 of what stands for the program
	wrote        chan struct{} // holds something once an entry was written
}

// Key names an entry.
type Key [sha256.Size]byte

const (
	folder   = "results"
	magic    = "peelcheck result 1\n"
	tempMark = ".part-"
	// mostBytes bounds what a folder holds after it was swept, an entry a part of that.
	mostBytes, mostEntryBytes = 1 << 30, 64 << 20
	unusedFor                 = 60 * 24 * time.Hour // entries not used for so long are swept
	sweepEvery, touchEvery    = 24 * time.Hour, 24 * time.Hour
)

// Open returns the cache in dir, which is made if it is missing. program stands for the code that works the entries out.
func Open(dir, program string) (*Cache, error) {
	dir = filepath.Join(dir, folder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	probe, err := os.CreateTemp(dir, tempMark)
	if err != nil {
		return nil, err
	}
	probe.Close()
	sum := sha256.Sum256([]byte(program))
	return &Cache{dir: dir, program: hex.EncodeToString(sum[:]), wrote: make(chan struct{}, 1)}, os.Remove(probe.Name())
}

// KeyOf names what a program of this version makes of the parts, which must be all that it depends on and fit for JSON.
func (c *Cache) KeyOf(parts ...any) (Key, error) {
	text, err := json.Marshal(append([]any{magic, c.program}, parts...))
	if err != nil {
		return Key{}, fmt.Errorf("resultcache: %w", err)
	}
	return sha256.Sum256(text), nil
}

func (c *Cache) path(k Key) string {
	name := fmt.Sprintf("%x", k[:])
	return filepath.Join(c.dir, name[:2], name[2:])
}

// header stands before an entry's payload and vouches for it.
func header(k Key, payload []byte) []byte {
	h := sha256.New()
	h.Write(k[:])
	h.Write(payload)
	return h.Sum(append([]byte(magic), k[:]...))
}

// Get returns the payload of an entry, if it is there whole.
func (c *Cache) Get(k Key) ([]byte, bool) {
	if c == nil {
		return nil, false
	}
	path := c.path(k)
	info, err := os.Lstat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() > mostEntryBytes {
		return nil, false
	}
	data, err := os.ReadFile(path)
	const size = len(magic) + 2*sha256.Size
	if err != nil || len(data) < size || !bytes.Equal(data[:size], header(k, data[size:])) {
		return nil, false
	}
	if time.Since(info.ModTime()) > touchEvery {
		_ = os.Chtimes(path, time.Time{}, time.Now()) // it only counts as unused for longer if that fails
	}
	return data[size:], true
}

// Put keeps an entry. One too large is left out.
func (c *Cache) Put(k Key, payload []byte) error {
	if c == nil || len(payload) > mostEntryBytes/2 {
		return nil
	}
	path := c.path(k)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), tempMark)
	if err != nil {
		return err
	}
	_, err = f.Write(append(header(k, payload), payload...))
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), path) // not flushed to the disk: what a crash tears is found out by its header
	}
	if err != nil {
		os.Remove(f.Name())
		return err
	}
	select {
	case c.wrote <- struct{}{}:
	default:
	}
	return nil
}

// Sweep takes entries away that were not used for two months and then, the longest unused first, what is over the bound, if entries were
// written and it was not done today. Other processes may go on meanwhile.
func (c *Cache) Sweep() {
	if c == nil || len(c.wrote) == 0 {
		return
	}
	stamp := filepath.Join(c.dir, "swept")
	if info, err := os.Stat(stamp); err == nil && time.Since(info.ModTime()) < sweepEvery {
		return
	}
	if os.WriteFile(stamp, nil, 0o644) == nil {
		c.sweep(time.Now(), mostBytes)
	}
}

type entry struct {
	path string
	size int64
	used time.Time
}

func (c *Cache) sweep(now time.Time, most int64) {
	var list []entry
	var total int64
	_ = filepath.WalkDir(c.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || filepath.Dir(path) == c.dir {
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return nil // another process took it away
		}
		age := now.Sub(info.ModTime())
		being := strings.HasPrefix(d.Name(), tempMark) // written just now, perhaps by another process
		switch {
		case age > unusedFor || being && age > sweepEvery:
			_ = os.Remove(path)
			return nil
		case being:
			return nil
		}
		list = append(list, entry{path, info.Size(), info.ModTime()})
		total += info.Size()
		return nil
	})
	slices.SortFunc(list, func(a, b entry) int { return a.used.Compare(b.used) })
	for _, e := range list {
		if total <= most {
			return
		}
		_ = os.Remove(e.path)
		total -= e.size
	}
}
