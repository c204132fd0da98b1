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
	totals totals
	faults faults
}

// NewBrief returns a Writer for people who have many designs: one line an artwork, then what was found in how many, and the totals last.
func NewBrief(w io.Writer, opt TextOptions) Writer {
	return &briefWriter{page: page{w: w, colour: opt.Colour}, rules: opt.Rules}
}

func (b *briefWriter) Add(rep *preflight.Report) error {
	b.totals.add(rep.Verdict)
	reasons := preflight.Reasons(rep)
	b.faults.add(reasons)
	b.line(lineOf(rep, reasons, b.rules))
	return b.err
}

// lineOf puts into words why an artwork is as it is.
func lineOf(rep *preflight.Report, reasons []preflight.Reason, rules []*preflight.Rule) artworkLine {
	counts := rep.Counts
	counts.Accepted, counts.Waived = 0, 0
	why := ""
	if counts != (preflight.Counts{}) {
		why = ReasonWords(reasons, counts, rules)
	}
	if aside := asideWords(rep); aside != "" {
		why = strings.TrimPrefix(why+"; "+aside, "; ")
	}
	return artworkLine{rep.Verdict, counts, Title(rep), why}
}

func (p *page) line(l artworkLine) {
	word, st := verdictWord(l.verdict)
	p.raw(p.paint(word, st) + strings.TrimPrefix(Line(l.verdict, l.name, l.why), word) + "\n")
}

func (b *briefWriter) Fail(t Trouble) error {
	b.totals.fail(t)
	return nil
}

func (b *briefWriter) Close() error {
	b.faults.close(&b.page, b.rules)
	if b.totals.judged() > 0 || len(b.totals.wrong) > 0 || b.totals.torn { // else there was nothing to judge
		b.totals.close(&b.page)
	}
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
	return strings.Join(words, "; ")
}

// reasonRoom is how many letters of a waiver's reason one line holds.
const reasonRoom = 40

// asideWords says how many findings do not count, and why: "2 accepted; 1 waived until 2026-12-31 (whiskers, tested)".
func asideWords(rep *preflight.Report) string {
	var words []string
	if n := rep.Counts.Accepted - rep.Counts.Waived; n > 0 {
		words = append(words, fmt.Sprintf("%d accepted", n))
	}
	var waivers []preflight.Accepted
	count := map[preflight.Accepted]int{}
	for i := range rep.Findings {
		if a := rep.Findings[i].Accepted; a != nil && a.By == preflight.AcceptedByWaiver {
			if count[*a]++; count[*a] == 1 {
				waivers = append(waivers, *a)
			}
		}
	}
	for _, a := range waivers {
		reason := []rune(Printable(a.Reason))
		if len(reason) > reasonRoom {
			reason = []rune(strings.TrimRight(string(reason[:reasonRoom-1]), " ") + "…")
		}
		words = append(words, fmt.Sprintf("%d waived until %s (%s)", count[a], a.Until, string(reason)))
	}
	return strings.Join(words, "; ")
}

func titleOf(id string, rules []*preflight.Rule) string {
	if i := slices.IndexFunc(rules, func(r *preflight.Rule) bool { return r.ID == id }); i >= 0 {
		return rules[i].Title
	}
	return id
}
