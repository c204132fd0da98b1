package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/reportfiles"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func newMerge(say *speaker) *cobra.Command {
	var f mergeFlags
	asked := setup.Asked{Tell: say.problem}
	cmd := &cobra.Command{
		Use:   "merge REPORT...",
		Short: "Joins the reports of several runs into one",
		Long: `Joins reports that "check --format json" printed or wrote, as those of the parts of a library judged with --shard,
and prints them as check would have: sorted by file, each artwork once. In folders it reads every .json file.

A file that is not a whole report is told, and so is an artwork that was judged differently in two of them, and a part
that is missing. What could not be judged in a part is told again.

Exit codes, as one run over all would have had: 0 nothing at or above --fail-on was found, or else at or above what
each report says for itself; 1 something was; 2 some artwork could not be judged, some report could not be read, or
a part is missing.`,
		Example: `  peelcheck merge parts
  peelcheck merge part-1.json part-2.json --format json --fail-on warning`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem.Problem{Reason: "no report named", Remedy: "write: " + cmd.UseLine()}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return merge(cmd.Context(), say, &f, &asked, args) },
	}
	f.add(cmd.Flags())
	f.summary.add(cmd.Flags())
	cmd.Flags().StringVar(&asked.Config, "config", "", "the shop's settings `FILE`, for the fail_on of reports that have none (default "+setup.DefaultConfig+" in the current folder, if present)")
	return cmd
}

type mergeFlags struct {
	outputFlags
	summary summary
}

func merge(ctx context.Context, say *speaker, f *mergeFlags, asked *setup.Asked, names []string) error {
	if err := errors.Join(f.check(), f.summary.check()); err != nil {
		return err
	}
	shop, err := asked.Settings()
	if err != nil {
		return err
	}
	library := reportfiles.Read(names)
	out := bufio.NewWriter(say)
	failOn := setup.First(f.failOn, shop.FailOn, string(preflight.LevelError))
	w := f.summary.beside(f.formatWriter(out, say, formatOptions{failOn: failOn, several: true, many: len(library.Artworks) > 1, where: "in what was merged"}))
	var fails failing
	for _, a := range library.Artworks {
		if err := f.mergeOne(say, w, &fails, a, failOn); err != nil {
			return problem.About("standard output", err)
		}
	}
	for _, p := range library.Problems {
		say.raise(exitTrouble)
		say.problem(p)
		if err := w.Fail(report.Trouble{Text: p.Error()}); err != nil {
			return problem.About("standard output", err)
		}
	}
	if err := errors.Join(w.Close(), out.Flush()); err != nil {
		return problem.About("standard output", err)
	}
	if f.format == "text" {
		if err := fails.tell(say); err != nil {
			return err
		}
	}
	bench := judging.New(judging.Options{})
	bench.Protect(names...)
	if err := f.summary.save(ctx, bench); err != nil {
		return err
	}
	return f.mergedNothing(say, &library)
}

// mergeOne takes one report, or what there is in its stead.
func (f *mergeFlags) mergeOne(say *speaker, w report.Writer, fails *failing, a reportfiles.Artwork, failOn string) error {
	if a.Report == nil {
		say.raise(exitTrouble)
		say.problem(problem.New(a.Trouble.File, a.Trouble.Text, ""))
		return w.Fail(a.Trouble)
	}
	if f.failOn != "" || a.Report.FailOn == "" {
		a.Report.FailOn = failOn
	}
	if fails.add(a.Report) {
		say.raise(exitFindings)
	}
	return w.Add(a.Report)
}

// mergedNothing tells that there was nothing to be merged. That all parts of a library are empty may be right, as after --changed-since.
func (f *mergeFlags) mergedNothing(say *speaker, library *reportfiles.Library) error {
	switch {
	case len(library.Artworks) > 0 || len(library.Problems) > 0:
		return nil
	case library.Parts == 0:
		return &problem.Problem{Reason: "nothing was judged: the files named hold no report", Remedy: "see whether the runs that wrote them found the artwork"}
	case f.format == "text":
		return say.text(fmt.Sprintf("Nothing was to be judged in any of %s.\n", countOf(library.Parts, "part")))
	}
	return nil
}
