package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"peelcheck/preflight"
)

type summaryWriter struct {
	w     io.Writer
	rows  []summaryRow
	total preflight.Counts
	count map[preflight.Verdict]int
	wrong int  // files and pages that could not be judged
	torn  bool // something was wrong with the whole call
}

// summaryRow is a row that stands before those of a higher rank.
type summaryRow struct {
	rank  int
	cells []string
}

// The ranks of rows, the first first.
const (
	rankTorn = iota
	rankWrong
	rankHold
	rankReview
	rankReady
)

var rankOf = map[preflight.Verdict]int{preflight.Hold: rankHold, preflight.Review: rankReview, preflight.Ready: rankReady}

// NewSummary returns a Writer of a table in Markdown: a row an artwork, with its worst finding in words, and the totals. What could not be
// judged comes first, then the worst verdict, each in the order of adding. All is written by Close.
func NewSummary(w io.Writer) Writer {
	return &summaryWriter{w: w, count: map[preflight.Verdict]int{}}
}

func (s *summaryWriter) Add(rep *preflight.Report) error {
	c := rep.Counts
	s.count[rep.Verdict]++
	s.total.Error += c.Error
	s.total.Warning += c.Warning
	s.total.Note += c.Note
	worst := "nothing found"
	if g := Groups(rep.Findings, shownOfRule); len(g) > 0 && g[0].Accepted != nil {
		worst = "nothing that counts (" + cell(asideWords(rep)) + ")"
	} else if len(g) > 0 {
		worst = "`" + g[0].Rule + "`: " + cell(g[0].Worst[0].Message)
		if rest := c.Error + c.Warning + c.Note - 1; rest > 0 {
			worst += fmt.Sprintf(" (and %d more)", rest)
		}
		if aside := asideWords(rep); aside != "" {
			worst += "; " + cell(aside)
		}
	}
	s.row(rankOf[rep.Verdict], "**"+string(rep.Verdict)+"**", cell(Title(rep)), fmt.Sprint(c.Error), fmt.Sprint(c.Warning), fmt.Sprint(c.Note), worst)
	return nil
}

func (s *summaryWriter) Fail(t Trouble) error {
	if t.File == "" {
		s.torn = true
		s.row(rankTorn, "**not complete**", "the whole call", "", "", "", cell(t.Text))
		return nil
	}
	s.wrong++
	s.row(rankWrong, "**not judged**", cell(Printable(t.File)), "", "", "", cell(t.Text))
	return nil
}

func (s *summaryWriter) row(rank int, cells ...string) {
	s.rows = append(s.rows, summaryRow{rank, cells})
}

func tableLine(cells ...string) string { return "| " + strings.Join(cells, " | ") + " |\n" }

func (s *summaryWriter) Close() error {
	n := s.count[preflight.Ready] + s.count[preflight.Review] + s.count[preflight.Hold]
	var text strings.Builder
	fmt.Fprintf(&text, "## Artwork judged: %d\n\n%s", n, TotalWords(s.count))
	if s.wrong > 0 {
		fmt.Fprintf(&text, "; %d not judged", s.wrong)
	}
	if s.torn {
		text.WriteString("; not complete")
	}
	text.WriteString(".\n\n| Verdict | Artwork | Errors | Warnings | Notes | Worst finding |\n| --- | --- | ---: | ---: | ---: | --- |\n")
	slices.SortStableFunc(s.rows, func(a, b summaryRow) int { return a.rank - b.rank })
	for _, r := range s.rows {
		text.WriteString(tableLine(r.cells...))
	}
	text.WriteString(tableLine("", "**all**", fmt.Sprint(s.total.Error), fmt.Sprint(s.total.Warning), fmt.Sprint(s.total.Note), ""))
	_, err := io.WriteString(s.w, text.String())
	return err
}

// cell makes text fit for a table's cell: on one line, and nothing in it a mark of Markdown or HTML.
func cell(text string) string {
	return cellMarks.Replace(strings.Join(strings.Fields(text), " "))
}

var cellMarks = func() *strings.Replacer {
	var pairs []string
	for _, mark := range "\\`*_[]<>|~" {
		pairs = append(pairs, string(mark), `\`+string(mark))
	}
	return strings.NewReplacer(append(pairs, "&", "&amp;")...)
}()
