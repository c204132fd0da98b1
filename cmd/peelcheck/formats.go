package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/shard"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// formats are what --format may be. With all but text, standard output holds nothing else.
var formats = []string{"text", "json", "sarif", "junit", "github", "reply"}

// addOutputs adds the flags that say what is written beside reports.
func addOutputs(fs *pflag.FlagSet, o *judging.Outputs) {
	fs.BoolVar(&o.HTML, "html", false, "write a page for a browser too, NAME.report.html")
	fs.BoolVar(&o.ProofPDF, "proof-pdf", false, "write a proof at true size too, NAME.proof.pdf")
	fs.BoolVar(&o.NoProof, "no-proof", false, "write no proof pictures")
}

// formatOptions are what formats have to know beside the reports.
type formatOptions struct {
	failOn  string // of reports that do not say
	several bool   // the call comes down to more than one artwork
	many    bool   // artworks of a folder or a library
	part    shard.Shard
	where   string // the reports are, in words
}

// formatWriter returns the writer of --format.
func (f *outputFlags) formatWriter(out io.Writer, say *speaker, opt formatOptions) report.Writer {
	switch f.format {
	case "json":
		if opt.part.Of > 0 {
			return report.NewJSONPart(out, report.PartNumber{Number: opt.part.Part, Of: opt.part.Of})
		}
		return report.NewJSON(out, opt.several)
	case "sarif":
		return report.NewSARIF(out, rules.All())
	case "junit":
		return report.NewJUnit(out, report.JUnitOptions{FailOn: opt.failOn, Rules: rules.All()})
	case "reply":
		return report.NewReplies(out)
	case "github":
		return report.NewAnnotations(out, report.AnnotationOptions{Rules: rules.All(), Where: opt.where})
	}
	text := report.TextOptions{Colour: say.outIsTerminal && say.colour, Rules: rules.All(), Many: opt.many}
	if f.brief {
		return report.NewBrief(out, text)
	}
	return report.NewText(out, text)
}

// writers write the same reports in several formats.
type writers []report.Writer

func (list writers) each(do func(report.Writer) error) error {
	var errs []error
	for _, w := range list {
		errs = append(errs, do(w))
	}
	return errors.Join(errs...)
}

func (list writers) Add(rep *preflight.Report) error {
	return list.each(func(w report.Writer) error { return w.Add(rep) })
}

func (list writers) Fail(t report.Trouble) error {
	return list.each(func(w report.Writer) error { return w.Fail(t) })
}

func (list writers) Close() error { return list.each(report.Writer.Close) }

// troubleOf tells a writer of a problem met with a file.
func troubleOf(path string, err error) report.Trouble {
	text := err.Error()
	var p *problem.Problem
	if errors.As(err, &p) && p.File == path {
		text = problem.New("", p.Reason, p.Remedy).Error()
	}
	return report.Trouble{File: filepath.ToSlash(path), Text: text}
}

// summary is the table of --summary until it is saved.
type summary struct {
	path  string // empty for none
	table bytes.Buffer
}

func (s *summary) add(fs *pflag.FlagSet) {
	fs.StringVar(&s.path, "summary", "", "write a table of all artwork to `FILE`: in Markdown, or in HTML if its name ends in .html")
}

// check refuses a summary that could not be written, before any artwork is judged.
func (s *summary) check() error {
	if s.path == "" {
		return nil
	}
	if slices.Contains(noSummary, s.ending()) {
		return problem.New(filepath.ToSlash(s.path), fmt.Sprintf("a summary is not written as %s", s.ending()),
			"end the name given to --summary in .md for Markdown, or in .html for HTML")
	}
	info, err := os.Stat(filepath.Dir(s.path))
	switch {
	case err != nil:
		return s.problem(problem.About(filepath.Dir(s.path), err))
	case !info.IsDir():
		return problem.New(filepath.Dir(s.path), "this is not a folder", "name another file with --summary")
	}
	return nil
}

// noSummary are endings that promise what a summary is not. Others stand for Markdown: build systems name files without one, or with one of
// their own.
var noSummary = []string{".csv", ".json", ".pdf", ".sarif", ".xml"}

func (s *summary) ending() string { return strings.ToLower(filepath.Ext(s.path)) }

func (s *summary) problem(err error) error {
	p := problem.About(s.path, err)
	return problem.New(p.File, "the summary cannot be written: "+p.Reason, "name another file with --summary")
}

// beside adds the summary's writer, if there is to be one, to that of the format.
func (s *summary) beside(w report.Writer) report.Writer {
	if s.path == "" {
		return w
	}
	if strings.HasPrefix(s.ending(), ".htm") {
		return writers{w, report.NewHTMLSummary(&s.table)}
	}
	return writers{w, report.NewSummary(&s.table)}
}

// save writes the table, whole and not over artwork.
func (s *summary) save(ctx context.Context, b *judging.Bench) error {
	if s.path == "" {
		return nil
	}
	err := b.SaveFile(ctx, s.path, func(w io.Writer) error {
		_, err := s.table.WriteTo(w)
		return err
	})
	if err != nil {
		return s.problem(err)
	}
	return nil
}

// reportsWhere says where reports are.
func (f *checkFlags) reportsWhere() string {
	if f.out != "" {
		return "in " + report.Printable(filepath.ToSlash(f.out))
	}
	return "beside the artwork"
}

// writtenWhere says what was written of n artworks, and where.
func (f *checkFlags) writtenWhere(n int) string {
	what := []string{"report"}
	for _, o := range []struct {
		written bool
		name    string
	}{{!f.outputs.NoProof, "proof"}, {f.outputs.HTML, "HTML page"}, {f.outputs.ProofPDF, "PDF proof"}} {
		if o.written {
			what = append(what, o.name)
		}
	}
	for i, name := range what {
		what[i] = "a " + name
		if strings.HasPrefix(name, "H") {
			what[i] = "an " + name
		}
		if n > 1 {
			what[i] = fmt.Sprintf("%d %ss", n, name)
		}
	}
	return preflight.Listed(what) + " " + f.reportsWhere()
}
