package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// totals counts artworks by verdict, and remembers what could not be judged.
type totals struct {
	count map[preflight.Verdict]int
	wrong []string // files that could not be judged, or not in full, as they are shown
	torn  bool     // something was wrong with the whole call
}

func (t *totals) add(v preflight.Verdict) {
	if t.count == nil {
		t.count = map[preflight.Verdict]int{}
	}
	t.count[v]++
}

func (t *totals) fail(tr Trouble) {
	name := Printable(tr.File)
	switch n := len(t.wrong); {
	case tr.File == "":
		t.torn = true
	case n == 0 || t.wrong[n-1] != name: // a document comes with all its pages
		t.wrong = append(t.wrong, name)
	}
}

func (t *totals) judged() int {
	return t.count[preflight.Hold] + t.count[preflight.Review] + t.count[preflight.Ready]
}

// words are the totals, as "3 (1 on hold, 0 to review, 2 ready); 1 file not judged".
func (t *totals) words() string {
	text := fmt.Sprintf("%d (%s)", t.judged(), TotalWords(t.count))
	if n := len(t.wrong); n > 0 {
		text += fmt.Sprintf("; %s not judged", plural(n, "file"))
	}
	if t.torn {
		text += "; not complete"
	}
	return text
}

// TotalWords counts verdicts in words, worst first.
func TotalWords(count map[preflight.Verdict]int) string {
	return fmt.Sprintf("%d on hold, %d to review, %d ready", count[preflight.Hold], count[preflight.Review], count[preflight.Ready])
}

// mostNamed is how many files are named at the end.
const mostNamed = 10

// faults counts what was found, rule by rule.
type faults struct {
	found  []preflight.Reason
	inArts map[string]int // artworks that each rule counts against
}

func (f *faults) add(reasons []preflight.Reason) {
	if f.inArts == nil {
		f.inArts = map[string]int{}
	}
	for _, r := range reasons {
		f.inArts[r.Rule]++
		i := slices.IndexFunc(f.found, func(had preflight.Reason) bool { return had.Rule == r.Rule })
		if i < 0 {
			f.found = append(f.found, r)
			continue
		}
		f.found[i].Count += r.Count
	}
}

// close writes a line a rule, that of the most artworks first.
func (f *faults) close(p *page, rules []*preflight.Rule) {
	slices.SortStableFunc(f.found, func(a, b preflight.Reason) int { return f.inArts[b.Rule] - f.inArts[a.Rule] })
	if len(f.found) > 0 {
		p.raw("\n")
	}
	for _, r := range f.found {
		p.raw(fmt.Sprintf("%6d  %s (%s, %s)\n", f.inArts[r.Rule], titleOf(r.Rule, rules), r.Rule, plural(r.Count, "place")))
	}
}

// worst keeps the lines of the artworks that are furthest from ready.
type worst struct {
	kept []artworkLine
	more int // that are not ready either
}

// artworkLine is one line about one artwork, in parts.
type artworkLine struct {
	verdict   preflight.Verdict
	counts    preflight.Counts
	name, why string
}

func (w *worst) add(l artworkLine) {
	if l.verdict == preflight.Ready {
		return
	}
	at, _ := slices.BinarySearchFunc(w.kept, l, func(had, l artworkLine) int {
		return cmp.Or(rankOf[had.verdict]-rankOf[l.verdict], l.counts.Error-had.counts.Error, l.counts.Warning-had.counts.Warning, -1)
	})
	w.kept = slices.Insert(w.kept, at, l)
	if len(w.kept) > mostNamed {
		w.kept, w.more = w.kept[:mostNamed], w.more+1
	}
}

// close writes them, the worst first, and how many more there are.
func (w *worst) close(p *page) {
	for _, l := range w.kept {
		p.line(l)
	}
	if w.more > 0 {
		p.raw(fmt.Sprintf("and %d more that are not ready, above\n", w.more))
	}
}

// Named lists names on one line: the first of them, most at most, and how many more there are.
func Named(names []string, most int) string { return named(names, most, ", ", " ") }

// NamedPages is Named for files and pages, parted by semicolons where one has a comma, as "a.pdf, page 1 of 2".
func NamedPages(names []string, most int) string {
	if slices.ContainsFunc(names, func(n string) bool { return strings.Contains(n, ",") }) {
		return named(names, most, "; ", "; ")
	}
	return Named(names, most)
}

func named(names []string, most int, apart, end string) string {
	if more := len(names) - most; more > 0 {
		return strings.Join(names[:most], apart) + fmt.Sprintf("%sand %d more", end, more)
	}
	return strings.Join(names, apart)
}

// close writes the totals to a page for people.
func (t *totals) close(p *page) {
	p.para("Artwork judged: ", bold, 4, t.words())
	if len(t.wrong) > 0 {
		p.para("Not judged: ", bold, 4, NamedPages(t.wrong, mostNamed))
	}
}
