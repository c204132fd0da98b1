package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"peelcheck/preflight"
)

// fileColumns is the width of the column of file names where there is one line a file; longer names push on what follows.
const fileColumns = 40

// mostReasons is how many reasons one line holds.
const mostReasons = 3

type briefWriter struct {
	page
	rules  []*preflight.Rule
	count  map[preflight.Verdict]int
	wrong  map[string]bool // files that could not be judged, or not in full
	torn   bool            // something was wrong with the whole call
	found  []preflight.Reason
	inArts map[string]int // artworks that each rule counts against
}

// NewBrief returns a Writer for people who have many designs: one line an artwork, then what was found in how many, and the totals last.
func NewBrief(w io.Writer, opt TextOptions) Writer {
	return &briefWriter{page: page{w: w, colour: opt.Colour}, rules: opt.Rules, count: map[preflight.Verdict]int{}, wrong: map[string]bool{}, inArts: map[string]int{}}
}

func (b *briefWriter) Add(rep *preflight.Report) error {
	b.count[rep.Verdict]++
	reasons := preflight.Reasons(rep)
	for _, r := range reasons {
		b.inArts[r.Rule]++
		i := slices.IndexFunc(b.found, func(f preflight.Reason) bool { return f.Rule == r.Rule })
		if i < 0 {
			b.found = append(b.found, r)
			continue
		}
		b.found[i].Count += r.Count
	}
	why := ReasonWords(reasons, rep.Counts, b.rules)
	if rep.Verdict == preflight.Ready && rep.Counts == (preflight.Counts{}) {
		why = ""
	}
	word, st := verdictWord(rep.Verdict)
	line := Line(rep.Verdict, Title(rep), why)
	b.raw(b.paint(word, st) + strings.TrimPrefix(line, word) + "\n")
	return b.err
}

func (b *briefWriter) Fail(t Trouble) error {
	if t.File == "" {
		b.torn = true
		return nil
	}
	b.wrong[t.File] = true
	return nil
}

func (b *briefWriter) Close() error {
	slices.SortStableFunc(b.found, func(x, y preflight.Reason) int { return b.inArts[y.Rule] - b.inArts[x.Rule] })
	if len(b.found) > 0 {
		b.raw("\n")
	}
	for _, r := range b.found {
		b.raw(fmt.Sprintf("%6d  %s (%s, %s)\n", b.inArts[r.Rule], titleOf(r.Rule, b.rules), r.Rule, plural(r.Count, "place")))
	}
	if len(b.count) == 0 && len(b.wrong) == 0 && !b.torn {
		return b.err // there was nothing to judge
	}
	ready, review, hold := b.count[preflight.Ready], b.count[preflight.Review], b.count[preflight.Hold]
	text := fmt.Sprintf("%d (%d ready, %d to review, %d on hold)", ready+review+hold, ready, review, hold)
	if n := len(b.wrong); n > 0 {
		text += fmt.Sprintf("; %s not judged", plural(n, "file"))
	}
	if b.torn {
		text += "; not complete"
	}
	b.para("Artwork judged: ", bold, 4, text)
	return b.err
}

// Line is one line about one file: the verdict, the name and why, in columns.
func Line(v preflight.Verdict, name, why string) string {
	word, _ := verdictWord(v)
	pad := max(0, fileColumns-utf8.RuneCountInString(name))
	return strings.TrimRight(fmt.Sprintf("%-6s  %s%s  %s", word, name, strings.Repeat(" ", pad), why), " ")
}

// ReasonWords says in plain words why an artwork is not ready; where nothing counts against it, what was found.
func ReasonWords(list []preflight.Reason, counts preflight.Counts, rules []*preflight.Rule) string {
	var words []string
	for _, r := range list {
		text := titleOf(r.Rule, rules)
		if r.Count > 1 {
			text += fmt.Sprintf(" (%d places)", r.Count)
		}
		words = append(words, text)
	}
	if len(words) == 0 {
		return Tally(counts)
	}
	if more := len(words) - mostReasons; more > 0 {
		words = append(words[:mostReasons], fmt.Sprintf("and %d more", more))
	}
	text := strings.Join(words, "; ")
	if counts.Accepted > 0 {
		text += fmt.Sprintf("; %d accepted", counts.Accepted)
	}
	return text
}

func titleOf(id string, rules []*preflight.Rule) string {
	if i := slices.IndexFunc(rules, func(r *preflight.Rule) bool { return r.ID == id }); i >= 0 {
		return rules[i].Title
	}
	return id
}
