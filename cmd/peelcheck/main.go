// Command peelcheck looks at artwork for white and colour transfer printing before it is printed.
//
// It exits with 0 when nothing at or above --fail-on was found, 1 when something was, and 2 when some artwork could not
// be judged or the call was wrong.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"

	"golang.org/x/term"

	"peelcheck/cmd/internal/judging"
)

// The exit codes, worst last.
const (
	exitClean    = 0
	exitFindings = 1
	exitTrouble  = 2
)

func main() {
	signal.Ignore(syscall.SIGPIPE) // a reader that goes away, as "| head" does, shows as an error and leaves no file half written
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second interrupt ends the program at once
	}()
	os.Exit(run(ctx, os.Args[1:], terminal{
		out: os.Stdout, err: os.Stderr,
		outIsTerminal: term.IsTerminal(int(os.Stdout.Fd())),
		errIsTerminal: term.IsTerminal(int(os.Stderr.Fd())),
		colour:        os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb",
	}))
}

// terminal is where the program writes and what it may do there.
type terminal struct {
	out, err                     io.Writer
	outIsTerminal, errIsTerminal bool
	colour                       bool
}

// run is the program without the process around it. It returns the exit code.
func run(ctx context.Context, args []string, to terminal) int {
	judging.BoundGarbage()
	say := &speaker{terminal: to}
	root := newRoot(say)
	root.SetArgs(args)
	root.SetOut(to.out)
	root.SetErr(to.err)
	if err := root.ExecuteContext(ctx); err != nil {
		say.problem(err)
		say.raise(exitTrouble)
	}
	return say.exit
}
