package main

import (
	"context"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight/report"
)

func newTicket(say *speaker) *cobra.Command {
	var f jobFlags
	cmd := &cobra.Command{
		Use:   "ticket FILE",
		Short: "Prints the press operator's page for a job",
		Long: `Prints one page for the person at the printer and the press: size, sheet, how to print, press and peel, and the
cautions. The artwork is judged first; the ticket says so if it should not be printed yet. No file is written.`,
		Args: exactlyOneFile,
		RunE: func(cmd *cobra.Command, args []string) error { return writeTickets(cmd.Context(), say, &f, args) },
	}
	cmd.Flags().SortFlags = false
	f.add(cmd.Flags(), say)
	return cmd
}

func exactlyOneFile(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return &problem.Problem{Reason: "a ticket is for one file", Remedy: "call it once for each"}
	}
	return atLeastOneFile(cmd, args)
}

func writeTickets(ctx context.Context, say *speaker, f *jobFlags, names []string) error {
	job, _, err := f.job()
	if err != nil {
		return err
	}
	sources, folder, _ := artfile.Gather(names, nil)
	if folder {
		return problem.New(names[0], "this is a folder, and a ticket is for one file", "name the artwork")
	}
	return f.bench(say).All(ctx, judging.Tasks(sources, job), 1, nil, func(o judging.Outcome) error {
		for _, p := range o.Problems {
			say.raise(exitTrouble)
			say.problem(p)
		}
		for _, rep := range o.Reports {
			if err := report.Ticket(say, rep, say.outIsTerminal && say.colour); err != nil {
				return problem.About("standard output", err)
			}
		}
		return nil
	})
}
