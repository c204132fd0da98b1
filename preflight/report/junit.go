package report

import (
	"cmp"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"strings"

	"peelcheck/preflight"
)

// The elements that the common readers of JUnit's XML agree on; there is no standard. The files judged are test cases of one suite.
type (
	junitSuites struct {
		XMLName  xml.Name   `xml:"testsuites"`
		Name     string     `xml:"name,attr"`
		Tests    int        `xml:"tests,attr"`
		Failures int        `xml:"failures,attr"`
		Errors   int        `xml:"errors,attr"`
		Suite    junitSuite `xml:"testsuite"`
	}
	junitSuite struct {
		Name     string      `xml:"name,attr"`
		Tests    int         `xml:"tests,attr"`
		Failures int         `xml:"failures,attr"`
		Errors   int         `xml:"errors,attr"`
		Skipped  int         `xml:"skipped,attr"`
		Cases    []junitCase `xml:"testcase"`
	}
	junitCase struct {
		Name    string        `xml:"name,attr"`
		Class   string        `xml:"classname,attr"`
		Failure *junitOutcome `xml:"failure"`
		Error   *junitOutcome `xml:"error"`
		Out     *junitText    `xml:"system-out"`
	}
	junitOutcome struct {
		Message string `xml:"message,attr"`
		Type    string `xml:"type,attr"`
		Text    string `xml:",cdata"`
	}
	junitText struct {
		Text string `xml:",cdata"`
	}
)

// JUnitOptions say how test results are written.
type JUnitOptions struct {
	FailOn string            // the level that makes artwork fail whose report does not say, one of preflight.FailOnWords
	Rules  []*preflight.Rule // titles and limits of the rules the reports name
}

type junitWriter struct {
	w     io.Writer
	opt   JUnitOptions
	suite junitSuite
}

// NewJUnit returns a Writer of test results in XML: one suite, each artwork a case, which fails where something at or above the level
// was found. What could not be judged is an error. All is written by Close, because the counts come first.
func NewJUnit(w io.Writer, opt JUnitOptions) Writer {
	return &junitWriter{w: w, opt: opt, suite: junitSuite{Name: preflight.ToolName}}
}

func (j *junitWriter) Add(rep *preflight.Report) error {
	c := junitCaseOf(rep.Artwork.File)
	if rep.Artwork.PageCount > 1 {
		c.Name += fmt.Sprintf(", page %d of %d", rep.Artwork.Page, rep.Artwork.PageCount)
	}
	var found strings.Builder
	if err := Findings(&found, rep, TextOptions{Rules: j.opt.Rules}); err != nil {
		return err
	}
	text := xmlText(found.String())
	if failOn := cmp.Or(rep.FailOn, j.opt.FailOn); rep.Counts.Reach(failOn) {
		j.suite.Failures++
		c.Failure = &junitOutcome{Message: xmlText(verdictWords(rep)), Type: failOn, Text: "\n" + text}
	} else if text != "" {
		c.Out = &junitText{"\n" + text}
	}
	j.add(c)
	return nil
}

func (j *junitWriter) Fail(t Trouble) error {
	c := junitCaseOf(t.File)
	j.suite.Errors++
	c.Error = &junitOutcome{Message: "could not be judged", Type: "not judged", Text: xmlText(t.Text)}
	j.add(c)
	return nil
}

func (j *junitWriter) add(c junitCase) {
	j.suite.Tests++
	j.suite.Cases = append(j.suite.Cases, c)
}

func (j *junitWriter) Close() error {
	if _, err := io.WriteString(j.w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(j.w)
	e.Indent("", "  ")
	s := j.suite
	if err := e.Encode(junitSuites{Name: s.Name, Tests: s.Tests, Failures: s.Failures, Errors: s.Errors, Suite: s}); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	_, err := io.WriteString(j.w, "\n")
	return err
}

// junitCaseOf names a case after its file and the folder it is in. Without a file it is about the whole call.
func junitCaseOf(file string) junitCase {
	if file == "" {
		return junitCase{Name: "the whole call", Class: preflight.ToolName}
	}
	dir, name := path.Split(file)
	if dir = strings.TrimSuffix(dir, "/"); dir == "" {
		dir = "."
	}
	return junitCase{Name: xmlText(name), Class: xmlText(dir)}
}

// xmlText takes out what no XML 1.0 document may hold, not even escaped (its production 2, Char), and bytes that are no UTF-8.
func xmlText(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t', r == '\n', r == '\r', r >= 0x20 && r <= 0xD7FF, r >= 0xE000 && r <= 0xFFFC, r >= 0x10000 && r <= 0x10FFFF:
			return r
		}
		return -1
	}, s)
}
