package watching

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"peelcheck/preflight"
)

func (d *desk) rename(from, to string) {
	d.t.Helper()
	d.mkdir(filepath.Dir(to))
	if err := os.Rename(d.path(from), d.path(to)); err != nil {
		d.t.Fatal(err)
	}
}

// Sorted artwork under a new name keeps what was found of it, also from those that come in under its old name, before and after it was taken out.
func TestRenamedWhereItWasSorted(t *testing.T) {
	for name, running := range map[string]bool{"while it runs": true, "between two runs": false} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newDesk(t)
				d.opt.Sort = true
				rest := d.once
				if running {
					defer d.start()()
					rest = func() { time.Sleep(time.Hour) }
				}
				d.put("a.png", "first page")
				rest()
				d.rename("ready/a.png", "ready/order 17/moth.png")
				d.put("a.png", "second")
				rest()
				d.wantTold(Renamed, "ready/a.png", 1)
				d.wantTold(Apart, "", 0)
				d.report("order 17/moth.p1", "first page")
				d.report("order 17/moth.p2", "first page")
				d.report("a", "second")
				d.holds("ready/a.png", "second")
				d.rename("ready/order 17/moth.png", "printed.png")
				if err := os.Remove(d.path("printed.png")); err != nil {
					t.Fatal(err)
				}
				d.put("a.png", "third")
				rest()
				d.report("order 17/moth.p2", "first page")
				d.report("a-2", "third")
				d.judged("a.png", 3, "third")
				d.put("order 17/moth.png", "fourth")
				rest()
				d.report("order 17/moth", "fourth")
				d.missing("checked/order 17/moth.p1.proof.png", "checked/order 17/moth.p2.report.json")
				d.put("ready/order 17/moth.png", "hold: mended")
				rest()
				d.report("order 17/moth", "hold: mended")
				d.holds("hold/order 17/moth.png", "hold: mended")
			})
		})
	}
}

// Where somebody else's file has the name that a result would get, nothing is overwritten, and the artwork is known all the same.
func TestRenamedToATakenName(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		d.put("a.png", "first")
		d.once()
		for _, taken := range []string{"checked/b.proof.png", "checked/b.png.proof.png"} {
			d.put(taken, "the customer's")
		}
		d.rename("ready/a.png", "ready/b.png")
		for range 2 {
			d.once()
		}
		d.wantTold(Renamed, "", 1)
		d.wantTold(Apart, "", 0)
		d.holds("checked/b.proof.png", "the customer's")
		d.report("a", "first")
		d.put("a.png", "second")
		d.once()
		d.report("a", "first")
		d.report("a.png", "second")
		d.put("ready/b.png", "mended")
		d.once()
		d.wantTold(Changed, "", 1)
	})
}

// Artwork that is put among what was judged otherwise is told with its own verdict, and so is one of two copies with a proof between them.
func TestMovedToAnotherVerdict(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		for range 2 {
			d.put("a.png", "hold")
			d.once()
		}
		d.rename("hold/a-2.png", "ready/a.png")
		d.once()
		i := slices.IndexFunc(d.notes, func(n Note) bool { return n.Kind == Renamed })
		if i < 0 || d.notes[i].Verdict != preflight.Hold || d.notes[i].MovedTo != filepath.FromSlash("ready/a.png") {
			t.Fatalf("not told of the verdict: %+v", d.notes)
		}
		d.put("a.png", "other")
		d.once()
		d.report("a", "hold")
		d.wantTold(Apart, "", 0)
	})
}
