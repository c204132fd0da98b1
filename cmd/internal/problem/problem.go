// Package problem says in plain words, on one line, what kept the program from doing what was asked and what to do next. Start at About.
package problem

import (
	"errors"
	"io/fs"
	"strconv"
	"strings"
	"syscall"

	"peelcheck/preflight/report"
	"peelcheck/raster"
)

// Problem is something that kept the program from doing what was asked. It prints on one line, as "FILE: reason; remedy".
type Problem struct {
	File   string // or folder; empty if it is about the call
	Reason string // lower-case phrase without period
	Remedy string // what to do next, may be empty
	cause  error  // nil where it is of no matter
}

// New returns a problem.
func New(file, reason, remedy string) *Problem {
	return &Problem{File: file, Reason: reason, Remedy: remedy}
}

// Unwrap returns the error that Reason repeats, nil if there is none.
func (p *Problem) Unwrap() error { return p.cause }

// Error returns the line.
func (p *Problem) Error() string {
	text := p.Reason
	if p.File != "" {
		text = report.Printable(p.File) + ": " + text
	}
	if p.Remedy != "" {
		text += "; " + p.Remedy
	}
	return text
}

// Unwritable makes it a problem with a place for results.
func (p *Problem) Unwritable(what string) *Problem {
	return New(p.File, what+": "+p.Reason, "name another folder with --out")
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

// About makes a problem of an error met with a file.
func About(file string, err error) *Problem {
	if strings.TrimSpace(file) == "" {
		file = strconv.Quote(file)
	}
	var known *Problem
	var fault *raster.Fault
	switch {
	case errors.As(err, &known):
		return known
	case errors.As(err, &fault):
		return New(file, fault.Reason, fault.Remedy)
	}
	for _, s := range systemErrors {
		if errors.Is(err, s.is) {
			return New(file, s.reason, s.remedy)
		}
	}
	if number := syscall.Errno(0); errors.As(err, &number) {
		return New(file, "the system says: "+number.Error(), "try again, or copy it to another disk first")
	}
	return &Problem{File: file, Reason: err.Error(), cause: err}
}
