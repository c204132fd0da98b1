package judging

import (
	"fmt"
	"os"
	"path/filepath"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/reportfiles"
	"peelcheck/preflight/report"
)

// spare refuses a task whose results would take the place of another artwork's.
func (b *Bench) spare(t *Task) error {
	if b.opt.Origins == nil {
		return nil
	}
	other, taken := b.opt.Origins.takenBy(t.To, t.Source, b.opt.Page, b.opt.MaxPixels)
	if other == "" {
		return nil
	}
	taken = report.Printable(filepath.ToSlash(taken))
	return problem.New(t.Source.Path, fmt.Sprintf("its report would be written over %s, which is that of %s", taken, report.Printable(other)),
		"name another folder with --out, or both files in one call, or remove the old report")
}

// takenBy is the name of another artwork whose report lies where that of a source would be written, and the report; both are empty if there is
// none. It is another if its content differs and it is not the same file; for a source found in a folder, only if that other is found from
// here. page is the one that was asked for, as in Options.
func (o *Origins) takenBy(to Target, s artfile.Source, page int, maxPixels int64) (name, report string) {
	for _, n := range []int{0, max(1, page)} {
		at := to
		if n > 0 {
			at = to.Page(n, n+1)
		}
		there, err := reportfiles.ArtworkOf(at.Report())
		if err != nil || there.File == "" {
			continue
		}
		name = o.other(to, there.File, s.Path)
		if name == "" || s.Root != "" && !exists(name) {
			continue
		}
		if sum, err := artfile.Sum(s.At(), maxPixels); err != nil || sum == there.SHA256 {
			continue // a copy is the same artwork; a file that cannot be read writes nothing
		}
		return name, at.Report()
	}
	return "", ""
}

// other is the name, from here, of the artwork of a target, which its report calls so, if it is another than the file here; else empty.
func (o *Origins) other(to Target, called, here string) string {
	origin, abs := o.of(to, called), absolute(here)
	switch {
	case origin == "" && otherFile(filepath.FromSlash(called), here):
		return called
	case origin == "" || !otherFile(origin, abs):
		return ""
	}
	if name, err := filepath.Rel(absolute("."), origin); err == nil {
		return filepath.ToSlash(name)
	}
	return called
}

func exists(name string) bool {
	_, err := os.Stat(filepath.FromSlash(name))
	return err == nil
}

func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

// otherFile reports whether the artwork called there in a report is another than the file here. One that is not found from here by a relative
// name may be either.
func otherFile(there, here string) bool {
	if filepath.Clean(there) == filepath.Clean(here) {
		return false // also where it is gone and judged as git has it
	}
	its, err := os.Stat(there)
	if err != nil {
		return !filepath.IsAbs(there) // else it is gone
	}
	mine, err := os.Stat(here)
	return err != nil || !os.SameFile(its, mine)
}
