package main

import (
	"fmt"
	"io"
	"strings"
	"sync"

	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight/report"
)

// What goes where: results to standard output; problems to standard error, one line each, as
// "peelcheck: FILE: reason; remedy"; a progress line to standard error only if that is a terminal.

// speaker writes to the terminal and keeps the exit code. It is safe for concurrent use.
type speaker struct {
	terminal
	mu       sync.Mutex
	exit     int
	progress bool // a progress line stands on the terminal
}

// raise makes the exit code at least code.
func (s *speaker) raise(code int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.exit = max(s.exit, code)
}

// oneLine keeps an error of several lines, as some libraries make them, on one.
var oneLine = strings.NewReplacer("\r\n", " ", "\n", " ")

// problem writes one line on standard error.
func (s *speaker) problem(err error) { s.timed("", err) }

// timed writes a problem behind the time of day.
func (s *speaker) timed(when string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.clear()
	fmt.Fprintf(s.err, "%speelcheck: %s\n", when, report.Printable(oneLine.Replace(err.Error())))
}

// status shows a progress line where standard error is a terminal. An empty text takes it away.
func (s *speaker) status(text string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.errIsTerminal {
		return
	}
	s.clear()
	if text != "" {
		const most = 78
		if r := []rune(report.Printable(text)); len(r) > most {
			text = string(r[:most])
		}
		fmt.Fprint(s.err, report.Printable(text))
		s.progress = true
	}
}

// clear takes the progress line away (EL and CR of ECMA-48).
func (s *speaker) clear() {
	if s.progress {
		fmt.Fprint(s.err, "\r\x1b[K")
		s.progress = false
	}
}

// Write passes results to standard output, out of the way of the progress line.
func (s *speaker) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.clear()
	return s.out.Write(p)
}

// text writes a result to standard output.
func (s *speaker) text(text string) error {
	if _, err := io.WriteString(s, text); err != nil {
		return problem.About("standard output", err)
	}
	return nil
}
