package watching

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// desk is a shop whose judge looks only at the words in a file: hold, review, or neither.
type desk struct {
	t   *testing.T
	opt Options

	mu      sync.Mutex
	visits  map[string][]string // by file, what was in it at each judging
	notes   []Note
	hook    func(path string) // called after a file was read and before its report is written
	written func(path string) // called after its results were written
	opened  []string          // to see whether they are print files
	full    bool              // the disk takes nothing
}

func newDesk(t *testing.T) *desk {
	d := &desk{t: t, visits: map[string][]string{}}
	dir := filepath.Join(t.TempDir(), "in")
	d.opt = Options{Dir: dir, Out: filepath.Join(dir, "checked"), Poll: true, Settle: 2 * time.Second, Jobs: 2, Job: "job"}
	d.opt.Judge, d.opt.Tell = d.judge, d.tell
	d.opt.PrintFile = func(path string) bool {
		data, err := os.ReadFile(path)
		d.opened = append(d.opened, path)
		return err == nil && bytes.Contains(data, []byte("printer's"))
	}
	d.mkdir("checked")
	return d
}

const signed = "\x89PNG\r\n\x1a\n" // PNG (Third Edition), 5.2

func (d *desk) judge(_ context.Context, path string, to judging.Target) (o judging.Outcome) {
	data, err := os.ReadFile(path)
	if err != nil {
		o.Problems = append(o.Problems, problem.About(path, err))
		return o
	}
	rel, _ := filepath.Rel(d.opt.Dir, path)
	d.mu.Lock()
	d.visits[rel] = append(d.visits[rel], strings.TrimPrefix(string(data), signed))
	hook, full := d.hook, d.full
	d.mu.Unlock()
	if hook != nil {
		hook(path)
	}
	if bytes.Contains(data, []byte("broken")) {
		o.Problems = append(o.Problems, problem.New(path, "the file ends too early", "export it again"))
		return o
	}
	if o.Prepared = bytes.Contains(data, []byte("printer's")); o.Prepared {
		return o
	}
	rep := &preflight.Report{Verdict: preflight.Ready}
	rep.Artwork.File = filepath.ToSlash(path)
	sum := sha256.Sum256(data)
	rep.Artwork.SHA256 = hex.EncodeToString(sum[:])
	for _, v := range []preflight.Verdict{preflight.Hold, preflight.Review} {
		if bytes.Contains(data, []byte(v)) {
			rep.Verdict = v
		}
	}
	o.Pages = 1 + bytes.Count(data, []byte("page"))
	for n := 1; n <= o.Pages; n++ {
		o.Reports = append(o.Reports, rep)
		if full {
			o.Problems = append(o.Problems, problem.About(d.opt.Out, syscall.ENOSPC).Unwritable("the result cannot be written here"))
			continue
		}
		page := to.Page(n, o.Pages)
		data, err := json.Marshal(rep)
		if err == nil {
			err = os.WriteFile(page.Report(), data, 0o666)
		}
		if err == nil && !d.opt.Outputs.NoProof {
			err = os.WriteFile(page.Proof(), data, 0o666)
		}
		if err != nil {
			o.Problems = append(o.Problems, err)
			return o
		}
		o.Written++
	}
	if d.written != nil {
		d.written(path)
	}
	return o
}

func (d *desk) tell(n Note) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.notes = append(d.notes, n)
}

func (d *desk) path(rel string) string { return filepath.Join(d.opt.Dir, filepath.FromSlash(rel)) }

func (d *desk) mkdir(rel string) {
	d.t.Helper()
	if err := os.MkdirAll(d.path(rel), 0o777); err != nil {
		d.t.Fatal(err)
	}
}

func (d *desk) put(rel, words string) {
	d.t.Helper()
	d.mkdir(filepath.Dir(rel))
	if err := os.WriteFile(d.path(rel), []byte(signed+words), 0o666); err != nil {
		d.t.Fatal(err)
	}
}

// start begins watching; what it returns ends it.
func (d *desk) start() (stop func()) {
	d.t.Helper()
	ctx, cancel := context.WithCancel(d.t.Context())
	ended := make(chan error)
	go func() { ended <- Run(ctx, d.opt) }()
	return func() {
		d.t.Helper()
		cancel()
		if err := <-ended; err != nil {
			d.t.Fatal(err)
		}
	}
}

// once watches until all is judged.
func (d *desk) once() {
	d.t.Helper()
	opt := d.opt
	opt.Once = true
	if err := Run(d.t.Context(), opt); err != nil {
		d.t.Fatal(err)
	}
}

// judged checks how often a file was judged and what was in it the last time.
func (d *desk) judged(rel string, times int, words string) {
	d.t.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	got := d.visits[filepath.FromSlash(rel)]
	if len(got) != times || times > 0 && got[times-1] != words {
		d.t.Errorf("%s was judged with %.200q, want %d times, the last with %q", rel, got, times, words)
	}
}

// holds checks that a file below the folder watched is the artwork with these words.
func (d *desk) holds(rel, words string) {
	d.t.Helper()
	if data, err := os.ReadFile(d.path(rel)); err != nil || string(data) != signed+words {
		d.t.Errorf("%s holds %.80q (%v), want the artwork with %q", rel, data, err, words)
	}
}

// report checks that the results under a name are those of the artwork with these words.
func (d *desk) report(target, words string) {
	d.t.Helper()
	sum := sha256.Sum256([]byte(signed + words))
	for _, suffix := range []string{".report.json", ".proof.png"} {
		data, err := os.ReadFile(filepath.Join(d.opt.Out, filepath.FromSlash(target)+suffix))
		if err != nil || !bytes.Contains(data, []byte(hex.EncodeToString(sum[:]))) {
			d.t.Errorf("%s%s is %.80q (%v), want that of the artwork with %q", target, suffix, data, err, words)
		}
	}
}

func (d *desk) missing(rels ...string) {
	d.t.Helper()
	for _, rel := range rels {
		if _, err := os.Lstat(d.path(rel)); !errors.Is(err, fs.ErrNotExist) {
			d.t.Errorf("%s is there (%v)", rel, err)
		}
	}
}

// told counts the notes of a kind whose problems, or path if they have none, contain words.
func (d *desk) told(kind Kind, words string) (n int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, note := range d.notes {
		if note.Kind == kind && strings.Contains(fmt.Sprint(note.Path, note.Problems), words) {
			n++
		}
	}
	return n
}

func (d *desk) wantTold(kind Kind, words string, want int) {
	d.t.Helper()
	if got := d.told(kind, words); got != want {
		d.t.Errorf("%d notes %q about %q, want %d: %v", got, kind, words, want, d.notes)
	}
}

// files lists what lies in a folder and below, without the book.
func (d *desk) files(rel string) (list []string) {
	d.t.Helper()
	err := filepath.WalkDir(d.path(rel), func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && !strings.HasPrefix(e.Name(), ".") {
			list = append(list, strings.TrimPrefix(path, d.path(rel)+string(filepath.Separator)))
		}
		return err
	})
	if err != nil {
		d.t.Fatal(err)
	}
	return list
}

func TestGrowingFileIsJudgedOnceAtRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		defer d.start()()
		words := ""
		for range 12 {
			words += "more "
			d.put("lantern.png", words)
			time.Sleep(1500 * time.Millisecond)
		}
		d.judged("lantern.png", 0, "")
		time.Sleep(5 * time.Second)
		synctest.Wait()
		d.judged("lantern.png", 1, words)
		d.report("lantern", words)
		time.Sleep(time.Hour)
		d.judged("lantern.png", 1, words)
		d.put("lantern.png", words+"and more")
		time.Sleep(5 * time.Second)
		synctest.Wait()
		d.judged("lantern.png", 2, words+"and more")
		d.report("lantern", words+"and more")
	})
}

func TestReplacedWhileRead(t *testing.T) {
	for _, sort := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			d := newDesk(t)
			d.opt.Sort = sort
			times := 0
			d.hook = func(path string) {
				if times++; times < 3 {
					time.Sleep(time.Second)
					d.put("lantern.png", "hold"+strings.Repeat("!", times))
				}
			}
			defer d.start()()
			d.put("lantern.png", "ready")
			time.Sleep(time.Minute)
			synctest.Wait()
			d.judged("lantern.png", 3, "hold!!")
			d.report("lantern", "hold!!")
			d.wantTold(Judged, "lantern.png", 1)
			if sort {
				d.holds("hold/lantern.png", "hold!!")
				d.missing("lantern.png", "ready")
			}
		})
	}
}

// TestStoppingFinishesWhatIsInHand stops while a file is judged.
func TestStoppingFinishesWhatIsInHand(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort, d.opt.Jobs = true, 1
		d.hook = func(string) { time.Sleep(time.Hour) }
		stop := d.start()
		d.put("a.png", "review")
		d.put("b.png", "review")
		time.Sleep(10 * time.Second)
		stop()
		d.holds("review/a.png", "review")
		d.report("a", "review")
		d.judged("b.png", 0, "")
		d.holds("b.png", "review")
		d.wantTold(Stopped, "", 1)
	})
}

func TestFolderRemovedAndMadeAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		defer d.start()()
		d.put("a.png", "one")
		d.put("order 17/b.png", "two")
		time.Sleep(time.Minute)
		synctest.Wait()
		d.report("order 17/b", "two")
		if err := os.RemoveAll(d.path("order 17")); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		d.put("order 17/c.png", "three")
		time.Sleep(time.Minute)
		synctest.Wait()
		d.report("order 17/c", "three")
		d.judged("a.png", 1, "one")

		if err := os.RemoveAll(d.opt.Dir); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Hour)
		d.wantTold(Trouble, "the folder is gone", 1)
		d.missing(".")
		d.put("a.png", "one")
		d.put("d.png", "four")
		time.Sleep(time.Minute)
		synctest.Wait()
		d.wantTold(Resumed, "the folder is back", 1)
		d.report("a", "one") // its report was taken away with the folder
		d.report("d", "four")
		d.judged("a.png", 2, "one")

		// The results alone taken away: all that is there is judged again.
		if err := os.RemoveAll(d.opt.Out); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		d.report("a", "one")
		d.report("d", "four")
	})
}

func TestRestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.put("a.png", "one")
		d.put("b.png", "two")
		d.put("c.png", "broken")
		d.put("d.png", "page page")
		d.once()
		for _, name := range []string{"d.p1.report.json", "d.p2.proof.png", "d.p3.report.json"} {
			if _, err := os.Stat(filepath.Join(d.opt.Out, name)); err != nil {
				t.Error(err)
			}
		}
		d.wantTold(Refused, "c.png: the file ends too early", 1)
		d.wantTold(Judged, "", 3)
		d.once()
		d.judged("a.png", 1, "one")
		d.judged("c.png", 1, "broken")
		d.wantTold(Judged, "", 3)

		// Touched: the content counts. Changed: judged again, also if it could not be judged before.
		if err := os.Chtimes(d.path("a.png"), time.Unix(1e9, 0), time.Unix(1e9, 0)); err != nil {
			t.Fatal(err)
		}
		d.put("b.png", "two again")
		d.put("c.png", "mended")
		d.put("d.png", "a single one")
		d.once()
		d.judged("a.png", 1, "one")
		d.report("b", "two again")
		d.report("c", "mended")
		d.report("d", "a single one")
		d.missing("checked/d.p1.report.json", "checked/d.p2.proof.png", "checked/d.p3.report.json")

		// Results taken away are made again; another job is another judgement.
		if err := os.Remove(filepath.Join(d.opt.Out, "a.proof.png")); err != nil {
			t.Fatal(err)
		}
		d.once()
		d.judged("a.png", 2, "one")
		d.report("a", "one")
		d.judged("b.png", 2, "two again")
		d.opt.Job = "another"
		d.once()
		d.judged("a.png", 3, "one")
		d.judged("b.png", 3, "two again")
		if got := d.files("checked"); len(got) != 8 {
			t.Errorf("results: %v", got)
		}
	})
}

func TestNames(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Jobs = 1 // names are given out in the order of judging
		d.put("lantern.png", "1")
		d.once()
		for _, rel := range []string{"lantern.tif", "Lantern.jpg", "order 17/lantern.png", "poster.p2.png", "poster.pdf", "x/ready/y.png"} {
			d.put(rel, rel)
		}
		d.once()
		d.once()
		for _, rel := range []string{"lantern.tif", "order 17/lantern.png", "x/ready/y.png"} {
			d.judged(rel, 1, rel)
		}
		d.report("lantern", "1")
		d.report("lantern.tif", "lantern.tif")
		d.report("Lantern.jpg", "Lantern.jpg")
		d.report("order 17/lantern", "order 17/lantern.png")
		d.report("poster.p2", "poster.p2.png")
		d.report("poster.pdf", "poster.pdf")
		d.report("x/ready/y", "x/ready/y.png")
	})
}

func TestOddNames(t *testing.T) {
	names := []string{"two words.png", "lantern 🏮.png", "line\nbreak.png", "\x1b[31mred.png", strings.Repeat("n", 251) + ".png", "%41.png", "-o.png", "a\\b.png",
		strings.Repeat("é", 125) + "x.png", "no extension", ".png"}
	if runtime.GOOS == "linux" {
		names = append(names, "bytes \xff\xfe.png")
	}
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		for _, name := range names {
			d.put("plain/"+name, name)
		}
		d.once()
		d.once()
		reports := 0
		for _, rel := range d.files("checked") {
			if strings.HasSuffix(rel, ".report.json") {
				reports++
			}
		}
		if reports != len(names)-1 { // .png is hidden
			t.Errorf("%d reports for %d files", reports, len(names)-1)
		}
		d.opt.Sort = true
		d.once()
		for _, name := range names[:len(names)-1] {
			if name == ".png" {
				continue
			}
			d.judged("plain/"+name, 1, name)
			d.holds("ready/plain/"+name, name)
		}
		d.put("plain/"+names[4], "another")
		d.once()
		d.holds("ready/plain/"+names[4], names[4])
		d.holds("ready/plain/"+names[4][:249]+"-2.png", "another")
	})
}

func TestWhatIsPassedOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		for _, rel := range []string{".hidden.png", ".hidden/a.png", "ready/a.png", "review/x/a.png", "hold/a.png", "checked/a.png", "peelcheck.yaml", "Thumbs.db", "a.png.part"} {
			d.put(rel, rel)
		}
		if err := os.Symlink("ready", d.path("linked")); err != nil {
			t.Fatal(err)
		}
		d.once()
		if len(d.visits) != 0 || len(d.notes) != 2 {
			t.Errorf("judged %v, told %v", d.visits, d.notes)
		}
		d.opt.Out = filepath.Join(t.TempDir(), "out")
		if err := os.Mkdir(d.opt.Out, 0o777); err != nil {
			t.Fatal(err)
		}
		d.once()
		if len(d.visits) != 0 || len(d.notes) != 4 {
			t.Errorf("with results elsewhere: judged %v, told %v", d.visits, d.notes)
		}
	})
}

func TestStrayFileIsToldOnceAStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Sort = true
		stop := d.start()
		if err := os.WriteFile(d.path("notes.txt"), []byte("call the customer"), 0o666); err != nil {
			t.Fatal(err)
		}
		d.put("broken.png", "broken")
		time.Sleep(time.Hour)
		d.wantTold(Refused, "notes.txt", 1)
		d.wantTold(Refused, "broken.png", 1)
		stop()
		defer d.start()()
		time.Sleep(time.Hour)
		d.wantTold(Refused, "notes.txt", 2)
		d.wantTold(Refused, "broken.png", 2)
		if n := d.told(Refused, "still not judged: "); n != 2 {
			t.Errorf("%d files told again of 2: %v", n, d.notes)
		}
		d.judged("broken.png", 1, "broken")
		d.holds("broken.png", "broken")
	})
}

// What cannot be judged under other settings either is told as known, but for what is wrong with it now.
func TestStillNotJudgedUnderOtherSettings(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.put("broken.png", "broken")
		d.once()
		d.opt.Job = "other settings"
		d.once()
		d.judged("broken.png", 2, "broken")
		d.wantTold(Refused, "", 2)
		d.wantTold(Refused, "still not judged: ", 1)
		d.put("broken.png", "broken once more")
		d.opt.Job = "job"
		d.once()
		d.wantTold(Refused, "", 3)
		d.wantTold(Refused, "still not judged: ", 1)
	})
}

// A print file of our own is told once, also over starts, stays where it is, and takes away what was written of the artwork before it.
func TestPrintFileIsPassedOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.put("a.print.pdf", "hold")
		d.once()
		d.report("a.print", "hold")
		d.opt.Sort = true
		d.put("a.print.pdf", "the printer's")
		for range 3 {
			d.once()
		}
		d.wantTold(Skipped, "a.print.pdf", 1)
		d.wantTold(Refused, "", 0)
		d.holds("a.print.pdf", "the printer's")
		if left := d.files("checked"); len(left) > 0 {
			t.Errorf("left of the artwork: %v", left)
		}
		d.put("a.print.pdf", "hold again")
		d.once()
		d.holds("hold/a.print.pdf", "hold again")
	})
}

func TestFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.full = true
		stop := d.start()
		for i := range 100 {
			d.put(fmt.Sprintf("%d.png", i), fmt.Sprint(i))
		}
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		d.wantTold(Trouble, "the disk is full", 1)
		d.mu.Lock()
		if n := len(d.visits); n == 0 || n > 25 {
			t.Errorf("%d files were judged for nothing in ten minutes", n)
		}
		d.full = false
		d.mu.Unlock()
		time.Sleep(20 * time.Minute)
		synctest.Wait()
		d.wantTold(Resumed, "results can be written again", 1)
		d.wantTold(Judged, "", 100)
		stop()
		for i := range 100 {
			d.report(fmt.Sprint(i), fmt.Sprint(i))
		}
	})
}

// TestOneFileInTheWay has one file whose results cannot be written: the others are not kept waiting, and it is told once.
func TestOneFileInTheWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		defer d.start()()
		d.put("checked/sub", "a file where a folder is needed")
		d.put("sub/a.png", "a")
		for i := range 20 {
			d.put(fmt.Sprintf("%d.png", i), fmt.Sprint(i))
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		d.wantTold(Judged, "", 20)
		d.wantTold(Trouble, "results cannot be written here", 1)
		if n := d.told(Resumed, ""); n > 1 {
			t.Errorf("told %d times that results can be written again", n)
		}
		if err := os.Remove(d.path("checked/sub")); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		d.report("sub/a", "a")
	})
}

func TestManyAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const n = 5000
		d := newDesk(t)
		d.opt.Outputs.NoProof = true
		defer d.start()()
		for i := range n {
			d.put(fmt.Sprintf("%d/%d.png", i%7, i), fmt.Sprint(i))
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		for i := range n {
			d.judged(fmt.Sprintf("%d/%d.png", i%7, i), 1, fmt.Sprint(i))
		}
		if got := len(d.files("checked")); got != n {
			t.Errorf("%d results of %d files", got, n)
		}
	})
}

func TestTwoWatchersOfOneFolder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		defer d.start()()
		synctest.Wait()
		err := Run(t.Context(), d.opt)
		if err == nil || !strings.Contains(err.Error(), "another peelcheck") {
			t.Errorf("the second ended with %v", err)
		}
	})
}

func TestResultsAmongTheArtwork(t *testing.T) {
	d := newDesk(t)
	for _, out := range []string{d.opt.Dir, filepath.Dir(d.opt.Dir)} {
		d.opt.Out = out
		if err := Run(t.Context(), d.opt); err == nil || !strings.Contains(err.Error(), "results would lie among the artwork") {
			t.Errorf("--out %s: %v", out, err)
		}
	}
}

// TestEvents does without looking regularly: only the system can tell of the files.
func TestEvents(t *testing.T) {
	d := newDesk(t)
	d.opt.Poll, d.opt.Settle, d.opt.rescan = false, time.Millisecond, 24*time.Hour
	stop := d.start()
	d.waitFor("the start", func() bool { return d.told(Started, "") == 1 })
	d.put("a.png", "a")
	d.waitFor("a file", func() bool { return d.told(Judged, "a.png") == 1 })
	d.put("order 17/inner/b.png", "b")
	d.waitFor("a file in a new folder", func() bool { return d.told(Judged, "b.png") == 1 })
	d.put("order 17/inner/c.png", "c")
	d.waitFor("another there", func() bool { return d.told(Judged, "c.png") == 1 })
	if err := os.RemoveAll(d.path("order 17")); err != nil {
		t.Fatal(err)
	}
	d.put("order 17/inner/d.png", "d")
	d.waitFor("a file in a folder made again", func() bool { return d.told(Judged, "d.png") == 1 })
	if err := os.Rename(d.path("order 17"), d.path("order 18")); err != nil {
		t.Fatal(err)
	}
	d.waitFor("a folder renamed", func() bool { return d.told(Judged, filepath.Join("order 18", "inner", "d.png")) == 1 })
	d.put("order 18/inner/e.png", "e")
	d.waitFor("a file there", func() bool { return d.told(Judged, "e.png") == 1 })
	stop()
	if len(d.files("checked")) != 10 { // none under the folder's former name
		t.Errorf("results: %v", d.files("checked"))
	}
}

// waitFor waits for a condition, for as long as a busy machine may take.
func (d *desk) waitFor(what string, ok func() bool) {
	d.t.Helper()
	for end := time.Now().Add(2 * time.Minute); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			d.t.Fatalf("waited in vain for %s; told: %v", what, d.notes)
		}
	}
}
