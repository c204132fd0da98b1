package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strconv"
	"strings"

	"peelcheck/preflight"
)

type summaryWriter struct {
	w     io.Writer
	write func(io.Writer, *summaryView) error
	rows  []summaryRow
	total preflight.Counts
	count map[preflight.Verdict]int
	wrong int  // files and pages that could not be judged
	torn  bool // something was wrong with the whole call
}

// summaryRow is a row that stands before those of a higher rank, in plain text.
type summaryRow struct {
	rank             int
	Verdict, Artwork string
	Counts           [3]string // errors, warnings, notes
	Rule, Text       string    // of the worst finding, the rule empty where there is none
}

// summaryView is what a summary shows.
type summaryView struct {
	Heading, Totals string
	Rows            []summaryRow
	All             [3]string
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
	return &summaryWriter{w: w, write: writeMarkdown, count: map[preflight.Verdict]int{}}
}

// NewHTMLSummary returns a Writer of the same table as a page for a browser that needs nothing else.
func NewHTMLSummary(w io.Writer) Writer {
	return &summaryWriter{w: w, write: writeHTMLSummary, count: map[preflight.Verdict]int{}}
}

func (s *summaryWriter) Add(rep *preflight.Report) error {
	c := rep.Counts
	s.count[rep.Verdict]++
	s.total.Error += c.Error
	s.total.Warning += c.Warning
	s.total.Note += c.Note
	row := summaryRow{rank: rankOf[rep.Verdict], Verdict: string(rep.Verdict), Artwork: Title(rep), Counts: countWords(c), Text: "nothing found"}
	if g := Groups(rep.Findings, shownOfRule); len(g) > 0 && g[0].Accepted != nil {
		row.Text = "nothing that counts (" + asideWords(rep) + ")"
	} else if len(g) > 0 {
		row.Rule, row.Text = g[0].Rule, g[0].Worst[0].Message
		if rest := c.Error + c.Warning + c.Note - 1; rest > 0 {
			row.Text += fmt.Sprintf(" (and %d more)", rest)
		}
		if aside := asideWords(rep); aside != "" {
			row.Text += "; " + aside
		}
	}
	s.rows = append(s.rows, row)
	return nil
}

func countWords(c preflight.Counts) [3]string {
	return [3]string{strconv.Itoa(c.Error), strconv.Itoa(c.Warning), strconv.Itoa(c.Note)}
}

func (s *summaryWriter) Fail(t Trouble) error {
	row := summaryRow{rank: rankWrong, Verdict: "not judged", Artwork: Printable(t.File), Text: t.Text}
	if t.File == "" {
		s.torn = true
		row.rank, row.Verdict, row.Artwork = rankTorn, "not complete", "the whole call"
	} else {
		s.wrong++
	}
	s.rows = append(s.rows, row)
	return nil
}

func (s *summaryWriter) Close() error {
	n := s.count[preflight.Ready] + s.count[preflight.Review] + s.count[preflight.Hold]
	totals := TotalWords(s.count)
	if s.wrong > 0 {
		totals += fmt.Sprintf("; %d not judged", s.wrong)
	}
	if s.torn {
		totals += "; not complete"
	}
	slices.SortStableFunc(s.rows, func(a, b summaryRow) int { return a.rank - b.rank })
	return s.write(s.w, &summaryView{Heading: fmt.Sprintf("Artwork judged: %d", n), Totals: totals + ".", Rows: s.rows, All: countWords(s.total)})
}

//go:embed summary.html
var summaryText string

var summaryTemplate = template.Must(template.New("summary").Parse(summaryText))

func writeHTMLSummary(w io.Writer, v *summaryView) error {
	if err := summaryTemplate.Execute(w, v); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

func writeMarkdown(w io.Writer, v *summaryView) error {
	var text strings.Builder
	fmt.Fprintf(&text, "## %s\n\n%s\n\n", v.Heading, v.Totals)
	text.WriteString("| Verdict | Artwork | Errors | Warnings | Notes | Worst finding |\n| --- | --- | ---: | ---: | ---: | --- |\n")
	for _, r := range v.Rows {
		worst := cell(r.Text)
		if r.Rule != "" {
			worst = "`" + r.Rule + "`: " + worst
		}
		text.WriteString(tableLine("**"+r.Verdict+"**", cell(r.Artwork), r.Counts, worst))
	}
	text.WriteString(tableLine("", "**all**", v.All, ""))
	_, err := io.WriteString(w, text.String())
	return err
}

func tableLine(verdict, artwork string, counts [3]string, worst string) string {
	return "| " + strings.Join([]string{verdict, artwork, counts[0], counts[1], counts[2], worst}, " | ") + " |\n"
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
