package serving

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/preparing"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
	"peelcheck/preflight/impose"
	"peelcheck/preflight/prepare"
)

// view is what is known of one artwork, or of the sheet printed from it, for one wish.
type view struct {
	job    preflight.Job
	report *preflight.Report
	look   *preflight.Appearance
	colour *preflight.Appearance
	print  *printed // nil for the artwork itself
}

// printed is a file for the printer.
type printed struct {
	path    string
	lines   []string // how to print it
	mirror  bool     // it holds the artwork mirrored
	news    []*preflight.Report
	verdict preflight.Verdict // of its worst sheet
}

// view returns what a wish is about, judging it first if that was not done or was forgotten. Its errors are a *fieldError, errBusy, or
// say what is wrong with the file.
func (s *Server) view(ctx context.Context, u *upload, w wish) (*view, error) {
	job, err := w.job(s.opt.Asked, s.opt.Shop)
	if err != nil {
		return nil, err
	}
	w = w.judgedAlike()
	key := viewKey(u, w)
	if v := s.views.get(key); v != nil {
		s.noteView(u, w, v)
		return v, nil
	}
	done := s.once.DoChan(key, func() (any, error) { // shared by all who ask meanwhile, so not one of theirs to stop
		leave, err := s.queue.enter(s.ctx)
		if err != nil {
			return nil, err
		}
		defer leave()
		return s.make(key, u, w, job)
	})
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case r := <-done:
		v, _ := r.Val.(*view)
		if r.Err != nil {
			s.noteTrouble(u, w, r.Err)
			return nil, r.Err
		}
		s.noteView(u, w, v)
		return v, nil
	}
}

// viewKey names what is judged alike.
func viewKey(u *upload, w wish) string { return u.id + "?" + w.judgedAlike().query() }

// noteView keeps what a page came to, and has the other pages of its document judged.
func (s *Server) noteView(u *upload, w wish, v *view) {
	if !w.Sheets {
		u.note(w, v.report.Artwork.PageCount, outcome{verdict: v.report.Verdict, counts: v.report.Counts})
		s.judgeRest(u)
	}
}

// noteTrouble keeps why a file cannot be judged, unless it may be due to what was asked for.
func (s *Server) noteTrouble(u *upload, w wish, err error) {
	if w.document() == (wish{}) && !w.Sheets && !errors.Is(err, errBusy) && s.ctx.Err() == nil {
		u.note(w, 0, outcome{trouble: plainly(withoutName(err, u.name))})
	}
}

// make judges or prepares. A fault in the program that a file brings out stays with the file.
func (s *Server) make(key string, u *upload, w wish, job preflight.Job) (v *view, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			v, err = nil, problem.New(u.name, fmt.Sprintf("internal error: %v", fault), "please report it together with the file")
		}
	}()
	if w.Sheets {
		v, err = s.prepare(key, u, w, job)
	} else {
		v, err = s.judge(u, w, job)
	}
	if err != nil {
		return nil, err
	}
	v.job, v.colour = job, v.look.InColour()
	if s.store.get(u.id) != nil {
		s.views.put(key, v)
	}
	return v, nil
}

func (s *Server) judge(u *upload, w wish, job preflight.Job) (*view, error) {
	seen, err := s.bench.Look(s.ctx, u.path(), u.name, w.Page, &job)
	var size *preflight.SizeError
	switch {
	case errors.As(err, &size):
		return nil, &fieldError{"width", fmt.Sprintf("at this width the picture has %s, which no printer uses: check the printed width", size.Resolution())}
	case err != nil:
		return nil, err
	}
	return &view{report: seen.Report, look: seen.Look}, nil
}

// prepare writes the print file and keeps what its first sheet looks like.
func (s *Server) prepare(key string, u *upload, w wish, job preflight.Job) (*view, error) {
	sum := sha256.Sum256([]byte(key))
	to := judging.Target(filepath.Join(u.dir, "print-"+hex.EncodeToString(sum[:8])))
	v := &view{}
	call := preparing.Call{
		Bench: judging.New(s.opt.Judging), // of its own, since a call protects its input
		Job:   job, Names: []string{u.path()}, As: []string{u.name}, Page: w.Page, Copies: 1,
		Layout: prepare.Options{Turn: impose.TurnEach, SpacingMM: 2 * job.Limits["clearance"].Value, Thicken: w.Thicken, KnockOut: w.KnockOut},
		Force:  true, To: to, OnStep: func(string) {}, OnNote: func(error) {},
		OnSheet: func(rep *preflight.Report, scene *preflight.Scene) {
			if v.report == nil {
				v.report, v.look = rep, scene.Appearance()
			}
		},
	}
	if w.Fill {
		call.Copies = 0
	}
	done, err := call.Run(s.ctx)
	if err != nil {
		os.Remove(done.Print)
		return nil, err
	}
	if v.report == nil {
		return nil, errors.New("no sheet was made")
	}
	v.print = &printed{path: done.Print, lines: done.Made.Lines(), mirror: done.Made.File.Mirror, news: done.News(), verdict: preflight.Ready}
	for _, rep := range done.Sheets {
		if rep.Verdict == preflight.Hold || v.print.verdict == preflight.Ready {
			v.print.verdict = rep.Verdict
		}
	}
	return v, nil
}

// views holds what was judged last, within a bound. It is safe for concurrent use.
type views struct {
	most int64
	mu   sync.Mutex
	held []heldView // used longest ago first
}

type heldView struct {
	key string
	*view
}

// bytes is about what a view holds in memory: four bytes a pixel, and some hundred a finding.
func (v *view) bytes() int64 {
	size := v.look.Size()
	return 4*int64(size.X)*int64(size.Y) + 500*int64(len(v.report.Findings))
}

func (c *views) get(key string) *view {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := slices.IndexFunc(c.held, func(h heldView) bool { return h.key == key })
	if i < 0 {
		return nil
	}
	h := c.held[i]
	c.held = append(slices.Delete(c.held, i, i+1), h)
	return h.view
}

// put keeps a view, and forgets older ones until all fit; the newest stays however large it is.
func (c *views) put(key string, v *view) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.held = append(c.held, heldView{key, v})
	var total int64
	for _, h := range c.held {
		total += h.bytes()
	}
	n := 0
	for ; n < len(c.held)-1 && total > c.most; n++ {
		total -= c.held[n].bytes()
		if old := c.held[n].print; old != nil {
			os.Remove(old.path)
		}
	}
	c.held = slices.Delete(c.held, 0, n)
}

// forget lets all views of an upload go.
func (c *views) forget(id string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.held = slices.DeleteFunc(c.held, func(h heldView) bool { return strings.HasPrefix(h.key, id) })
}
