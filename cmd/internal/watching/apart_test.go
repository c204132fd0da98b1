package watching

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Artwork saved under a new name among what was sorted is told once, also over starts, and again when it has changed.
func TestSavedBesideTheSorted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("moth.png", "hold")
		stop := d.start()
		time.Sleep(time.Hour)
		for n := range 20 { // a slow copy
			d.put("hold/moth-mended.png", strings.Repeat("more", n))
			time.Sleep(time.Second)
		}
		time.Sleep(time.Hour)
		d.wantTold(Apart, "hold/moth-mended.png", 1)
		stop()
		d.once()
		d.wantTold(Apart, "", 1)
		d.put("hold/moth-mended.png", "mended again")
		for range 2 {
			d.once()
		}
		d.wantTold(Apart, "hold/moth-mended.png", 2)
		d.wantTold(Apart, "", 2)
		d.judged("hold/moth-mended.png", 0, "")
		d.holds("hold/moth-mended.png", "mended again")
		d.put("hold/moth.png", "mended")
		d.once()
		d.holds("ready/moth.png", "mended")
		d.wantTold(Apart, "", 2)
	})
}

// What would not be judged elsewhere either, and what was written for the printer, is not told.
func TestNoArtworkBesideTheSorted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		for _, rel := range []string{"ready/a.print.pdf", "ready/a.proof.pdf", "hold/.a.png", "hold/.kept/a.png", "review/a.png.part"} {
			d.put(rel, rel)
		}
		if err := os.WriteFile(d.path("hold/notes.txt"), []byte("call the customer"), 0o666); err != nil {
			t.Fatal(err)
		}
		d.once()
		d.wantTold(Apart, "", 0)
		d.put("review/order 17/a.png", "artwork")
		d.once()
		d.wantTold(Apart, "review/order 17/a.png", 1)
		d.opt.Sort = false
		d.put("review/b.png", "artwork")
		d.once()
		d.wantTold(Apart, "", 1)
	})
}

// A print file of our own is known by its content whatever its name; it is opened once, also over starts, until it changes.
func TestPrintFileBesideTheSorted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("ready/order 17.pdf", "the printer's")
		for range 2 {
			d.once()
		}
		d.wantTold(Apart, "", 0)
		d.wantTold(Skipped, "", 0)
		if len(d.opened) != 1 {
			t.Errorf("opened %q", d.opened)
		}
		d.put("ready/order 17.pdf", "artwork after all")
		d.once()
		d.wantTold(Apart, "ready/order 17.pdf", 1)
	})
}

// Many at once are told in one line with their number.
func TestFolderLongUsed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		const many = 300
		for n := range many {
			d.put(fmt.Sprintf("ready/%03d.png", n), fmt.Sprint(n))
		}
		for range 2 {
			d.once()
		}
		d.wantTold(Apart, "ready/000.png", 1)
		d.wantTold(Apart, "", 1)
		for _, n := range d.notes {
			if n.Kind == Apart && n.Files != many {
				t.Errorf("told of %d files, want %d", n.Files, many)
			}
		}
	})
}

// Artwork that is being moved is ours before the book says that it has arrived, also as an older program's book has it.
func TestArtworkOnItsWayIsNotApart(t *testing.T) {
	d := newDesk(t)
	d.put("a.png", "hold")
	b, err := openBook(d.opt.Dir, d.opt.Out, d.opt.Outputs)
	if err != nil {
		t.Fatal(err)
	}
	defer b.close()
	for _, r := range []record{
		{Path: "a.png", As: "a.png", Target: "a", SHA256: "1", To: "hold/a.png"},
		{Path: "b.png", Earlier: []earlier{{Target: "b", To: "hold/b.png"}}},
	} {
		if err := b.put(r); err != nil {
			t.Fatal(err)
		}
	}
	for to, want := range map[string]bool{"hold/a.png": true, "hold/b.png": true, "hold/c.png": false, "ready/a.png": false} {
		if got := b.leads(to); got != want {
			t.Errorf("leads(%q) is %v", to, got)
		}
	}
}

// Where a folder of sorted artwork is also watched by itself, with its results in the same place, what was judged there stays on record.
func TestSortedFolderWatchedByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Out = t.TempDir()
		whole, within := d.opt, d.opt
		whole.Sort, within.Dir = true, d.path("ready")
		d.put("ready/a.png", "artwork")
		for _, d.opt = range []Options{within, whole, within} {
			d.once()
		}
		d.judged("a.png", 1, "artwork")
		d.wantTold(Apart, "ready/a.png", 1)
	})
}
