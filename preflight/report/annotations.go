package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"peelcheck/preflight"
)

// mostAnnotations is how many lines there are at most before the last, which counts the rest: build systems show few and drop others.
const mostAnnotations = 50

type annotationWriter struct {
	w     io.Writer
	rules map[string]*preflight.Rule
	lines [4][]string // by the rank of their level, at most mostAnnotations of each
	made  int         // lines made, those left out included
	err   error
}

// NewAnnotations returns a Writer of line annotations as build systems take them from standard output, "::error file=F,title=T::message":
// one for each rule and level of an artwork that counts, and one for what could not be judged. They are written by Close, errors first, at most 50
// and a last one that counts those left out.
func NewAnnotations(w io.Writer, rules []*preflight.Rule) Writer {
	a := &annotationWriter{w: w, rules: map[string]*preflight.Rule{}}
	for _, r := range rules {
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
	a.made++
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
	shown := 0
	for _, list := range slices.Backward(a.lines[:]) {
		for _, line := range list {
			if shown < mostAnnotations {
				shown++
				a.raw(line)
			}
		}
	}
	if rest := a.made - shown; rest > 0 {
		a.raw(fmt.Sprintf("::notice title=%s::%s left out here; the reports have all\n", preflight.ToolName, plural(rest, "more line")))
	}
	return a.err
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
