package serving

import (
	"cmp"
	"context"
	"sync"

	"peelcheck/preflight"
)

// What is known of the pages of a document. The page that somebody looks at is judged first, the others behind it, for the same job.

// mostPages is how many pages of a document are judged without being asked for.
const mostPages = 50

// document keeps what became of each page of an upload for the job that was asked for last. It is safe for concurrent use.
type document struct {
	mu     sync.Mutex
	asked  wish // the job, and no page
	pages  map[int]outcome
	count  int  // pages in the file; 0 while nobody opened it
	behind bool // other pages are being judged
}

// outcome is what became of one page.
type outcome struct {
	verdict preflight.Verdict // empty where it could not be judged
	counts  preflight.Counts
	trouble string // why it could not
}

// worse compares outcomes, negative where o is the worse: by what it came to, then by the number of errors, then of warnings.
func (o outcome) worse(p outcome) int {
	return cmp.Or(p.rank()-o.rank(), p.counts.Error-o.counts.Error, p.counts.Warning-o.counts.Warning)
}

// rank orders outcomes, the worst highest; what was not judged yet has 0.
func (o outcome) rank() int {
	switch {
	case o.verdict == preflight.Hold:
		return 4
	case o.trouble != "":
		return 3
	case o.verdict == preflight.Review:
		return 2
	case o.verdict == preflight.Ready:
		return 1
	}
	return 0
}

// note keeps what became of a page; pages is how many the file has, 0 where that is not known. Another job than before begins anew.
func (d *document) note(w wish, pages int, o outcome) {
	page := w.Page
	w = w.document()
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.pages == nil || d.asked != w {
		d.asked, d.pages = w, map[int]outcome{}
	}
	if d.count == 0 {
		d.count = pages
	}
	if d.count == 0 || page <= d.count {
		d.pages[page] = o
	}
}

// summary is what is known of a document, or of a file of one page.
type summary struct {
	outcome           // of its worst page so far
	page, pages, done int
	unfinished        bool // pages of it are still to be judged,
	left              int  // so many, unasked
	count             map[string]int
}

func (d *document) summary() summary {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := summary{pages: d.count, done: len(d.pages), count: map[string]int{}}
	for n, o := range d.pages {
		if out.page == 0 || cmp.Or(o.worse(out.outcome), n-out.page) < 0 {
			out.outcome, out.page = o, n
		}
		out.count[o.word()]++
	}
	for n := 1; n <= min(d.count, mostPages); n++ {
		if _, ok := d.pages[n]; !ok {
			out.left++
		}
	}
	out.unfinished = out.done > 0 && out.left > 0
	return out
}

// state is the shape and the word of all of it. Nothing is worse than HOLD, so that is told at once; what is better holds for all pages only
// when all are judged.
func (s summary) state() (shape, word string) {
	switch {
	case s.verdict == preflight.Hold || s.done == s.pages || s.pages == 0:
		return shapeOf(s.outcome), s.word()
	case s.unfinished:
		return "waiting", "STILL BEING JUDGED"
	}
	return "waiting", "NOT ALL JUDGED"
}

// of returns what is known of a page for a job.
func (d *document) of(w wish, page int) outcome {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.asked != w.document() {
		return outcome{}
	}
	return d.pages[page]
}

// next is the first page that is still to be judged, 0 if there is none. d is locked.
func (d *document) next() int {
	for n := 1; n <= min(d.count, mostPages); n++ {
		if _, ok := d.pages[n]; !ok {
			return n
		}
	}
	return 0
}

// begin reports whether the caller is to judge what is left; then it takes pages until there is none.
func (d *document) begin() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.behind || d.next() == 0 {
		return false
	}
	d.behind = true
	return true
}

// take returns the next page to be judged and for which job, false when all are done.
func (d *document) take() (wish, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	w := d.asked
	if w.Page = d.next(); w.Page == 0 {
		d.behind = false
		return w, false
	}
	return w, true
}

// stop gives up what is left.
func (d *document) stop() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.behind = false
}

// judgeRest judges the other pages of a document while nothing else is to be done.
func (s *Server) judgeRest(u *upload) {
	if !u.begin() {
		return
	}
	go func() {
		for {
			w, more := u.take()
			if !more {
				return
			}
			if err := s.judgeBehind(s.ctx, u, w); err != nil || s.store.get(u.id) == nil {
				u.stop()
				return
			}
		}
	}()
}

// judgeBehind judges a page that nobody waits for. Its picture is not kept, or it would push out what is being looked at.
func (s *Server) judgeBehind(ctx context.Context, u *upload, w wish) error {
	leave, err := s.queue.enterLast(ctx)
	if err != nil {
		return err
	}
	defer leave()
	job, err := w.job(s.opt.Asked, s.opt.Shop)
	if err != nil {
		return err
	}
	v, err := s.judge(u, w, job)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		u.note(w, 0, outcome{trouble: plainly(withoutName(err, u.name))})
	default:
		u.note(w, 0, outcome{verdict: v.report.Verdict, counts: v.report.Counts})
	}
	return nil
}
