package resultcache

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync"
	"testing"
	"time"
)

func open(t *testing.T, dir, program string) *Cache {
	t.Helper()
	c, err := Open(dir, program)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func key(t *testing.T, c *Cache, parts ...any) Key {
	t.Helper()
	k, err := c.KeyOf(parts...)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func TestPutGet(t *testing.T) {
	dir := t.TempDir()
	c := open(t, dir, "one")
	k := key(t, c, "content", 1)
	if _, ok := c.Get(k); ok {
		t.Error("an empty cache has an entry")
	}
	for _, payload := range []string{"moth", "", "lantern"} {
		if err := c.Put(k, []byte(payload)); err != nil {
			t.Fatal(err)
		}
		if got, ok := c.Get(k); !ok || string(got) != payload {
			t.Errorf("got %q, %v, want %q", got, ok, payload)
		}
	}
	// Other content, another order, another program: other entries.
	for _, other := range []Key{key(t, c, "content", 2), key(t, c, 1, "content"), key(t, c, "content1"), key(t, open(t, dir, "two"), "content", 1)} {
		if _, ok := c.Get(other); ok {
			t.Error("an entry is served for another key")
		}
	}
	if got, ok := open(t, dir, "one").Get(k); !ok || string(got) != "lantern" {
		t.Errorf("the next process gets %q, %v", got, ok)
	}
}

// TestDamaged changes every byte, and cuts at every length.
func TestDamaged(t *testing.T) {
	c := open(t, t.TempDir(), "one")
	k, other := key(t, c, "a"), key(t, c, "b")
	if err := c.Put(k, []byte("a lantern, whole")); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(c.path(k))
	if err != nil {
		t.Fatal(err)
	}
	damage := func(data []byte, what string, at Key) {
		if err := os.MkdirAll(filepath.Dir(c.path(at)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(c.path(at), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, ok := c.Get(at); ok {
			t.Errorf("%s: got %q", what, got)
		}
	}
	for i := range whole {
		damage(whole[:i], fmt.Sprintf("cut at %d", i), k)
		changed := bytes.Clone(whole)
		changed[i] ^= 0x20
		damage(changed, fmt.Sprintf("byte %d changed", i), k)
	}
	damage(append(bytes.Clone(whole), 0), "a byte more", k)
	damage(whole, "moved to another key", other)
}

func TestManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	var all sync.WaitGroup
	for worker := range 8 {
		c := open(t, dir, "one") // as if each were a process
		all.Go(func() {
			for i := range 200 {
				k, err := c.KeyOf(i % 7)
				if err != nil {
					t.Error(err)
				}
				want := bytes.Repeat([]byte{byte(i % 7)}, 5000)
				if got, ok := c.Get(k); ok && !bytes.Equal(got, want) {
					t.Errorf("entry %d is torn", i%7)
				}
				if err := c.Put(k, want); err != nil {
					t.Error(err)
				}
				if worker == 0 && i%50 == 0 {
					c.sweep(time.Now(), 0)
				}
			}
		})
	}
	all.Wait()
}

func TestSweep(t *testing.T) {
	c := open(t, t.TempDir(), "one")
	now := time.Now()
	const size = 1000
	for day := range 100 {
		k := key(t, c, day)
		if err := c.Put(k, make([]byte, size)); err != nil {
			t.Fatal(err)
		}
		used := now.Add(-time.Duration(day)*24*time.Hour - time.Hour)
		if err := os.Chtimes(c.path(k), used, used); err != nil {
			t.Fatal(err)
		}
	}
	left := func() (days []int) {
		for day := range 100 {
			if _, err := os.Stat(c.path(key(t, c, day))); err == nil {
				days = append(days, day)
			}
		}
		return days
	}
	c.sweep(now, mostBytes)
	if got := left(); len(got) != 60 || got[59] != 59 {
		t.Errorf("left are %v, want those of 60 days", got)
	}
	c.sweep(now, 30*(size+200))
	if got := left(); len(got) < 30 || len(got) > 35 || got[len(got)-1] != len(got)-1 {
		t.Errorf("left are %v, want the 30 or so used last", got)
	}
	if k := key(t, c, 1); true {
		if _, ok := c.Get(k); !ok {
			t.Fatal("a young entry is gone")
		}
		if info, err := os.Stat(c.path(k)); err != nil || now.Sub(info.ModTime()) > time.Hour {
			t.Errorf("an entry that was used counts as unused since %v", info.ModTime())
		}
	}
}

// TestClean: a build is told by its commit only if nothing else went into it.
func TestClean(t *testing.T) {
	info := func(dep *debug.Module, settings ...string) *debug.BuildInfo {
		out := &debug.BuildInfo{Deps: []*debug.Module{dep}}
		for i := 0; i < len(settings); i += 2 {
			out.Settings = append(out.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
		}
		return out
	}
	sound := &debug.Module{Path: "x", Sum: "h1:1"}
	if !clean(info(sound, "vcs.revision", "1", "vcs.modified", "false", "GOARCH", "amd64")) {
		t.Error("a build of one commit is not told by it")
	}
	for _, bad := range []*debug.BuildInfo{
		info(sound), info(sound, "vcs.revision", "1"), info(sound, "vcs.revision", "1", "vcs.modified", "true"),
		info(sound, "vcs.revision", "1", "vcs.modified", "false", "-overlay", "x"),
		info(&debug.Module{Path: "x", Replace: sound}, "vcs.revision", "1", "vcs.modified", "false"),
		info(&debug.Module{Path: "x"}, "vcs.revision", "1", "vcs.modified", "false"),
	} {
		if clean(bad) {
			t.Errorf("%v is told by its commit", bad.Settings)
		}
	}
	if got, err := Program("9"); err != nil || len(got) != len("9\n")+64 {
		t.Errorf("Program in a test gives %q, %v, want the sum of the executable", got, err)
	}
}
