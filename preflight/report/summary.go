package report

import (
	"fmt"
	"io"
	"strings"

	"peelcheck/preflight"
)

type summaryWriter struct {
	w     io.Writer
	rows  strings.Builder
	total preflight.Counts
	count map[preflight.Verdict]int
	wrong int  // files and pages that could not be judged
	torn  bool // something was wrong with the whole call
}

// NewSummary returns a Writer of a table in Markdown: a row an artwork, with its worst finding in words, and the totals. All is written
// by Close.
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
		worst = fmt.Sprintf("nothing that counts (%d accepted)", c.Accepted)
	} else if len(g) > 0 {
		worst = "`" + g[0].Rule + "`: " + cell(g[0].Worst[0].Message)
		if rest := len(rep.Findings) - 1; rest > 0 {
			worst += fmt.Sprintf(" (and %d more)", rest)
		}
	}
	s.row("**"+string(rep.Verdict)+"**", cell(Title(rep)), fmt.Sprint(c.Error), fmt.Sprint(c.Warning), fmt.Sprint(c.Note), worst)
	return nil
}

func (s *summaryWriter) Fail(t Trouble) error {
	if t.File == "" {
		s.torn = true
		s.row("**not complete**", "the whole call", "", "", "", cell(t.Text))
		return nil
	}
	s.wrong++
	s.row("**not judged**", cell(Printable(t.File)), "", "", "", cell(t.Text))
	return nil
}

func (s *summaryWriter) row(cells ...string) {
	s.rows.WriteString("| " + strings.Join(cells, " | ") + " |\n")
}

func (s *summaryWriter) Close() error {
	n := s.count[preflight.Ready] + s.count[preflight.Review] + s.count[preflight.Hold]
	head := fmt.Sprintf("## Artwork judged: %d\n\n%d ready, %d to review, %d on hold", n, s.count[preflight.Ready], s.count[preflight.Review], s.count[preflight.Hold])
	if s.wrong > 0 {
		head += fmt.Sprintf("; %d not judged", s.wrong)
	}
	if s.torn {
		head += "; not complete"
	}
	head += ".\n\n| Verdict | Artwork | Errors | Warnings | Notes | Worst finding |\n| --- | --- | ---: | ---: | ---: | --- |\n"
	s.row("", "**all**", fmt.Sprint(s.total.Error), fmt.Sprint(s.total.Warning), fmt.Sprint(s.total.Note), "")
	_, err := io.WriteString(s.w, head+s.rows.String())
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
