package report

import (
	"fmt"
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

// mostNamed is how many files one line names.
const mostNamed = 10

// Named lists names on one line: the first ten, and how many more there are.
func Named(names []string) string {
	if more := len(names) - mostNamed; more > 0 {
		return strings.Join(names[:mostNamed], ", ") + fmt.Sprintf(" and %d more", more)
	}
	return strings.Join(names, ", ")
}

// close writes the totals to a page for people.
func (t *totals) close(p *page) {
	p.para("Artwork judged: ", bold, 4, t.words())
	if len(t.wrong) > 0 {
		p.para("Not judged: ", bold, 4, Named(t.wrong))
	}
}
