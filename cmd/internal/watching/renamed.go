package watching

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/reportfiles"
)

// Sorted artwork that somebody renames, or moves to another verdict's folder, is known by its content. It goes on as if it had come under
// its new name: its results are renamed too, never over others, and an artwork that comes in under the old name takes nothing away.
// Where results cannot be renamed, they keep their names and stay with the artwork for as long as it lies there.

// renamed reports whether a file at rest among the sorted artwork is one of ours under a new name, and follows it there. later means that
// somebody is busy with its records.
func (l *looking) renamed(rel string, seen signature) (known, later bool) {
	if !l.book.strayed(seen.size) {
		return false, false
	}
	sum, err := hashFile(filepath.Join(l.Dir, rel))
	if err != nil {
		return false, false
	}
	r, from, later := l.book.rename(rel, sum, func(rel string) bool {
		f := l.files[rel]
		return f != nil && f.state == visited
	})
	if from == "" {
		return false, later
	}
	note := Note{Kind: Renamed, Path: filepath.FromSlash(from), MovedTo: rel, Verdict: r.Verdict}
	pages := r.pages()
	page := r.target(l.Out).Page(slices.Concat(r.Because, pages)[0], r.Pages)
	if note.Report = page.Report(); !l.Outputs.NoProof {
		note.Proof = page.Proof()
	}
	l.Tell(note)
	return true, false
}

// strayed reports whether artwork of a length no longer lies where it was sorted.
func (b *book) strayed(size int64) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	_, _, ok := b.stray(func(e earlier) bool { return e.Size == size })
	return ok
}

// stray finds artwork that no longer lies where it was sorted, and the record that has it.
func (b *book) stray(which func(earlier) bool) (key string, found earlier, ok bool) {
	for k, r := range b.records {
		if !strings.HasPrefix(k, b.prefix) || r.To != "" && !r.Moved {
			continue
		}
		for _, e := range r.aside() {
			// The least of several, whatever the order of the map.
			if e.To != "" && e.SHA256 != "" && which(e) && (!ok || e.To < found.To) && b.gone(e.To) {
				key, found, ok = k, e, true
			}
		}
	}
	return key, found, ok
}

// rename notes that sorted artwork of a content now lies at a path below the folder watched. It returns its record and where it lay
// before, empty if there is none.
func (b *book) rename(rel, sum string, busy func(rel string) bool) (now record, from string, later bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	owner, e, ok := b.stray(func(e earlier) bool { return e.SHA256 == sum })
	if !ok {
		return record{}, "", false
	}
	to := filepath.ToSlash(rel)
	_, as, _ := strings.Cut(to, "/")
	if busy(filepath.FromSlash(b.rel(owner))) || busy(filepath.FromSlash(as)) {
		return record{}, "", true
	}
	now, err := b.renameWhole(owner, e, as, to)
	if err != nil {
		now, err = b.renameInPlace(owner, e, to)
	}
	if err != nil {
		return record{}, "", false // it is told to lie apart
	}
	return now, e.To, false
}

// errStays means that results cannot follow artwork to its new name.
var errStays = errors.New("the results keep their names")

// renameWhole puts artwork on record as if it had come as what it is now called, with its results under that name. The record that it had
// goes first: if the program is killed before the other is written, nothing claims the results, and nothing is written over them.
func (b *book) renameWhole(owner string, e earlier, as, to string) (record, error) {
	was, key := b.records[owner], b.key(filepath.FromSlash(as))
	old := b.records[key]
	others := slices.DeleteFunc(slices.Clone(was.aside()), func(o earlier) bool { return o.To == e.To })
	inUse := key == owner || old.underWay() || old.To != "" && !old.Moved || !b.gone(as)
	shared := was.Target == e.Target && was.To != e.To || b.lies(others, e.Target)
	if inUse || shared {
		return record{}, errStays
	}
	target, err := b.targetFor(as, &e)
	if err == nil && target != e.Target {
		err = b.renameResults(e.Target, target, e.Pages)
	}
	if err != nil {
		return record{}, err
	}
	now, current := record{Pages: max(1, e.Pages)}, was.Target == e.Target
	if current {
		now = was
	}
	now.Path, now.As, now.Target, now.To, now.Moved, now.Cleared = key, as, target, to, true, false
	now.SHA256, now.Size, now.Modified, now.Mode = e.SHA256, e.Size, e.Modified, e.Mode
	now.Earlier = slices.Clone(old.aside())
	for i := range now.Earlier {
		if now.Earlier[i].To == to {
			now.Earlier[i].To = "" // it lies there no more
		}
	}
	was.Earlier = slices.DeleteFunc(slices.Clone(was.Earlier), func(o earlier) bool { return o.Target == e.Target })
	if current {
		was = record{Path: owner, Earlier: was.Earlier}
	}
	if err := b.add(was, true); err != nil {
		return record{}, errors.Join(err, b.renameResults(target, e.Target, e.Pages))
	}
	if target != e.Target {
		b.names.Release(judging.Target(filepath.FromSlash(e.Target)))
		b.names.Take(judging.Target(filepath.FromSlash(target)))
	}
	return now, b.add(now, true)
}

// renameInPlace leaves artwork with the record and the results it has.
func (b *book) renameInPlace(owner string, e earlier, to string) (record, error) {
	r := b.records[owner]
	r.Earlier = slices.Clone(r.Earlier)
	now := record{Path: owner, Target: e.Target, Pages: max(1, e.Pages)}
	if r.To == e.To && r.Target == e.Target {
		r.To = to
		now = r
	}
	for i := range r.Earlier {
		if r.Earlier[i].To == e.To {
			r.Earlier[i].To = to
		}
	}
	return now, b.add(r, true)
}

// targetFor is a name that results of artwork of this name may have: theirs if they may, else a free one.
func (b *book) targetFor(as string, e *earlier) (string, error) {
	as = filepath.FromSlash(as)
	if goesWith(as, e.Target) {
		return e.Target, nil
	}
	ours := func(report string) bool { // as where an earlier call was cut short
		art, err := reportfiles.ArtworkOf(report)
		return err == nil && art.SHA256 == e.SHA256
	}
	for _, to := range judging.Candidates(as) {
		if b.names.Free(to) && !b.occupied(to, ours) {
			return filepath.ToSlash(string(to)), nil
		}
	}
	return "", errStays
}

// renameResults renames all results of a target, or none; pages is how many they are of.
func (b *book) renameResults(from, to string, pages int) (err error) {
	at := func(target string) judging.Target {
		return judging.Target(filepath.Join(b.out, filepath.FromSlash(target)))
	}
	const several = 2
	was, now := suffixes(at(from)), suffixes(at(to))
	for _, n := range from1To(pages) {
		was, now = append(was, suffixes(at(from).Page(n, several))...), append(now, suffixes(at(to).Page(n, several))...)
	}
	if err := os.MkdirAll(filepath.Dir(now[0]), 0o755); err != nil {
		return err
	}
	for i := range was {
		if !exists(was[i]) {
			continue
		}
		if err := renameNew(was[i], now[i]); err != nil {
			for i--; i >= 0; i-- {
				if exists(now[i]) && !exists(was[i]) {
					err = errors.Join(err, renameNew(now[i], was[i]))
				}
			}
			return err
		}
	}
	return errors.Join(syncFolder(filepath.Dir(now[0])), syncFolder(filepath.Dir(was[0])))
}
