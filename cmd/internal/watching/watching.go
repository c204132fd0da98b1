// Package watching judges whatever is put into a folder, each file once. Start at Run.
//
// The folder is looked through again and again; events of the system only say when to look. So nothing is missed where there are no
// events, and there is one way a file is found. One goroutine looks and decides; workers visit the files.
package watching

import (
	"cmp"
	"context"
	"os"
	"path/filepath"
	"strings"
	"time"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// Checked is the folder in the one watched that is for reports and proofs, if no other is.
const Checked = "checked"

// Options say what is watched and what is done with each file.
type Options struct {
	Dir, Out string        // the folder watched, and the one for reports and proofs
	Sort     bool          // move judged artwork into folders of Dir named after the verdicts, and judge it again when it is changed there
	Poll     bool          // do without events of the system
	Once     bool          // end when all that is there has been judged
	Settle   time.Duration // how long a file must stay as it is before it is judged
	Jobs     int           // files judged at once
	Job      string        // tells jobs apart: a file judged for another is judged again
	Outputs  judging.Outputs
	// Judge judges one file and writes its report and proof. It is called from several goroutines and never stopped half-way.
	Judge func(ctx context.Context, path string, to judging.Target) judging.Outcome
	// PrintFile reports whether a file is a print file of our own. It is called from one goroutine, and waited for.
	PrintFile func(path string) bool
	// Tell is told what happens, from one goroutine.
	Tell func(Note)

	rescan time.Duration // how often to look though no event came; 0 for rescanEvery
}

// Kind is what a note is about.
type Kind string

// The kinds of notes.
const (
	Started Kind = "watching"
	Judged  Kind = "judged"  // a file was judged, or moved after it had been judged before
	Refused Kind = "refused" // a file cannot be judged
	Skipped Kind = "skipped" // a print file of our own, which is no artwork; told once
	Apart   Kind = "apart"   // files put among the sorted artwork, which are not looked at; told once
	Renamed Kind = "renamed" // sorted artwork lies under another name, and keeps what was found
	Changed Kind = "changed" // sorted artwork is no longer what was judged, and was taken back to be judged again
	Trouble Kind = "trouble" // something is in the way and will be tried again
	Resumed Kind = "resumed" // what was in the way is gone
	Stopped Kind = "stopped"
)

// Note is something that happened.
type Note struct {
	Kind     Kind
	Path     string // of the file, or the first of several, below the folder watched
	Files    int    // that lie apart
	Verdict  preflight.Verdict
	Counts   preflight.Counts
	Reasons  []preflight.Reason // what counts against printing it
	Report   string             // path of the report of the first page that the verdict comes from
	Proof    string             // path of that page's proof; empty if there is none
	Page     int                // of that report, from 1
	Of       int                // the pages of the document
	Pages    int                // judged
	Last     int                // the last of them
	Because  []int              // the pages that the verdict comes from; none if all pages share it
	MovedTo  string             // below the folder watched; empty if the file was not moved
	Before   bool               // the file had been judged, or refused, before
	Problems []error            // each a *problem.Problem
}

// How often the folder is looked through: where events tell of changes, without them, while it is gone; and the shortest pause between
// two looks, in time and as a multiple of the last look's.
const (
	rescanEvery = 30 * time.Second
	pollEvery   = 2 * time.Second
	goneEvery   = time.Second
	shortest    = 200 * time.Millisecond
	pausePerRun = 4
)

// How long a file that met trouble waits, and how long all others wait when results cannot be written: doubled each time.
const (
	firstRetry, lastRetry = 5 * time.Second, 5 * time.Minute
	firstHold, lastHold   = 2 * time.Second, time.Minute
)

type watcher struct {
	Options
	book     *book
	events   *events
	files    map[string]*file
	refused  map[string]signature // told since the start
	queue    []string
	running  int
	round    int
	gone     bool
	told     string    // the trouble with saving that was told last
	holds    int       // failures to save without a success between
	heldTill time.Time // no file is begun before
	lastLook time.Time // when the last look ended
	lookTook time.Duration
	soonest  time.Time // when a file wants to be looked at; zero for never
	awake    bool      // an event came since the last look
}

// Run watches until ctx is done and the files in hand are finished, or with Once until all files have been judged. An error means that
// it could not begin, or cannot go on.
func Run(ctx context.Context, opt Options) error {
	w := &watcher{Options: opt, files: map[string]*file{}, refused: map[string]signature{}}
	if err := w.checkFolders(); err != nil {
		return err
	}
	var err error
	if w.book, err = openBook(w.Dir, w.Out, w.Outputs); err != nil {
		return err
	}
	defer w.book.close()
	if !w.Poll && !w.Once {
		w.events = listen()
		defer w.events.close()
	}
	clearLeftovers(w.Out, w.sortFolder(preflight.Ready), w.sortFolder(preflight.Review), w.sortFolder(preflight.Hold))
	w.Tell(Note{Kind: Started})
	defer func() { w.Tell(Note{Kind: Stopped}) }()
	return w.loop(ctx)
}

// checkFolders refuses results that would lie among the artwork.
func (w *watcher) checkFolders() error {
	info, err := os.Stat(w.Dir)
	if err != nil {
		return problem.About(w.Dir, err)
	}
	if !info.IsDir() {
		return problem.New(w.Dir, "this is a file, and a folder is watched", "name the folder it lies in")
	}
	dir, err := realPath(w.Dir)
	if err != nil {
		return problem.About(w.Dir, err)
	}
	out, err := realPath(w.Out)
	if err != nil {
		return problem.About(w.Out, err)
	}
	if rel, err := filepath.Rel(out, dir); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return problem.New(w.Out, "results would lie among the artwork that is watched", "name another folder with --out")
	}
	return nil
}

func realPath(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(abs)
}

func (w *watcher) loop(ctx context.Context) error {
	work, results := make(chan string), make(chan result, w.Jobs)
	for range w.Jobs {
		go func() {
			for rel := range work {
				results <- w.visit(rel)
			}
		}()
	}
	defer close(work)
	timer := time.NewTimer(0)
	defer timer.Stop()
	for ctx.Err() == nil {
		var begin chan string
		next, ok := w.next()
		if ok {
			begin = work
		}
		select {
		case <-ctx.Done():
		case begin <- next:
			w.begin(next)
		case r := <-results:
			w.take(r)
			timer.Reset(w.pause())
		case <-w.events.wake():
			w.awake = true
			timer.Reset(w.pause())
		case <-timer.C:
			if err := w.look(ctx); err != nil {
				w.finish(results)
				return err
			}
			timer.Reset(w.pause())
		}
		if w.Once && w.round > 0 && w.idle() {
			break
		}
	}
	w.finish(results)
	return nil
}

// finish waits for the files in hand.
func (w *watcher) finish(results <-chan result) {
	for w.running > 0 {
		w.take(<-results)
	}
	_ = w.sweep() // else at the next start
}

// sweep removes results that are no longer needed.
func (w *watcher) sweep() error {
	return w.book.sweep(func(rel string) bool {
		f := w.files[rel]
		return f != nil && f.state == visited
	})
}

// next is the file to be visited next.
func (w *watcher) next() (rel string, ok bool) {
	if time.Now().Before(w.heldTill) {
		return "", false
	}
	for ; len(w.queue) > 0; w.queue = w.queue[1:] {
		if f := w.files[w.queue[0]]; f != nil && f.state == queued {
			return w.queue[0], true
		}
	}
	w.queue = nil
	return "", false
}

func (w *watcher) begin(rel string) {
	w.queue = w.queue[1:]
	w.files[rel].state = visited
	w.running++
}

// pause is how long to wait until the next look.
func (w *watcher) pause() time.Duration {
	every := cmp.Or(w.rescan, rescanEvery)
	switch {
	case w.round == 0:
		return 0
	case w.gone:
		every = goneEvery
	case !w.events.work():
		every = pollEvery
	}
	at := w.lastLook.Add(every)
	for _, t := range []time.Time{w.soonest, w.heldTill} {
		if !t.IsZero() && t.Before(at) && (t != w.heldTill || len(w.queue) > 0 && t.After(w.lastLook)) {
			at = t
		}
	}
	if w.awake {
		at = w.lastLook
	}
	if first := w.lastLook.Add(max(shortest, pausePerRun*w.lookTook)); at.Before(first) {
		at = first
	}
	return time.Until(at)
}

// idle reports whether nothing is left to be done.
func (w *watcher) idle() bool {
	if w.running > 0 || w.awake {
		return false
	}
	for _, f := range w.files {
		if f.state != done {
			return false
		}
	}
	return true
}

// take notes what became of a file.
func (w *watcher) take(r result) {
	w.running--
	f := w.files[r.rel]
	f.state, f.seen, f.due = done, r.seen, time.Time{}
	if r.wrote {
		w.saved()
	}
	switch r.end {
	case changed:
		f.seen, w.awake = signature{}, true // the next look finds it new
		return
	case vanished:
		delete(w.files, r.rel)
		return
	case troubled:
		w.trouble(f, r)
		return
	}
	f.tries, f.told = 0, ""
	if r.note.MovedTo != "" {
		delete(w.files, r.rel)
	}
	if r.note.Kind == Changed {
		w.awake = true // it is there to be judged
	}
	if r.note.Kind == Refused {
		if r.note.Before && w.refused[r.rel] == r.seen {
			return
		}
		w.refused[r.rel] = r.seen
	}
	if r.note.Kind != "" {
		w.Tell(r.note)
	}
}

// trouble sees to it that a file is tried again, and tells each trouble once.
func (w *watcher) trouble(f *file, r result) {
	now := time.Now()
	if !w.Once {
		f.due = now.Add(doubled(firstRetry, lastRetry, f.tries))
		w.wanted(f.due)
		f.tries++
	}
	text := r.note.Problems[0].Error()
	quiet := f.told == text
	f.told = text
	if r.unsaved {
		if !w.Once {
			w.heldTill = now.Add(doubled(firstHold, lastHold, w.holds))
			w.holds++
		}
		quiet = quiet || w.told == text
		if !quiet {
			w.told = text
		}
	}
	if !quiet || w.Once {
		w.Tell(r.note)
	}
}

func doubled(first, last time.Duration, times int) time.Duration {
	return min(last, first<<min(times, 10))
}

// saved notes that results can be written.
func (w *watcher) saved() {
	if w.told != "" {
		w.Tell(Note{Kind: Resumed, Problems: []error{problem.New(w.Out, "results can be written again", "")}})
	}
	w.told, w.holds, w.heldTill = "", 0, time.Time{}
}

// wanted makes sure that the folder is looked through at t.
func (w *watcher) wanted(t time.Time) {
	if w.soonest.IsZero() || t.Before(w.soonest) {
		w.soonest = t
	}
}

func (w *watcher) sortFolder(v preflight.Verdict) string { return filepath.Join(w.Dir, string(v)) }
