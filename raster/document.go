package raster

import (
	"errors"
	"fmt"
)

// Document is a file whose pages can be turned into pictures. An image file is a document of one page.
// It is not safe for concurrent use.
type Document interface {
	// Format is the lower-case name of the file format: "png", "jpeg", "tiff", "webp", "bmp", "gif", "pdf".
	Format() string
	// Pages is the number of pages, at least 1.
	Pages() int
	// Page decodes or renders one page, counted from 1. ppi asks for a rendering resolution where the page has none of
	// its own (vector pages) and is ignored for image files; zero means the default.
	Page(number int, ppi float64) (*Picture, error)
	// Close frees what the document holds.
	Close() error
}

// ErrUnreadable is matched by every error that says a file is broken or not one we can read.
var ErrUnreadable = errors.New("unreadable")

// Fault says in plain words why a file could not be read and what to do about it. It matches ErrUnreadable.
type Fault struct {
	Reason string // lower-case phrase, no period: "the file ends in the middle of the picture"
	Remedy string // what to do next, as a sentence without period: "export it again"
	Err    error  // the cause, may be nil
}

func (f *Fault) Error() string {
	if f.Err != nil {
		return fmt.Sprintf("%s (%v)", f.Reason, f.Err)
	}
	return f.Reason
}

func (f *Fault) Unwrap() error { return f.Err }

// Is reports whether target is ErrUnreadable.
func (f *Fault) Is(target error) bool { return target == ErrUnreadable }

// DefaultMaxPixels is the largest picture that is decoded unless the caller says otherwise; pages of documents have a lower bound of
// their own.
const DefaultMaxPixels = 400_000_000
