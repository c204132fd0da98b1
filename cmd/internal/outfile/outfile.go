// Package outfile writes files that are either complete or absent, and marks the pictures this program drew so that it
// never takes them for artwork.
package outfile

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Write calls fill with a temporary file beside path, flushes it to the disk and moves it to path. On an error, or when
// ctx is done, nothing is left behind and an older file at path stays as it was.
func Write(ctx context.Context, path string, fill func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".peelcheck-*.tmp")
	if err != nil {
		return fmt.Errorf("outfile: %w", bare(err))
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriterSize(&stoppable{ctx, f}, 1<<16)
	if err := fill(w); err != nil {
		return err
	}
	if err := errors.Join(w.Flush(), f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("outfile: %w", bare(err))
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fmt.Errorf("outfile: %w", bare(err))
	}
	return nil
}

// bare takes the path off an error of package os: the temporary file's name helps nobody.
func bare(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}

type stoppable struct {
	ctx context.Context
	w   io.Writer
}

func (s *stoppable) Write(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.w.Write(p)
}

const (
	signature = "\x89PNG\r\n\x1a\n"     // PNG (Third Edition), 5.2
	ihdrBytes = 4 + 4 + 13 + 4          // length, type, fields, CRC: 5.3 and 11.2.1
	stampText = "Software\x00peelcheck" // keyword Software, 11.3.3.2
)

// PDFStamp is the comment line after a PDF's first two by which our own proofs are known again.
const PDFStamp = "peelcheck proof"

// stampedPDF begins such a file; the first two lines are those of any PDF (ISO 32000-1, 7.5.2).
const stampedPDF = "%PDF-1.7\n%\xe2\xe3\xcf\xd3\n%" + PDFStamp + "\n"

// StampBytes is how many bytes of a file Stamped needs to see.
const StampBytes = len(signature) + ihdrBytes + 8 + len(stampText)

// Stamped reports whether head begins a PNG written by EncodePNG, or a PDF with PDFStamp.
func Stamped(head []byte) bool {
	if bytes.HasPrefix(head, []byte(stampedPDF)) {
		return true
	}
	const at = len(signature) + ihdrBytes
	stamp := append(binary.BigEndian.AppendUint32(nil, uint32(len(stampText))), "tEXt"+stampText...)
	return len(head) >= StampBytes && bytes.HasPrefix(head, []byte(signature)) && bytes.Equal(head[at:StampBytes], stamp)
}
