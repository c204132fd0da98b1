package main

import (
	"context"
	"fmt"
	"os"
	"runtime"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

type checkFlags struct {
	jobFlags
	out, format, failOn string
	jobs                int
	outputs             judging.Outputs
	summary             summary
}

func newCheck(say *speaker) *cobra.Command {
	var f checkFlags
	cmd := &cobra.Command{
		Use:   "check FILE|DIR...",
		Short: "Judges artwork; writes a proof and a report beside it",
		Long: `Judges each artwork: what will print white, what will not transfer cleanly, whether its size fits the sheet.

Files may be PNG, JPEG, TIFF, WebP, BMP, GIF or PDF; their content counts, not their name. Folders are searched
with their subfolders; hidden files, other kinds of file and pictures drawn by peelcheck are passed over there.

For lantern.png it writes lantern.report.json and lantern.proof.png beside it, or into the folder of --out. For
a document of several pages it writes lantern.p1.report.json and so on. Where two artworks of one call would share
a name, both keep their extension: lantern.png.report.json. Artwork is never changed.

With --format json, standard output carries one report if the call comes down to one artwork, and an array of
those that could be judged if it names a folder, several files or a document of several pages. The others are
for build systems: sarif (SARIF 2.1.0), junit (test results in XML) and github (annotations, "::error file=...").

What a flag sets wins over the shop's file, the file over the process.

Exit codes: 0 nothing at or above --fail-on was found; 1 something was; 2 some artwork could not be judged, or
the call was wrong.`,
		Example: `  peelcheck check lantern.png --width 240
  peelcheck check orders --out proofs --garment navy
  peelcheck check banner.pdf --page 2 --format json --no-proof`,
		Args: atLeastOneFile,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd.Context(), say, args) },
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	f.add(fs)
	fs.StringVar(&f.out, "out", "", "folder `DIR` for reports and proofs, made if missing (default: beside the artwork)")
	fs.StringVar(&f.format, "format", "text", "what is printed: `FORMAT` is text, json, sarif, junit or github")
	fs.StringVar(&f.failOn, "fail-on", "", "`LEVEL` that makes the exit code 1: error, warning, note or never (default error)")
	fs.IntVar(&f.jobs, "jobs", runtime.GOMAXPROCS(0), "files judged at once, at most `N`")
	fs.StringVar(&f.summary.path, "summary", "", "write a table of all artwork, in Markdown, to `FILE`")
	fs.BoolVar(&f.outputs.HTML, "html", false, "write a page for a browser too, NAME.report.html")
	fs.BoolVar(&f.outputs.ProofPDF, "proof-pdf", false, "write a proof at true size too, NAME.proof.pdf")
	fs.BoolVar(&f.outputs.NoProof, "no-proof", false, "write no proof pictures")
	return cmd
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
	failOn   string
	open     func(pages int) report.Writer // given the pages of the first file
	writer   report.Writer                 // nil until the first file is done
	written  int
	complete int
	total    int
	told     map[string]bool // problems already told
}

func (f *checkFlags) run(ctx context.Context, say *speaker, names []string) error {
	r := &checkRun{say: say, told: map[string]bool{}}
	job, b, err := f.prepare(r)
	if err != nil {
		return err
	}
	sources, folder := artfile.Gather(names)
	r.total = len(sources)
	r.open = func(pages int) report.Writer {
		return f.summary.beside(f.formatWriter(say, r.failOn, folder || len(sources) > 1 || f.page == 0 && pages > 1))
	}
	say.status(fmt.Sprintf("judging %d", r.total))
	err = b.All(ctx, judging.Tasks(sources, job, f.out), f.jobs, r.take)
	say.status("")
	if ctx.Err() != nil {
		stopped := &problem.Problem{Reason: fmt.Sprintf("stopped after %d of %d files", r.complete, r.total)}
		if r.writer != nil && f.format != "text" { // what was judged stays readable
			_ = r.writer.Fail(report.Trouble{Text: stopped.Reason})
			_ = r.writer.Close()
		}
		return stopped
	}
	if err != nil {
		return err
	}
	if err := r.writer.Close(); err != nil {
		return problem.About("standard output", err)
	}
	if err := f.summary.save(ctx, b); err != nil {
		return err
	}
	if f.format == "text" && r.written > 0 {
		_, err = fmt.Fprintf(say, "Written: %s\n", f.writtenWhere(r.written))
	}
	return err
}

// prepare checks the whole call before any artwork is read.
func (f *checkFlags) prepare(r *checkRun) (preflight.Job, *judging.Bench, error) {
	job, shop, err := f.job()
	if err != nil {
		return job, nil, err
	}
	if r.failOn, err = setup.OneOf("fail-on", setup.First(f.failOn, shop.FailOn, "error"), preflight.FailOnWords...); err != nil {
		return job, nil, err
	}
	if _, err := setup.OneOf("format", f.format, formats...); err != nil {
		return job, nil, err
	}
	if err := f.summary.check(); err != nil {
		return job, nil, err
	}
	if f.jobs < 1 {
		return job, nil, fmt.Errorf("--jobs: %d is less than 1", f.jobs)
	}
	if f.out != "" {
		if err := makeOut(f.out); err != nil {
			return job, nil, err
		}
	}
	opt := f.options(r.say)
	opt.Write, opt.Outputs = true, f.outputs
	return job, judging.New(opt), nil
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
		if rep.Counts.Reach(r.failOn) {
			r.say.raise(exitFindings)
		}
		if err := r.writer.Add(rep); err != nil {
			return problem.About("standard output", err)
		}
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
	r.written += o.Written
	r.complete++
	r.say.status(fmt.Sprintf("judged %d of %d: %s", r.complete, r.total, o.Source.Path))
	return nil
}
