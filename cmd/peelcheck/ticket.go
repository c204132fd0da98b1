package main

import (
	"context"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/artfile"
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
	f.add(cmd.Flags())
	return cmd
}

func exactlyOneFile(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return &problem{reason: "a ticket is for one file", remedy: "call it once for each"}
	}
	return atLeastOneFile(cmd, args)
}

func writeTickets(ctx context.Context, say *speaker, f *jobFlags, names []string) error {
	shop, err := f.settings()
	if err != nil {
		return err
	}
	job, err := f.job(shop)
	if err != nil {
		return err
	}
	sources, folder := artfile.Gather(names)
	if folder {
		return &problem{names[0], "this is a folder, and a ticket is for one file", "name the artwork"}
	}
	return newBench(job, f, say).judgeAll(ctx, sources, make([]target, len(sources)), 1, func(o outcome) error {
		for _, p := range o.problems {
			say.raise(exitTrouble)
			say.problem(p)
		}
		for _, rep := range o.reports {
			if err := report.Ticket(say, rep, say.outIsTerminal && say.colour); err != nil {
				return about("standard output", err)
			}
		}
		return nil
	})
}
