package watching

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"peelcheck/cmd/internal/judging"
)

// TestMendedWhereItWasSorted: artwork that is saved over in its verdict's folder is judged again, once, and sorted anew; touched alone it is
// not, and what somebody else put there never is.
func TestMendedWhereItWasSorted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("hold/mine.png", "hold, but by hand")
		d.put("x/a.png", "hold")
		d.put("b.png", "ready")
		stop := d.start()
		wait := func() { time.Sleep(time.Minute); synctest.Wait() }
		wait()
		d.holds("hold/x/a.png", "hold")
		now := time.Now()
		if err := os.Chtimes(d.path("hold/x/a.png"), now, now); err != nil {
			t.Fatal(err)
		}
		d.put("hold/mine.png", "hold, mended by hand")
		wait()
		d.judged("x/a.png", 1, "hold")

		d.put("hold/x/a.png", "hold, not mended well")
		wait()
		d.judged("x/a.png", 2, "hold, not mended well")
		d.holds("hold/x/a.png", "hold, not mended well")
		d.put("hold/x/a.png", "mended")
		d.put("x/a.png", "another of that name")
		wait()
		stop()
		d.missing("hold/x/a.png", "x/a.png")
		d.put("ready/b.png", "review") // while nobody watches
		d.once()
		d.missing("ready/b.png", "b.png")
		d.holds("review/b.png", "review")
		d.report("b", "review")
		for _, words := range []string{"mended", "another of that name"} {
			found := ""
			for _, rel := range d.files("ready") {
				if data, err := os.ReadFile(d.path("ready/" + rel)); err == nil && string(data) == signed+words {
					found = filepath.ToSlash(rel)
				}
			}
			if found == "" {
				t.Fatalf("%q is not among those that are ready: %v", words, d.files("."))
			}
			// The one that comes in has the longer name where it comes before the mended one has left its place.
			target := judging.Candidates(found)[0]
			if long := judging.Candidates(found)[1]; exists(d.path("checked/" + long.Report())) {
				target = long
			}
			d.report(string(target), words)
		}
		d.judged("hold/mine.png", 0, "")
		d.holds("hold/mine.png", "hold, mended by hand")
		d.wantTold(Changed, "", 3)
		d.once()
		d.wantTold(Changed, "", 3)
	})
}

func TestSortNeverOverwrites(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("ready/a.png", "somebody put this here")
		d.put("hold/b.png", "and this")
		d.put("a.png", "review")
		d.put("b.png", "hold")
		d.put("x/a.png", "hold in a folder")
		d.once()
		d.holds("ready/a.png", "somebody put this here")
		d.holds("hold/b.png", "and this")
		d.holds("review/a-2.png", "review")
		d.report("a-2", "review")
		d.holds("hold/b-2.png", "hold")
		d.holds("hold/x/a.png", "hold in a folder")
		d.missing("a.png", "b.png", "x/a.png")

		// The same file again: known, moved under another name, judged no more.
		d.put("a.png", "review")
		d.once()
		d.judged("a.png", 1, "review")
		d.holds("review/a-2.png", "review")
		d.holds("review/a-3.png", "review")

		// Another file of that name while the first lies there: both keep their reports.
		d.put("x/a.png", "mended")
		d.once()
		d.holds("hold/x/a.png", "hold in a folder")
		d.report("x/a", "hold in a folder")
		d.holds("ready/x/a-2.png", "mended")
		d.report("x/a-2", "mended")

		// And once it has been taken away: the name is free again.
		if err := os.Remove(d.path("ready/x/a-2.png")); err != nil {
			t.Fatal(err)
		}
		d.put("x/a.png", "mended again")
		d.once()
		d.holds("ready/x/a-2.png", "mended again")
		d.report("x/a-2", "mended again")
		d.wantTold(Judged, "", 6)
	})
}

// TestMendedAfterCopies mends artwork of which a copy, judged before, had got a number but no results of its own.
func TestMendedAfterCopies(t *testing.T) {
	for _, c := range []struct {
		name    string
		removed []string
		artwork string
		reports map[string]string
	}{
		{"both taken away", []string{"hold/a.png", "hold/a-2.png"}, "ready/a.png", map[string]string{"a": "mended"}},
		{"the copy taken away", []string{"hold/a-2.png"}, "ready/a-2.png", map[string]string{"a": "hold", "a-2": "mended"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newDesk(t)
				d.opt.Sort = true
				for range 2 {
					d.put("a.png", "hold")
					d.once()
				}
				for _, rel := range c.removed {
					if err := os.Remove(d.path(rel)); err != nil {
						t.Fatal(err)
					}
				}
				d.put("a.png", "mended")
				d.once()
				d.holds(c.artwork, "mended")
				for target, words := range c.reports {
					d.report(target, words)
				}
			})
		})
	}
}

// TestMendedBesideItsFormer takes a file out of hold only after the mended one has come: then the old proof goes, and its name is free again.
func TestMendedBesideItsFormer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("a.png", "hold")
		d.once()
		d.put("a.png", "mended")
		d.once()
		d.report("a", "hold")
		d.report("a-2", "mended")
		if err := os.Remove(d.path("hold/a.png")); err != nil {
			t.Fatal(err)
		}
		d.once()
		d.missing("checked/a.report.json", "checked/a.proof.png")
		d.report("a-2", "mended")
		d.put("a.png", "mended again")
		d.once()
		d.holds("ready/a.png", "mended again")
		d.report("a", "mended again")
		d.report("a-2", "mended")

		// The last one keeps its proof when it is taken out, until another comes that cannot be judged.
		if err := errors.Join(os.Remove(d.path("ready/a.png")), os.Remove(d.path("ready/a-2.png"))); err != nil {
			t.Fatal(err)
		}
		d.once()
		d.report("a", "mended again")
		d.missing("checked/a-2.report.json")
		d.put("a.png", "broken")
		d.once()
		if got := d.files("checked"); len(got) != 0 {
			t.Errorf("results of a file that cannot be judged: %v", got)
		}
	})
}

// TestFolderForSortingInTheWay has a file where the folder is needed: the verdict is told, and the move made once it can be.
func TestFolderForSortingInTheWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		defer d.start()()
		if err := os.WriteFile(d.path("hold"), nil, 0o666); err != nil {
			t.Fatal(err)
		}
		d.put("a.png", "hold")
		d.put("b.png", "ready")
		time.Sleep(time.Hour)
		synctest.Wait()
		d.holds("ready/b.png", "ready")
		d.holds("a.png", "hold")
		d.judged("a.png", 1, "hold")
		d.wantTold(Judged, "a.png: judged, but it cannot be moved", 1)
		d.wantTold(Trouble, "a.png: judged, but it cannot be moved", 0)
		if err := os.Remove(d.path("hold")); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		d.holds("hold/a.png", "hold")
		d.judged("a.png", 1, "hold")
	})
}

func TestSortingWhatWasJudgedBefore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.put("a.png", "hold")
		d.put("b.pdf", "broken")
		target := filepath.Join(t.TempDir(), "elsewhere.png")
		if err := os.WriteFile(target, []byte(signed+"linked"), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(target, d.path("link.png")); err != nil {
			t.Fatal(err)
		}
		d.once()
		d.opt.Sort = true
		d.once()
		d.holds("hold/a.png", "hold")
		d.judged("a.png", 1, "hold")
		d.judged("link.png", 1, "linked")
		d.missing("a.png", "ready/link.png")
		d.holds("link.png", "linked") // a link stays
		d.holds("b.pdf", "broken")
	})
}

// TestMoveCutShort starts again after the program was killed at each point of a move.
func TestMoveCutShort(t *testing.T) {
	tests := []struct {
		name  string
		there func(d *desk) // what a killed program left in ready
		want  map[string]string
	}{
		{"before the copy", func(*desk) {}, map[string]string{"ready/a.png": "a"}},
		{"during the copy", func(d *desk) { d.put("ready/.peelcheck-1.tmp", "a") }, map[string]string{"ready/a.png": "a"}},
		{"before the removal", func(d *desk) { d.put("ready/a.png", "a") }, map[string]string{"ready/a.png": "a"}},
		{"another file came there", func(d *desk) { d.put("ready/a.png", "z") }, map[string]string{"ready/a.png": "z", "ready/a-2.png": "a"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newDesk(t)
				d.put("a.png", "a")
				d.once()
				b, err := openBook(d.opt.Dir, d.opt.Out, d.opt.Outputs)
				if err != nil {
					t.Fatal(err)
				}
				r, ok := b.find("a.png")
				if !ok {
					t.Fatal("a.png is not on record")
				}
				r.To = "ready/a.png"
				if err := b.put(r); err != nil {
					t.Fatal(err)
				}
				b.close()
				tt.there(d)
				d.opt.Sort = true
				d.once()
				d.missing("a.png")
				d.judged("a.png", 1, "a")
				if got := d.files("ready"); len(got) != len(tt.want) {
					t.Errorf("in ready: %v", got)
				}
				for rel, words := range tt.want {
					d.holds(rel, words)
				}

				// Dropped again after that, it is a file of its own.
				d.put("a.png", "a")
				d.once()
				if got := d.files("ready"); len(got) != len(tt.want)+1 {
					t.Errorf("in ready: %v", got)
				}
			})
		})
	}
}

// visitOf is a visit to a file that has been judged, at the point where it is moved.
func visitOf(t *testing.T, d *desk, rel string) *visit {
	t.Helper()
	info, err := os.Lstat(d.path(rel))
	if err != nil {
		t.Fatal(err)
	}
	return &visit{watcher: &watcher{Options: d.opt}, path: d.path(rel), result: result{rel: rel, seen: signatureOf(info)}}
}

func TestCopyAcrossDisks(t *testing.T) {
	d := newDesk(t)
	d.put("a.png", "a")
	when := time.Unix(1_700_000_000, 123_456_700)
	if err := errors.Join(os.Chmod(d.path("a.png"), 0o640), os.Chtimes(d.path("a.png"), when, when)); err != nil {
		t.Fatal(err)
	}
	hash := sha256.Sum256([]byte(signed + "a"))
	sum := hex.EncodeToString(hash[:])
	d.put("ready/taken.png", "taken")
	v := visitOf(t, d, "a.png")

	if err := v.copyTo(d.path("ready/taken.png"), sum); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a file: %v", err)
	}
	if err := v.copyTo(d.path("ready/a.png"), strings.Repeat("0", 64)); !errors.Is(err, errChanged) {
		t.Errorf("of another content: %v", err)
	}
	if err := v.copyTo(d.path("nowhere/a.png"), sum); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("into no folder: %v", err)
	}
	d.holds("a.png", "a")
	d.holds("ready/taken.png", "taken")
	if err := v.copyTo(d.path("ready/a.png"), sum); err != nil {
		t.Fatal(err)
	}
	d.holds("ready/a.png", "a")
	d.missing("a.png")
	info, err := os.Stat(d.path("ready/a.png"))
	if err != nil || !info.ModTime().Equal(when) || info.Mode().Perm() != 0o640 {
		t.Errorf("time %v, mode %v, %v", info.ModTime(), info.Mode(), err)
	}
	left, err := filepath.Glob(d.path("ready/.*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestMoveOfAnotherFile(t *testing.T) {
	d := newDesk(t)
	d.put("a.png", "a")
	v := visitOf(t, d, "a.png")
	d.put("a.png", "not judged yet")
	if err := v.moveTo(d.path("ready/a.png"), ""); !errors.Is(err, errChanged) {
		t.Errorf("moved: %v", err)
	}
	d.holds("a.png", "not judged yet")

	// It took the place at the very last moment, and yet another came after it.
	d.put("ready/a.png", "not judged yet")
	d.put("a.png", "newest")
	if err := v.back(d.path("ready/a.png")); err != nil {
		t.Fatal(err)
	}
	d.holds("a.png", "newest")
	d.holds("a-2.png", "not judged yet")
	d.missing("ready/a.png")
}

func TestRename(t *testing.T) { testMove(t, renameNew) }

// testMove holds a way to move a file to never overwriting.
func testMove(t *testing.T, move func(from, to string) error) {
	d := newDesk(t)
	d.put("a.png", "a")
	d.put("b.png", "b")
	if err := move(d.path("a.png"), d.path("b.png")); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a file: %v", err)
	}
	d.holds("a.png", "a")
	d.holds("b.png", "b")
	if err := move(d.path("a.png"), d.path("c.png")); err != nil {
		t.Error(err)
	}
	d.holds("c.png", "a")
	d.missing("a.png")
	if err := move(d.path("a.png"), d.path("d.png")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is gone: %v", err)
	}
}

func TestFolderWatchedIsNeverMade(t *testing.T) {
	d := newDesk(t)
	d.put("a.png", "a")
	v := visitOf(t, d, "a.png")
	if err := os.RemoveAll(d.opt.Dir); err != nil {
		t.Fatal(err)
	}
	if err := v.makeFolder(d.path("ready/x")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("made: %v", err)
	}
	d.missing(".")
}

func TestNumbered(t *testing.T) {
	long := strings.Repeat("é", 125)
	tests := []struct {
		rel  string
		n    int
		want string
	}{
		{"a.png", 1, "a.png"}, {"a.png", 2, "a-2.png"}, {"x.y/a", 12, "x.y/a-12"}, {"x/.png", 2, "x/.png-2"},
		{"a.b.png", 3, "a.b-3.png"}, {long + "x.png", 2, strings.Repeat("é", 124) + "-2.png"},
		{"a." + strings.Repeat("n", 253), 2, "a." + strings.Repeat("n", 251) + "-2"},
	}
	for _, tt := range tests {
		if got := filepath.ToSlash(numbered(filepath.FromSlash(tt.rel), tt.n)); got != tt.want || len(filepath.Base(got)) > 255 {
			t.Errorf("numbered(%q, %d) = %q, want %q", tt.rel, tt.n, got, tt.want)
		}
	}
}
