package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

func newRoot(say *speaker) *cobra.Command {
	root := &cobra.Command{
		Use:   "peelcheck",
		Short: "Looks at transfer artwork before it is printed",
		Long: `peelcheck looks at artwork for white and colour transfer printing before it is printed. It says what will
print white, finds what will not transfer cleanly, and checks size, orientation and fit.

Exit codes: 0 nothing at or above --fail-on was found; 1 something was; 2 some artwork could not be judged,
or the call was wrong.`,
		Version:       versionWords(buildSettings()),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem.Problem{Reason: "no command given", Remedy: "see peelcheck --help, or start with: peelcheck check FILE"}
			}
			return unknownCommand(cmd, args[0])
		},
	}
	root.SetVersionTemplate("peelcheck {{.Version}}\n")
	root.SetFlagErrorFunc(flagProblem)
	root.AddCommand(newCheck(say), newMerge(say), newPrepare(say), newWatch(say), newServe(say), newTicket(say), newRules(say), newProcess(say), newPlaces(say), newInit(say), newMan(say))
	completeWords(root)
	return root
}

// atMostOne refuses more than one argument, which what names.
func atMostOne(what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > 1 {
			return &problem.Problem{Reason: fmt.Sprintf("%d names given, and one %s is shown at a time", len(args), what), Remedy: "name one"}
		}
		return nil
	}
}

func unknownCommand(root *cobra.Command, word string) error {
	var names []string
	for _, c := range root.Commands() {
		names = append(names, c.Name())
	}
	if near := preflight.Nearest(word, names); near != "" {
		return &problem.Problem{Reason: fmt.Sprintf("there is no command %q", word), Remedy: fmt.Sprintf("did you mean %q?", near)}
	}
	if _, err := os.Stat(word); err == nil {
		return &problem.Problem{Reason: fmt.Sprintf("there is no command %q", word), Remedy: fmt.Sprintf("to judge that file write: peelcheck check %s", word)}
	}
	return &problem.Problem{Reason: fmt.Sprintf("there is no command %q", word), Remedy: "see peelcheck --help"}
}

// flagProblem puts a flag's error into our own words.
func flagProblem(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &invalid):
		reason := errors.Unwrap(err).Error()
		switch {
		case invalid.GetFlag().Value.Type() == "bool":
			reason = fmt.Sprintf("%q is neither true nor false", invalid.GetValue())
		case strings.HasPrefix(reason, "strconv."):
			reason = fmt.Sprintf("%q is not a whole number", invalid.GetValue())
		}
		return &problem.Problem{Reason: fmt.Sprintf("--%s: %s", invalid.GetFlag().Name, reason)}
	case errors.As(err, &unknown):
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := preflight.Nearest(unknown.GetSpecifiedName(), names); near != "" && len(unknown.GetSpecifiedName()) > 1 {
			return &problem.Problem{Reason: err.Error(), Remedy: fmt.Sprintf("did you mean --%s?", near)}
		}
	}
	return &problem.Problem{Reason: err.Error(), Remedy: fmt.Sprintf("see %s --help", cmd.CommandPath())}
}
