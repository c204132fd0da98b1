package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"peelcheck/preflight"
)

// mostAnnotations is how many lines there are at most beside the first, which says so: build systems show ten errors, ten warnings and
// ten notices of a step and fifty of a run (from memory), and drop the others without a word.
const mostAnnotations = 50

// AnnotationOptions say how annotations are written.
type AnnotationOptions struct {
	Rules []*preflight.Rule
	Where string // the reports are, as "in reports"
}

type annotationWriter struct {
	w     io.Writer
	where string
	rules map[string]*preflight.Rule
	lines [4][]string // by the rank of their level, at most mostAnnotations of each
	made  [4]int      // lines made of each, those left out included
	err   error
}

// NewAnnotations returns a Writer of line annotations as build systems take them from standard output, "::error file=F,title=T::message":
// one for each rule and level of an artwork that counts, and one for what could not be judged. They are written by Close, errors first and
// at most 50. If there are more, or more of a level than build systems show, the very first says how many, and where all are.
func NewAnnotations(w io.Writer, opt AnnotationOptions) Writer {
	a := &annotationWriter{w: w, where: opt.Where, rules: map[string]*preflight.Rule{}}
	for _, r := range opt.Rules {
		a.rules[r.ID] = r
	}
	return a
}

func (a *annotationWriter) Add(rep *preflight.Report) error {
	for _, g := range Groups(rep.Findings, shownOfRule) {
		if g.Accepted != nil {
			continue // what does not count calls nobody
		}
		title := g.Rule
		if r := a.rules[g.Rule]; r != nil {
			title += ": " + r.Title
		}
		a.keep(g.Level, rep.Artwork.File, title, a.message(rep, g))
	}
	return nil
}

// message tells the worst place of a group, and how many there are.
func (a *annotationWriter) message(rep *preflight.Report, g *Group) string {
	f := g.Worst[0]
	text := place(rep, f) + f.Message
	if g.Count > 1 {
		text = fmt.Sprintf("%d places, the worst: %s", g.Count, text)
	}
	if rep.Artwork.PageCount > 1 {
		text = fmt.Sprintf("page %d of %d: %s", rep.Artwork.Page, rep.Artwork.PageCount, text)
	}
	return strings.TrimSpace(text + " " + f.Remedy)
}

func (a *annotationWriter) Fail(t Trouble) error {
	a.keep(preflight.LevelError, t.File, "not judged", t.Text)
	return nil
}

func (a *annotationWriter) keep(level preflight.Level, file, title, message string) {
	a.made[level.Rank()]++
	list := &a.lines[level.Rank()]
	if len(*list) == mostAnnotations {
		return
	}
	word := string(level)
	if level == preflight.LevelNote {
		word = "notice"
	}
	line := "::" + word + " "
	if file != "" {
		line += "file=" + annotationValue.Replace(uncontrolled(file)) + ","
	}
	*list = append(*list, line+"title="+annotationValue.Replace(title)+"::"+annotationText.Replace(uncontrolled(message))+"\n")
}

func (a *annotationWriter) Close() error {
	a.overflow()
	shown := 0
	for _, list := range slices.Backward(a.lines[:]) {
		for _, line := range list {
			if shown < mostAnnotations {
				shown++
				a.raw(line)
			}
		}
	}
	return a.err
}

// overflow says first, where it is not dropped itself, that not all is shown.
func (a *annotationWriter) overflow() {
	const shownOfLevel = 10
	made, dropped := 0, false
	for _, n := range a.made {
		made += n
		dropped = dropped || n > shownOfLevel
	}
	text := ""
	switch rest := made - mostAnnotations; {
	case rest > 0:
		text = fmt.Sprintf("the worst %d lines of %d are here, and %d are left out", mostAnnotations, made, rest)
	case dropped:
		text = fmt.Sprintf("%d lines are here", made)
	default:
		return
	}
	a.raw(fmt.Sprintf("::notice title=%s::%s; a build system may show %d of a level. All are in the reports %s\n", preflight.ToolName, text, shownOfLevel,
		annotationText.Replace(uncontrolled(a.where))))
}

func (a *annotationWriter) raw(s string) {
	if a.err == nil {
		_, a.err = io.WriteString(a.w, s)
	}
}

// uncontrolled takes out control characters but the ends of lines, which are escaped.
func uncontrolled(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\r' && r != '\n' {
			return -1
		}
		return r
	}, s)
}

// What ends a message, or a value before it, is escaped.
var (
	annotationText  = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A")
	annotationValue = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A", ":", "%3A", ",", "%2C")
)
