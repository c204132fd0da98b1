// Command drawdemo draws the demonstration artwork of the Quillmoor Lantern Walk, an invented village evening, and the list
// of the faults put into it on purpose.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"golang.org/x/image/font/gofont/gobold"

	"peelcheck/cmd/internal/drawing"
)

// fault is one thing that is wrong on purpose and where. Box is in millimetres of the artwork, absent where it has no size.
// Process, Garment and Place are those it is wrong for, where they are not the defaults.
type fault struct {
	File    string       `json:"file"`
	Process string       `json:"process,omitempty"`
	Garment string       `json:"garment,omitempty"`
	Place   string       `json:"place,omitempty"`
	Page    int          `json:"page,omitempty"`
	Rule    string       `json:"rule"`
	Box     *drawing.Box `json:"box_mm,omitempty"`
	ValueMM float64      `json:"value_mm,omitempty"`
	Value   any          `json:"value,omitempty"`
	Note    string       `json:"note"`
}

// product is one artwork as drawn, ready to be written.
type product struct {
	faults []fault
	write  func(io.Writer) error
}

// artwork names a file and the function that draws it.
type artwork struct {
	file string
	draw func(*letters) product
}

// letters holds the typeface.
type letters struct{ bold *drawing.Font }

const truthFile = "truth.json"

func main() {
	out := flag.String("out", "", "folder to write to")
	flag.Parse()
	if err := run(*out, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "drawdemo: error:", err)
		os.Exit(2)
	}
}

// run draws every artwork and the list of faults into a folder.
func run(dir string, rest []string) error {
	if dir == "" {
		return errors.New("say where to write: drawdemo -out FOLDER")
	}
	if len(rest) > 0 {
		return fmt.Errorf("unexpected argument %q", rest[0])
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	bold, err := drawing.ParseFont(gobold.TTF)
	if err != nil {
		return err
	}
	l := &letters{bold}
	faults := []fault{}
	for _, a := range artworks {
		p := a.draw(l)
		var buf bytes.Buffer
		if err := p.write(&buf); err != nil {
			return fmt.Errorf("%s: %w", a.file, err)
		}
		if err := os.WriteFile(filepath.Join(dir, a.file), buf.Bytes(), 0o644); err != nil {
			return err
		}
		for _, f := range p.faults {
			f.File = a.file
			faults = append(faults, f.rounded())
		}
	}
	return writeTruth(filepath.Join(dir, truthFile), faults)
}

func writeTruth(name string, faults []fault) error {
	data, err := json.MarshalIndent(faults, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(name, append(data, '\n'), 0o644)
}
