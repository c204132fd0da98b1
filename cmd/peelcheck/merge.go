package main

import (
	"bufio"
	"errors"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/reportfiles"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func newMerge(say *speaker) *cobra.Command {
	var f outputFlags
	asked := setup.Asked{Tell: say.problem}
	cmd := &cobra.Command{
		Use:   "merge REPORT...",
		Short: "Joins the reports of several runs into one",
		Long: `Joins reports that "check --format json" printed or wrote, as those of the parts of a library judged with --shard,
and prints them as check would have: sorted by file, each artwork once. In folders it reads every .json file.

A file that is not a whole report is told, and so is an artwork that was judged differently in two of them.

Exit codes: 0 nothing at or above --fail-on was found; 1 something was; 2 some report could not be read, or
there is none.`,
		Example: `  peelcheck merge parts
  peelcheck merge part-1.json part-2.json --format json --fail-on warning`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem.Problem{Reason: "no report named", Remedy: "write: " + cmd.UseLine()}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return merge(say, &f, &asked, args) },
	}
	f.add(cmd.Flags())
	cmd.Flags().StringVar(&asked.Config, "config", "", "the shop's settings `FILE`, for fail_on (default "+setup.DefaultConfig+" in the current folder, if present)")
	return cmd
}

func merge(say *speaker, f *outputFlags, asked *setup.Asked, names []string) error {
	if err := f.check(); err != nil {
		return err
	}
	shop, err := asked.Settings()
	if err != nil {
		return err
	}
	failOn := setup.First(f.failOn, shop.FailOn, string(preflight.LevelError))
	reports, problems := reportfiles.Read(names)
	out := bufio.NewWriter(say)
	w := f.formatWriter(out, say, failOn, true)
	for _, rep := range reports {
		if rep.Counts.Reach(failOn) {
			say.raise(exitFindings)
		}
		if err := w.Add(rep); err != nil {
			return problem.About("standard output", err)
		}
	}
	for _, p := range problems {
		say.raise(exitTrouble)
		if err := w.Fail(report.Trouble{Text: p.Error()}); err != nil {
			return problem.About("standard output", err)
		}
	}
	if err := errors.Join(w.Close(), out.Flush()); err != nil {
		return problem.About("standard output", err)
	}
	for _, p := range problems {
		say.problem(p)
	}
	if len(reports) == 0 && len(problems) == 0 {
		return &problem.Problem{Reason: "nothing was judged: the files named hold no report", Remedy: "see whether the runs that wrote them found the artwork"}
	}
	return nil
}
