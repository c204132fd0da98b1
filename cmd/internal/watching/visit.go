package watching

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/reportfiles"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/raster"
)

// end is how a visit ended.
type end int

const (
	settled  end = iota // nothing more to do until the file changes
	changed             // while it was read
	vanished            // before it was judged
	troubled            // to be tried again
)

type result struct {
	rel     string
	end     end
	seen    signature // of the file as visited
	note    Note      // to be told, if it has a kind
	wrote   bool      // results were written
	unsaved bool      // the trouble is that results cannot be written
}

// visit judges one file, unless that has been done, and moves it if that is asked for. A fault in the program stays with the file.
func (w *watcher) visit(rel string) (r result) {
	v := visit{watcher: w, path: filepath.Join(w.Dir, rel), result: result{rel: rel}}
	v.note.Path = rel
	defer func() {
		if fault := recover(); fault != nil {
			r = v.refuse(problem.New(v.path, fmt.Sprintf("internal error: %v", fault), "please report it together with the file"))
		}
	}()
	info, err := os.Stat(v.path)
	if err != nil {
		return v.failed(err)
	}
	v.seen = signatureOf(info)
	if w.sorted(rel) {
		return v.takeBack(w.book.sortedAt(rel))
	}
	if err := v.makeFolder(v.Out); err != nil {
		return v.noPlace(err)
	}
	rec, known := w.book.find(rel)
	v.before = rec
	if known {
		if known, err = v.judgedBefore(&rec); err != nil {
			return v.failed(err)
		}
	}
	if known && rec.Refused {
		return v.refusedBefore(&rec)
	}
	v.note.Before = known
	if !known {
		if ok := v.judge(&rec); !ok {
			return v.result
		}
	}
	return v.settle(&rec)
}

// visit is one visit on its way.
type visit struct {
	*watcher
	result
	path   string
	before record // of the file as it was found
}

// judgedBefore reports whether the record is about the file as it is now: by length and time of change, else by content.
func (v *visit) judgedBefore(rec *record) (bool, error) {
	if rec.SHA256 == "" && !rec.Refused || rec.Refused && len(rec.Why) == 0 || rec.Job != v.Job || !rec.Refused && !v.book.complete(rec) {
		return false, nil
	}
	if rec.signature() == v.seen {
		return true, nil
	}
	if rec.Refused {
		return false, nil
	}
	sum, err := hashFile(v.path)
	if err != nil || sum != rec.SHA256 {
		return false, err
	}
	rec.see(v.seen)
	return true, v.book.put(*rec)
}

// judge has the file judged and puts it on record. ok is false if that is the end of the visit.
func (v *visit) judge(rec *record) (ok bool) {
	_, err := artfile.Kind(v.path)
	switch {
	case errors.Is(err, artfile.ErrOwnPicture):
		return false
	case err != nil:
		v.failed(err)
		return false
	}
	claim, err := v.book.claim(v.rel, v.free, v.ours)
	to := claim.target(v.Out)
	if err == nil {
		err = v.makeFolder(filepath.Dir(string(to)))
	}
	if err != nil {
		v.noPlace(err)
		return false
	}
	o := v.Judge(context.Background(), v.path, to)
	if info, err := os.Stat(v.path); err != nil || signatureOf(info) != v.seen {
		v.end = changed // a file that is gone is forgotten by the next look, and its results removed
		return false
	}
	switch {
	case o.Prepared:
		v.passOver()
		return false
	case len(o.Reports) > o.Written:
		v.unwritten(o.Problems...)
		return false
	case len(o.Reports) == 0:
		v.refuse(o.Problems...)
		return false
	}
	*rec = claim
	rec.sumUp(&o, v.Job)
	rec.see(v.seen)
	if err := v.book.settle(*rec, claim.Pages); err != nil {
		v.noPlace(err)
		return false
	}
	v.wrote = true
	v.note.Problems = o.Problems
	return true
}

// settle moves judged artwork, if that is asked for, and says what is to be told.
func (v *visit) settle(rec *record) result {
	pages := rec.pages()
	v.note.Verdict, v.note.Counts, v.note.Reasons = rec.Verdict, rec.Counts, rec.Reasons
	v.note.Pages, v.note.Last, v.note.Because = len(pages), pages[len(pages)-1], rec.Because
	v.note.Page, v.note.Of = slices.Concat(rec.Because, pages)[0], rec.Pages
	tells := rec.target(v.Out).Page(v.note.Page, v.note.Of)
	if v.note.Report = tells.Report(); !v.Outputs.NoProof {
		v.note.Proof = tells.Proof()
	}
	link, err := isLink(v.path)
	if err != nil {
		return v.failed(err)
	}
	if v.Sort && !link { // a link may lead nowhere from another folder
		if err := v.move(rec); err != nil {
			return v.moveFailed(err)
		}
		v.note.MovedTo = filepath.FromSlash(rec.To)
	}
	if !v.note.Before || v.note.MovedTo != "" {
		v.note.Kind = Judged
	}
	return v.result
}

// free reports whether nothing of that name is seen where the artwork may be moved, whatever the verdict will be. What keeps it from being
// seen shows when it is moved.
func (v *visit) free(as string) bool {
	if !v.Sort {
		return true
	}
	for _, verdict := range verdicts {
		if _, err := os.Lstat(filepath.Join(v.sortFolder(verdict), as)); err == nil {
			return false
		}
	}
	return true
}

// ours reports whether a report is of the file as it is now, by name and content.
func (v *visit) ours(report string) bool {
	art, err := reportfiles.ArtworkOf(report)
	if err != nil || path.Base(art.File) != inJSON(filepath.Base(v.rel)) {
		return false
	}
	sum, err := hashFile(v.path)
	return err == nil && sum == art.SHA256
}

// inJSON is a name as JSON can hold it: U+FFFD for each byte that is not UTF-8.
func inJSON(name string) string { return string([]rune(name)) }

// makeFolder makes a folder for results or artwork, but never the one watched: it may have been taken away.
func (v *visit) makeFolder(path string) error {
	if _, err := os.Stat(v.Dir); err != nil {
		return err
	}
	return os.MkdirAll(path, 0o755)
}

// failed is the end of a visit on which the file could not be read.
func (v *visit) failed(err error) result {
	var fault *raster.Fault
	switch {
	case errors.Is(err, fs.ErrNotExist):
		v.end = vanished
		return v.result
	case errors.As(err, &fault):
		return v.refuse(problem.About(v.path, err))
	}
	v.end = troubled
	v.note.Kind, v.note.Problems = Trouble, []error{problem.About(v.path, err)}
	return v.result
}

// refuse is the end of a visit to a file that cannot be judged; it is not tried again until it changes.
func (v *visit) refuse(problems ...error) result {
	if filepath.Base(v.rel) == setup.DefaultConfig {
		problems = []error{problem.New(v.path, "settings of a folder within the one watched are not read", "put them into "+filepath.Join(v.Dir, setup.DefaultConfig)+", or watch that folder by itself")}
	}
	rec := v.book.refused(v.rel)
	for _, err := range problems {
		p := problem.About(v.path, err)
		rec.Why = append(rec.Why, why{p.Reason, p.Remedy})
	}
	v.note.Kind, v.note.Problems = Refused, problems
	still := v.before.Refused && v.before.signature() == v.seen && slices.Equal(v.before.Why, rec.Why)
	if v.keep(rec); v.unsaved || !still {
		return v.result
	}
	return v.refusedBefore(&rec) // it was tried again because the settings have changed
}

// passOver is the end of a visit to a print file of our own.
func (v *visit) passOver() result {
	rec := v.book.refused(v.rel)
	rec.Prepared, rec.Why = true, []why{{Reason: "a print file that peelcheck prepared"}}
	v.note.Kind = Skipped
	return v.keep(rec)
}

// keep puts a file without results on record as it is now.
func (v *visit) keep(rec record) result {
	rec.Job = v.Job
	rec.see(v.seen)
	if err := v.book.put(rec); err != nil {
		return v.noPlace(err)
	}
	return v.result
}

// refusedBefore tells again of a file that still cannot be judged.
func (v *visit) refusedBefore(rec *record) result {
	if rec.Prepared {
		return v.result
	}
	v.note.Kind, v.note.Before = Refused, true
	for _, w := range rec.Why {
		v.note.Problems = append(v.note.Problems, problem.New(v.path, "still not judged: "+w.Reason, w.Remedy))
	}
	return v.result
}

// noPlace is the end of a visit on which nothing could be written in the folder for results.
func (v *visit) noPlace(err error) result {
	if _, gone := os.Stat(v.Dir); gone != nil {
		v.end = vanished
		return v.result
	}
	return v.unwritten(problem.About(v.Out, err).Unwritable("results cannot be written here"))
}

func (v *visit) unwritten(problems ...error) result {
	v.end, v.unsaved = troubled, true
	v.note.Kind, v.note.Problems = Trouble, problems
	return v.result
}

func (v *visit) moveFailed(err error) result {
	if errors.Is(err, errChanged) {
		v.end = changed
		return v.result
	}
	v.end = troubled
	if v.note.Kind = Judged; v.note.Before {
		v.note.Kind = Trouble
	}
	v.note.Problems = append(v.note.Problems, problem.New(v.path, "judged, but it cannot be moved: "+problem.About(v.path, err).Reason, "it stays where it is until it can be"))
	return v.result
}

func isLink(path string) (bool, error) {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().Type() == fs.ModeSymlink, err
}

func hashFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// sumUp puts what became of a file on record. A file some of whose pages could not be judged is on hold.
func (r *record) sumUp(o *judging.Outcome, job string) {
	r.Job, r.Pages, r.Reasons = job, o.Pages, preflight.Reasons(o.Reports...)
	r.Verdict = preflight.Ready
	if len(o.Problems) > 0 {
		r.Verdict = preflight.Hold
	}
	for _, rep := range o.Reports {
		r.SHA256 = rep.Artwork.SHA256
		if len(o.Reports) < o.Pages {
			r.Only = append(r.Only, rep.Artwork.Page)
		}
		r.Counts.Error += rep.Counts.Error
		r.Counts.Warning += rep.Counts.Warning
		r.Counts.Note += rep.Counts.Note
		if r.Verdict != preflight.Hold && rep.Verdict != preflight.Ready {
			r.Verdict = rep.Verdict
		}
	}
	r.Because = because(o.Reports, r.Verdict)
}

// because returns the pages that have the document's verdict, none if all have.
func because(pages []*preflight.Report, verdict preflight.Verdict) (numbers []int) {
	for _, rep := range pages {
		if rep.Verdict == verdict {
			numbers = append(numbers, rep.Artwork.Page)
		}
	}
	if len(numbers) == len(pages) {
		return nil
	}
	return numbers
}
