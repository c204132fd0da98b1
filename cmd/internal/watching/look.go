package watching

import (
	"context"
	"errors"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
)

// signature tells whether a file has changed. No inode is in it: network shares give out new ones for the same file.
type signature struct {
	size, modified int64 // bytes; nanoseconds since 1970
	mode           fs.FileMode
}

func signatureOf(info fs.FileInfo) signature {
	return signature{info.Size(), info.ModTime().UnixNano(), info.Mode()}
}

// file is one file in the folder.
type file struct {
	seen  signature
	state state
	due   time.Time // settling: when it counts as at rest; done: when it is tried again, zero for never
	round int       // of the look that last found it
	tries int
	told  string // the trouble that was told
}

type state int

const (
	settling state = iota
	queued
	visited
	done
)

// look goes through the folder once.
func (w *watcher) look(ctx context.Context) error {
	started := time.Now()
	w.round++
	w.awake, w.soonest = false, time.Time{}
	defer func() {
		w.lastLook = time.Now()
		w.lookTook = w.lastLook.Sub(started)
	}()
	if w.missing() {
		w.forget(func(*file) bool { return true })
		return nil
	}
	renewed, err := w.book.refresh()
	if err != nil {
		return err
	}
	if renewed {
		w.forget(func(*file) bool { return true })
	}
	l := looking{watcher: w, ctx: ctx, now: started, reserved: w.reserved()}
	w.events.renew()
	if l.Sort { // first: what comes in may have the name of what was renamed
		for _, v := range verdicts {
			l.sortedFolder(string(v))
		}
		l.tellApart()
	}
	l.folder("")
	if err := w.events.err(); err != nil {
		w.Tell(Note{Kind: Trouble, Problems: []error{problem.New(w.Dir, "the system does not tell of changes here ("+err.Error()+")", "the folder is looked through every few seconds instead")}})
	}
	if ctx.Err() == nil {
		w.forget(func(f *file) bool { return f.round != w.round })
	}
	_ = w.sweep() // else at the next look
	return nil
}

// missing reports whether the folder is gone, and tells when it goes and comes back.
func (w *watcher) missing() bool {
	info, err := os.Stat(w.Dir)
	gone := err != nil || !info.IsDir()
	switch {
	case gone && !w.gone:
		w.Tell(Note{Kind: Trouble, Problems: []error{problem.New(w.Dir, "the folder is gone", "waiting for it to come back")}})
	case !gone && w.gone:
		w.Tell(Note{Kind: Resumed, Problems: []error{problem.New(w.Dir, "the folder is back", "")}})
	}
	w.gone = gone
	return gone
}

// forget drops files that are not in hand.
func (w *watcher) forget(which func(*file) bool) {
	for rel, f := range w.files {
		if f.state != visited && which(f) {
			delete(w.files, rel)
		}
	}
}

// reserved are the folders that hold what has been judged, now or in another call.
func (w *watcher) reserved() []fs.FileInfo {
	var list []fs.FileInfo
	paths := []string{w.Out, filepath.Join(w.Dir, Checked)}
	for _, v := range verdicts {
		paths = append(paths, w.sortFolder(v))
	}
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil {
			list = append(list, info)
		}
	}
	return list
}

// looking is one look through the folder.
type looking struct {
	*watcher
	ctx      context.Context
	now      time.Time
	reserved []fs.FileInfo
	apart    []string // files at rest among the sorted artwork that we did not put there
}

// in lists what lies in a folder below the one watched, by its path from there, until the look ends.
func (l *looking) in(rel string) iter.Seq2[string, fs.DirEntry] {
	return func(yield func(string, fs.DirEntry) bool) {
		path := filepath.Join(l.Dir, rel)
		l.events.follow(path) // first: what comes in while the list is read shows as an event
		list, err := os.ReadDir(path)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			l.unreadable(rel, err)
		}
		for _, d := range list {
			if l.ctx.Err() != nil || !yield(filepath.Join(rel, d.Name()), d) {
				return
			}
		}
	}
}

// folder looks through a folder below the one watched; links to folders are not followed.
func (l *looking) folder(rel string) {
	for below, d := range l.in(rel) {
		info, err := d.Info()
		if err == nil && info.Mode().Type() == fs.ModeSymlink {
			info, err = os.Stat(filepath.Join(l.Dir, below))
		}
		switch {
		case strings.HasPrefix(d.Name(), ".") || err != nil:
		case d.IsDir():
			if !slices.ContainsFunc(l.reserved, func(r fs.FileInfo) bool { return os.SameFile(r, info) }) {
				l.folder(below)
			}
		case info.Mode().IsRegular() && !passedOver(below):
			l.file(below, signatureOf(info))
		}
	}
}

// verdicts are those that judged artwork is sorted by.
var verdicts = []preflight.Verdict{preflight.Ready, preflight.Review, preflight.Hold}

// sorted reports whether a path below the folder watched is of artwork that was sorted.
func (w *watcher) sorted(rel string) bool {
	top, _, below := strings.Cut(filepath.ToSlash(rel), "/")
	return w.Sort && below && slices.Contains(verdicts, preflight.Verdict(top))
}

// sortedFolder looks through a folder of sorted artwork for what was put there by us and may have been changed since, and for what was
// put there by others.
func (l *looking) sortedFolder(rel string) {
	for below, d := range l.in(rel) {
		if d.IsDir() {
			l.sortedFolder(below)
			continue
		}
		info, err := d.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		if _, known := l.book.sortedAt(below); known != nil {
			l.file(below, signatureOf(info))
		} else if !l.book.leads(below) {
			l.stranger(below, signatureOf(info))
		}
	}
}

// stranger waits until a file that we did not put among the sorted artwork is at rest, and keeps it to be told if it is artwork.
func (l *looking) stranger(rel string, seen signature) {
	if l.book.apart(rel) == seen || hidden(rel) || passedOver(rel) {
		return
	}
	f, rests := l.settle(rel, seen)
	if !rests {
		return
	}
	known, later := l.renamed(rel, seen)
	if later {
		f.due = l.now.Add(max(l.Settle, shortest))
		l.wanted(f.due)
		return
	}
	f.state, f.due = done, time.Time{}
	path := filepath.Join(l.Dir, rel)
	if known || ownDocument(rel) || !artfile.InFolder(path) {
		return
	}
	if l.PrintFile(path) {
		_ = l.book.putApart(rel, seen) // else it is opened again at the next start
		return
	}
	l.apart = append(l.apart, rel)
}

// hidden reports whether a file or a folder on the way to it is.
func hidden(rel string) bool { return strings.Contains("/"+filepath.ToSlash(rel), "/.") }

// ownDocument reports whether a file is by its name what was written for artwork beside it.
func ownDocument(rel string) bool {
	var none judging.Target
	return strings.HasSuffix(rel, none.Print()) || strings.HasSuffix(rel, none.ProofPDF())
}

// mostApart is how many files that lie apart are told one by one.
const mostApart = 5

// tellApart tells of the files that lie apart, in one line if they are many, as when the program is first started in a folder long used.
func (l *looking) tellApart() {
	for _, rel := range l.apart {
		_ = l.book.putApart(rel, l.files[rel].seen) // else it is told again at the next start
		if len(l.apart) <= mostApart {
			l.Tell(Note{Kind: Apart, Path: rel, Files: 1})
		}
	}
	if len(l.apart) > mostApart {
		l.Tell(Note{Kind: Apart, Path: l.apart[0], Files: len(l.apart)})
	}
}

// unreadable tells once of a folder that cannot be read; it stands among the files until it can.
func (l *looking) unreadable(rel string, err error) {
	f := l.files[rel]
	if f == nil {
		f = &file{state: done}
		l.files[rel] = f
		l.Tell(Note{Kind: Refused, Path: rel, Problems: []error{problem.About(filepath.Join(l.Dir, rel), err)}})
	}
	f.round = l.round
}

// litter is what systems and programs leave in folders: lists of small pictures, and files still being fetched.
var litter = []string{"thumbs.db", "desktop.ini", ".tmp", ".part", ".partial", ".crdownload", ".download"}

func passedOver(rel string) bool {
	name := strings.ToLower(filepath.Base(rel))
	return rel == setup.DefaultConfig || slices.Contains(litter, name) || slices.Contains(litter, filepath.Ext(name))
}

func (l *looking) file(rel string, seen signature) {
	if f, rests := l.settle(rel, seen); rests {
		f.state, f.due = queued, time.Time{}
		l.queue = append(l.queue, rel)
	}
}

// settle notes how a file looks now and reports whether it has come to rest, once for each way it looks.
func (l *looking) settle(rel string, seen signature) (f *file, rests bool) {
	f = l.files[rel]
	if f == nil {
		f = &file{}
		l.files[rel] = f
	}
	f.round = l.round
	if f.state == visited {
		return f, false // whoever visits it looks for changes
	}
	if f.seen != seen {
		*f = file{seen: seen, due: l.now.Add(l.Settle), round: l.round}
	}
	if !f.due.IsZero() && l.now.Before(f.due) {
		l.wanted(f.due)
		return f, false
	}
	return f, !f.due.IsZero()
}
