package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// outputFlags are the flags that say what is printed and what the exit code is.
type outputFlags struct {
	format, failOn string
	brief          bool
}

type checkFlags struct {
	jobFlags
	pickFlags
	cacheFlags
	acceptFlags
	outputFlags
	out     string
	jobs    int
	outputs judging.Outputs
	summary summary
}

func newCheck(say *speaker) *cobra.Command {
	var f checkFlags
	cmd := &cobra.Command{
		Use:   "check FILE|DIR...",
		Short: "Judges artwork; writes a proof and a report beside it",
		Long: `Judges each artwork: what will print white, what will not transfer cleanly, whether its size fits the sheet.

Files may be PNG, JPEG, TIFF, WebP, BMP, GIF or PDF; their content counts, not their name. Folders are searched
with their subfolders; hidden files, other kinds of file and pictures drawn by peelcheck are passed over there.

For lantern.png it writes lantern.report.json and lantern.proof.png beside it, or into the folder of --out: there in
folders like those of the artwork, seen from the deepest folder that holds all that was named. For a document of
several pages it writes lantern.p1.report.json and so on. Where two artworks of one folder would share a name, both
keep their extension: lantern.png.report.json. Artwork is never changed.

With --format json, standard output carries one report if the call comes down to one artwork, and an array of
those that could be judged if it names a folder, several files or a document of several pages. The others are
for build systems: sarif (SARIF 2.1.0), junit (test results in XML) and github (annotations, "::error file=...").
With --format reply it is a letter to the customer for each artwork, ready to paste.

What a flag sets wins over the shop's files, a file in a folder over those of the folders above it, and these over
the process. Which files of a folder are judged: those that no exclude pattern leaves out, in the order of the
folders from the outermost in and then --exclude, the last that matches deciding; and, of these, those that
--include or else the nearest include list names. Files named in the call are always judged.

What was found is kept for the next run, by the content of the file, the job and this very program: a file that
has not changed is not judged again, and what is written and printed is the same.

Exit codes: 0 nothing at or above --fail-on was found; 1 something was; 2 some artwork could not be judged, or
the call was wrong.`,
		Example: `  peelcheck check lantern.png --width 240
  peelcheck check orders --out proofs --garment navy
  peelcheck check designs --out reports --no-proof --brief
  peelcheck check banner.pdf --page 2 --format json --no-proof`,
		Args: atLeastOneFile,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd.Context(), say, args) },
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	f.jobFlags.add(fs, say)
	f.pickFlags.add(fs)
	fs.StringVar(&f.out, "out", "", "folder `DIR` for reports and proofs, made if missing (default: beside the artwork)")
	f.outputFlags.add(fs)
	fs.IntVar(&f.jobs, "jobs", runtime.GOMAXPROCS(0), "files judged at once, at most `N`")
	f.summary.add(fs)
	addOutputs(fs, &f.outputs)
	f.cacheFlags.add(fs)
	f.acceptFlags.add(fs)
	return cmd
}

func (f *outputFlags) add(fs *pflag.FlagSet) {
	fs.StringVar(&f.format, "format", "text", "what is printed: `FORMAT` is text, json, sarif, junit, github or reply")
	fs.BoolVar(&f.brief, "brief", false, "with text, one line an artwork, and the totals last")
	fs.StringVar(&f.failOn, "fail-on", "", "`LEVEL` that makes the exit code 1: error, warning, note or never (default error)")
}

func atLeastOneFile(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return &problem.Problem{Reason: "no file or folder named", Remedy: fmt.Sprintf("write: %s", cmd.UseLine())}
	}
	return nil
}

// checkRun is one call of check on its way.
type checkRun struct {
	say      *speaker
	plan     *plan
	open     func(pages int) report.Writer // given the pages of the first file
	writer   report.Writer                 // nil until the first file is done
	out      *bufio.Writer
	failing  failing
	written  int
	complete int
	total    int
	told     map[string]bool // problems already told
}

func (f *checkFlags) run(ctx context.Context, say *speaker, names []string) error {
	if err := f.check(); err != nil {
		return err
	}
	p, err := f.planned(ctx, say, names)
	if err != nil {
		return err
	}
	defer p.copies.remove()
	r := &checkRun{say: say, plan: p, total: len(p.tasks), out: bufio.NewWriterSize(say, 1<<16), told: map[string]bool{}}
	r.open = func(pages int) report.Writer {
		several := p.folder || f.parted() || len(p.tasks) > 1 || f.page <= 0 && pages > 1
		return f.summary.beside(f.formatWriter(r.out, say, formatOptions{
			failOn: p.topFailOn, several: several, many: (p.folder || f.parted()) && len(p.tasks) > 1, part: f.shard.Shard, where: f.reportsWhere(),
		}))
	}
	defer p.cache.Sweep()
	say.status(fmt.Sprintf("judging %d", r.total))
	bar := newProgress(say, r.total)
	err = p.bench.All(ctx, p.tasks, f.jobs, bar.step, r.take)
	bar.end()
	if err := p.saveOrigins(); err != nil {
		return err
	}
	if ctx.Err() != nil {
		stopped := &problem.Problem{Reason: fmt.Sprintf("stopped after %d of %d files", r.complete, r.total)}
		if r.writer != nil && f.format != "text" { // what was judged stays readable
			_ = r.writer.Fail(report.Trouble{Text: stopped.Reason})
			_ = r.writer.Close()
			_ = r.out.Flush()
		}
		return stopped
	}
	if err != nil {
		return err
	}
	if r.writer == nil {
		r.writer = r.open(0)
	}
	if err := errors.Join(r.writer.Close(), r.out.Flush()); err != nil {
		return problem.About("standard output", err)
	}
	if err := f.summary.save(ctx, p.bench); err != nil {
		return err
	}
	if f.format == "text" && r.total == 0 {
		if err := say.text(fmt.Sprintf("Nothing to judge: of %s %s.\n", countOf(p.gathered, "file"), f.noneWords())); err != nil {
			return err
		}
	}
	if f.format == "text" {
		if err := r.failing.tell(say); err != nil {
			return err
		}
	}
	if f.format == "text" && r.written > 0 {
		if err := say.text(fmt.Sprintf("Written: %s\n", f.writtenWhere(r.written))); err != nil {
			return err
		}
	}
	const many = 20
	if f.format == "text" && !f.brief && r.total > many && say.outIsTerminal {
		if err := say.text("One line an artwork: add --brief\n"); err != nil {
			return err
		}
	}
	p.acceptance.tell(say)
	p.asked.tell(say)
	if err := f.saveBaseline(ctx, r); err != nil || f.format != "text" || p.leftOut == 0 {
		return err
	}
	return say.text(fmt.Sprintf("Left out by patterns: %s\n", countOf(p.leftOut, "file")))
}

// saveBaseline writes the baseline that was asked for. What it holds is accepted, and so does not count for the exit code.
func (f *checkFlags) saveBaseline(ctx context.Context, r *checkRun) error {
	w := r.plan.writer
	if w == nil {
		return nil
	}
	kept, gone := w.Keep()
	if err := w.Write(ctx); err != nil {
		return err
	}
	if gone > 0 {
		r.say.problem(notInBaseline(gone, f.writeBaseline))
	}
	if f.format != "text" {
		return nil
	}
	return r.say.text(wroteBaseline(w.Count(), kept, f.writeBaseline))
}

// check looks at the flags before any artwork is read.
func (f *checkFlags) check() error {
	if err := f.outputFlags.check(); err != nil {
		return err
	}
	if f.jobs < 1 {
		return fmt.Errorf("--jobs: %d is less than 1", f.jobs)
	}
	if err := f.summary.check(); err != nil {
		return err
	}
	if err := f.checkPixels(); err != nil {
		return err
	}
	return f.pickFlags.check(f.writeBaseline != "")
}

func (f *outputFlags) check() error {
	if f.failOn != "" {
		if _, err := setup.OneOf("fail-on", f.failOn, preflight.FailOnWords...); err != nil {
			return err
		}
	}
	if _, err := setup.OneOf("format", f.format, formats...); err != nil {
		return err
	}
	if f.brief && f.format != "text" {
		return fmt.Errorf("--brief is about text, and --format asks for %s", f.format)
	}
	return nil
}

// makeOut makes the folder of --out and tries whether it can be written to.
func makeOut(dir string) error {
	fail := func(err error) error {
		return problem.About(dir, err).Unwritable("results cannot be written here")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fail(err)
	}
	probe, err := os.CreateTemp(dir, ".peelcheck-*.tmp")
	if err != nil {
		return fail(err)
	}
	probe.Close()
	return os.Remove(probe.Name())
}

// take prints what became of one file.
func (r *checkRun) take(o judging.Outcome) error {
	if r.writer == nil {
		r.writer = r.open(o.Pages)
	}
	for _, rep := range o.Reports {
		switch {
		case r.plan.writer != nil:
			r.plan.writer.Add(rep, o.Source.Path)
		case r.failing.add(rep):
			r.say.raise(exitFindings)
		}
		if err := r.writer.Add(rep); err != nil {
			return problem.About("standard output", err)
		}
	}
	if err := r.out.Flush(); err != nil {
		return problem.About("standard output", err)
	}
	for _, p := range o.Problems {
		r.say.raise(exitTrouble)
		if err := r.writer.Fail(troubleOf(o.Source.Path, p)); err != nil {
			return problem.About("standard output", err)
		}
		if text := p.Error(); !r.told[text] {
			r.told[text] = true
			r.say.problem(p)
		}
	}
	if o.Written > 0 {
		r.plan.noteOrigin(&r.plan.tasks[r.complete])
	}
	r.written += o.Written
	r.complete++
	return nil
}
