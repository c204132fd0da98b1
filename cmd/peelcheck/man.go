package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

func newMan(say *speaker) *cobra.Command {
	return &cobra.Command{
		Use:    "man DIR",
		Short:  "Writes the manual pages",
		Long:   "Writes a manual page for each command, peelcheck.1, peelcheck-check.1 and so on, into a folder, which is made if missing.",
		Hidden: true, // for whoever packs the program
		Args:   atMostOne("folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem.Problem{Reason: "no folder named", Remedy: "write: peelcheck man DIR"}
			}
			if err := makeOut(args[0]); err != nil {
				return err
			}
			n, err := writeMan(cmd.Context(), cmd.Root(), args[0])
			if err != nil {
				return err
			}
			return say.text(fmt.Sprintf("Written: %d manual pages in %s\n", n, args[0]))
		},
	}
}

// writeMan writes the page of a command and of those below it, and counts them.
func writeMan(ctx context.Context, cmd *cobra.Command, dir string) (n int, err error) {
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() && !c.IsAdditionalHelpTopicCommand() {
			below, err := writeMan(ctx, c, dir)
			if n += below; err != nil {
				return n, err
			}
		}
	}
	cmd.DisableAutoGenTag = true
	if jobs := cmd.Flags().Lookup("jobs"); jobs != nil {
		jobs.DefValue = "one a processor" // not those of the machine that writes the page
	}
	header := &doc.GenManHeader{Section: "1", Source: preflight.ToolName + " " + preflight.Version, Manual: "Transfer artwork"}
	if at, err := time.Parse(time.RFC3339, buildSettings()["vcs.time"]); err == nil {
		header.Date = &at // of the commit; else that of today, or of SOURCE_DATE_EPOCH
	}
	path := filepath.Join(dir, strings.ReplaceAll(cmd.CommandPath(), " ", "-")+".1")
	err = outfile.Write(ctx, path, func(w io.Writer) error { return doc.GenMan(cmd, header, w) })
	if err != nil {
		return n, problem.About(path, err)
	}
	return n + 1, nil
}
