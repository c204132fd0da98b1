package watching

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/judging"
)

// Results of artwork that was taken out of the folder stay: it may be mended with its proof beside it. They are removed when another file of
// its path has been judged or refused, or the same artwork under another name, and only once it is gone from where it was moved as well.
// Each removal comes before the record that makes it unneeded, so one that is cut short is done again.

// suffixes are those of the results of a page: of all kinds, and of those that are written.
func suffixes(to judging.Target) []string {
	return []string{to.Report(), to.Proof(), to.HTML(), to.ProofPDF()}
}

func (b *book) written(to judging.Target) []string {
	all := suffixes(to)
	written := []bool{true, !b.writes.NoProof, b.writes.HTML, b.writes.ProofPDF}
	i := -1
	return slices.DeleteFunc(all, func(string) bool { i++; return !written[i] })
}

// complete reports whether all that was written about a file is there.
func (b *book) complete(r *record) bool {
	for _, n := range r.pages() {
		for _, path := range b.written(r.target(b.out).Page(n, r.Pages)) {
			if !exists(path) {
				return false
			}
		}
	}
	return true
}

// clear removes results of a target but those of the record that it now has; pages is how many they may be of, though there may be more.
func (b *book) clear(target string, pages int, now *record) {
	to := judging.Target(filepath.Join(b.out, filepath.FromSlash(target)))
	var keep []string
	if now != nil && now.Target == target {
		pages = max(pages, now.Pages)
		for _, n := range now.pages() {
			keep = append(keep, b.written(to.Page(n, now.Pages))...)
		}
	}
	const several = 2
	for slices.ContainsFunc(suffixes(to.Page(pages+1, several)), exists) {
		pages++
	}
	var all []string
	for _, n := range from1To(pages) {
		all = append(suffixes(to.Page(n, several)), all...) // the last page first, so that none is overlooked later
	}
	for _, path := range append(all, suffixes(to)...) {
		if !slices.Contains(keep, path) {
			os.Remove(path)
		}
	}
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// tidy removes what the record of a file that nobody visits holds of results no longer needed.
func (b *book) tidy(r record) error {
	var keep []earlier
	for _, e := range r.Earlier {
		switch {
		case e.To != "" && !b.gone(e.To):
			keep = append(keep, e)
		case e.Target != r.Target && !b.lies(r.Earlier, e.Target):
			b.clear(e.Target, e.Pages, nil)
			b.names.Release(judging.Target(filepath.FromSlash(e.Target)))
		}
	}
	left := r.underWay() && b.gone(b.rel(r.Path))
	if len(keep) == len(r.Earlier) && !left {
		return nil
	}
	if r.Earlier = keep; left {
		r = b.cleared(r)
	}
	return b.add(r, false)
}

// sweep tidies the records of all files that are not busy.
func (b *book) sweep(busy func(rel string) bool) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.loose) == 0 {
		return nil
	}
	if err := b.hold(); err != nil {
		return err
	}
	for key := range b.loose {
		if !strings.HasPrefix(key, b.prefix) || busy(filepath.FromSlash(b.rel(key))) {
			continue
		}
		if err := b.tidy(b.records[key]); err != nil {
			return err
		}
	}
	return nil
}

// rel is the path of a record below the folder watched.
func (b *book) rel(key string) string { return strings.TrimPrefix(key, b.prefix) }

// settle puts a file that has been judged on record; pages is how many its path may have had results of before. Results that are not its
// own are removed first: those of pages it has no more, and of the same content under paths that are gone, as after renaming.
func (b *book) settle(r record, pages int) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.clear(r.Target, pages, &r)
	for _, key := range slices.Clone(b.bySum[r.SHA256]) {
		o := b.records[key]
		if key == r.Path || !strings.HasPrefix(key, b.prefix) || !b.gone(b.rel(key)) || b.lies(o.aside(), o.Target) {
			continue
		}
		if err := b.add(b.cleared(o), false); err != nil {
			return err
		}
	}
	return b.add(r, true)
}

// refused is the record of a file that cannot be judged, without results.
func (b *book) refused(rel string) record {
	b.mu.Lock()
	defer b.mu.Unlock()
	r := record{Path: b.key(rel)}
	if old, ok := b.records[r.Path]; ok {
		r = b.cleared(old)
	}
	r.Refused = true
	return r
}

// cleared removes the results of a file, unless its artwork still lies where it was moved, and keeps its names for the next one.
func (b *book) cleared(r record) record {
	if aside := r.aside(); b.lies(aside, r.Target) {
		return record{Path: r.Path, Earlier: aside}
	}
	if r.Target != "" {
		b.clear(r.Target, r.Pages, nil)
	}
	return record{Path: r.Path, As: r.As, Target: r.Target, Cleared: true, Earlier: r.Earlier}
}
