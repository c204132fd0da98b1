package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"peelcheck/preflight/report"
	"peelcheck/raster"
)

// What goes where: results to standard output; problems to standard error, one line each, as
// "peelcheck: FILE: reason; remedy"; a progress line to standard error only if that is a terminal.

// problem is something that kept the program from doing what was asked.
type problem struct {
	file   string // or folder; empty if it is about the call
	reason string // lower-case phrase without period
	remedy string // what to do next, may be empty
}

func (p *problem) Error() string {
	text := p.reason
	if p.file != "" {
		text = report.Printable(p.file) + ": " + text
	}
	if p.remedy != "" {
		text += "; " + p.remedy
	}
	return text
}

// unwritable makes it a problem with a place for results.
func (p *problem) unwritable(what string) *problem {
	return &problem{p.file, what + ": " + p.reason, "name another folder with --out"}
}

// systemErrors are what a shop may meet, in plain words.
var systemErrors = []struct {
	is             error
	reason, remedy string
}{
	{fs.ErrNotExist, "there is no such file or folder", "check the name and the folder you are in"},
	{fs.ErrPermission, "permission is refused", "change its permissions or copy it to a folder of your own"},
	{syscall.ENOSPC, "the disk is full", "make room or name another folder with --out"},
	{syscall.EISDIR, "this is a folder, not a file", "name a file"},
	{syscall.ENOTDIR, "a file of this name, or on the way there, is not a folder", "check the name"},
	{syscall.ELOOP, "the link leads in a circle", "take the link away or name the file itself"},
	{syscall.ENAMETOOLONG, "the name is too long", "give it a shorter one"},
	{syscall.EROFS, "the disk can only be read", "name another folder with --out"},
	{syscall.EPIPE, "it was closed before all was printed", "what was written to files is complete"},
}

// about makes a problem of an error met with a file.
func about(file string, err error) *problem {
	if strings.TrimSpace(file) == "" {
		file = strconv.Quote(file)
	}
	var known *problem
	var fault *raster.Fault
	switch {
	case errors.As(err, &known):
		return known
	case errors.As(err, &fault):
		return &problem{file, fault.Reason, fault.Remedy}
	}
	for _, s := range systemErrors {
		if errors.Is(err, s.is) {
			return &problem{file, s.reason, s.remedy}
		}
	}
	if number := syscall.Errno(0); errors.As(err, &number) {
		return &problem{file, "the system says: " + number.Error(), "try again, or copy it to another disk first"}
	}
	return &problem{file, err.Error(), ""}
}

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
func (s *speaker) problem(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.clear()
	fmt.Fprintf(s.err, "peelcheck: %s\n", report.Printable(oneLine.Replace(err.Error())))
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
		return about("standard output", err)
	}
	return nil
}
