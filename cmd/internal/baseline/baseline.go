// Package baseline knows findings again that were accepted before. Start at Read or Write.
//
// A baseline holds, for each artwork with findings, its name from the baseline's own folder, its content's hash, its sizes and, for each
// finding, rule, plane, level, box and measure. An artwork is known by its content; else by its name; else, if neither is known, by its
// likeness to one whose content and name are not in the library any more. Its findings are then matched one to one with those of the
// baseline: of one rule and plane, no worse a level, no edge of the box moved by more than ShiftMM, the measure alike within MeasureShare.
// Where a picture was cropped or padded, boxes are compared from the corner of what prints instead. Of all such matchings, one of the
// most pairs is taken, the nearest first: a box that moved across a rounding boundary or a row of alike dots that all moved loses none.
package baseline

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// How far a finding may stray and still be the same.
const (
	ShiftMM      = 1.0  // each edge of its box, in millimetres
	MeasureShare = 0.15 // of the larger of both measures
)

// Artworks are taken for one another without their content or name only if they are this much alike.
const (
	likeSize  = 0.02 // how far width and height may differ, as a share
	likeShare = 0.5  // of the findings of both that must match, at least
)

// version is that of the file's layout.
const version = 1

// file is a baseline as it is written.
type file struct {
	Version  int            `json:"baseline_version"`
	Tool     preflight.Tool `json:"tool"`
	Artworks []Artwork      `json:"artworks"`
}

// Artwork is one page with the findings that are accepted in it.
type Artwork struct {
	File         string          `json:"file"` // with slashes, from the baseline's folder
	SHA256       string          `json:"sha256"`
	Page         int             `json:"page"`
	WidthMM      float64         `json:"width_mm"`
	HeightMM     float64         `json:"height_mm"`
	PrintedBoxMM preflight.BoxMM `json:"printed_box_mm"`
	Findings     []Finding       `json:"findings"`
}

// Finding is what a finding is known by.
type Finding struct {
	Rule    string          `json:"rule"`
	Level   preflight.Level `json:"level"`
	Plane   preflight.Plane `json:"plane,omitempty"`
	BoxMM   preflight.BoxMM `json:"box_mm"`
	Measure float64         `json:"measure"`
	Unit    string          `json:"unit"`
}

// Present is a file of the library as it is now.
type Present struct{ Path, SHA256 string }

// Baseline is one that was read. It is safe for concurrent use.
type Baseline struct {
	dir     string
	bySum   map[string][]*Artwork
	byName  map[string][]*Artwork
	orphans []*Artwork // whose content and name are not in the library any more
}

// Read reads a baseline for a library of which all files are present. Errors are a *problem.Problem.
func Read(name string, library []Present) (*Baseline, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, problem.About(name, err)
	}
	return Parse(name, data, library)
}

// Parse takes the text of the baseline so named, as Read does.
func Parse(name string, data []byte, library []Present) (*Baseline, error) {
	artworks, err := parse(name, data)
	if err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(filepath.Dir(name))
	if err != nil {
		return nil, problem.About(name, err)
	}
	b := &Baseline{dir: dir, bySum: map[string][]*Artwork{}, byName: map[string][]*Artwork{}}
	b.index(artworks, library)
	return b, nil
}

func parse(name string, data []byte) ([]Artwork, error) {
	var f file
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil || f.Version != version {
		reason := fmt.Sprintf("this is no baseline of layout %d", version)
		if err != nil {
			reason += fmt.Sprintf(" (near byte %d: %v)", dec.InputOffset(), err)
		}
		return nil, problem.New(name, reason, "take it away, then write it anew with --write-baseline")
	}
	return f.Artworks, nil
}

func (b *Baseline) index(artworks []Artwork, library []Present) {
	here := map[string]bool{}
	for _, p := range library {
		here[p.SHA256], here[nameFrom(b.dir, p.Path)] = true, true
	}
	for i := range artworks {
		a := &artworks[i]
		b.bySum[a.SHA256] = append(b.bySum[a.SHA256], a)
		b.byName[a.File] = append(b.byName[a.File], a)
		if !here[a.SHA256] && !here[a.File] {
			b.orphans = append(b.orphans, a)
		}
	}
}

// nameFrom names a file from a folder, with slashes.
func nameFrom(dir, path string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		return filepath.ToSlash(path)
	}
	rel, err := filepath.Rel(dir, abs)
	if err != nil {
		return filepath.ToSlash(abs)
	}
	return filepath.ToSlash(rel)
}

// Known reports for each finding of a report whether the baseline holds it. Those that skip names are left out. path is the artwork's.
func (b *Baseline) Known(rep *preflight.Report, path string, skip []bool) []bool {
	now := artworkOf(rep, nameFrom(b.dir, path), func(i int) bool { return skip[i] })
	known := make([]bool, len(rep.Findings))
	held := b.artwork(&now)
	if held == nil {
		return known
	}
	pairs := match(held, &now)
	at := 0
	for i := range rep.Findings {
		if skip[i] {
			continue
		}
		known[i] = pairs[at] >= 0
		at++
	}
	return known
}

// artwork finds the artwork that now was: by content, then by name, then by likeness.
func (b *Baseline) artwork(now *Artwork) *Artwork {
	same := func(list []*Artwork) *Artwork {
		var found *Artwork
		for _, a := range list {
			if a.Page == now.Page && (found == nil || a.File == now.File) {
				found = a
			}
		}
		return found
	}
	return cmp.Or(same(b.bySum[now.SHA256]), same(b.byName[now.File]), b.likest(now))
}

func (b *Baseline) likest(now *Artwork) (found *Artwork) {
	best := 0.0
	for _, a := range b.orphans {
		if a.Page != now.Page || !near(a.WidthMM, now.WidthMM, likeSize) || !near(a.HeightMM, now.HeightMM, likeSize) {
			continue
		}
		pairs := 0
		for _, p := range match(a, now) {
			if p >= 0 {
				pairs++
			}
		}
		if share := float64(pairs) / float64(max(len(a.Findings), len(now.Findings), 1)); share >= likeShare && share > best {
			best, found = share, a
		}
	}
	return found
}

// Writer gathers what a baseline is to hold.
type Writer struct {
	name, dir string
	file      file
	old       []Artwork // of the file that is there already

	judged, holds map[page]bool // now, and by the older file
	judgedFiles   map[string]bool
}

// page is one page of an artwork, which is named from the baseline's folder.
type page struct {
	file   string
	number int
}

// NewWriter returns a Writer of the baseline so named. Errors, as of an older file there that cannot be read, are a *problem.Problem.
func NewWriter(name string) (*Writer, error) {
	dir, err := filepath.Abs(filepath.Dir(name))
	if err != nil {
		return nil, problem.About(name, err)
	}
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return nil, problem.New(filepath.Dir(name), "there is no such folder to write the baseline to", "make it, or name another file with --write-baseline")
	}
	w := &Writer{name: name, dir: dir, judged: map[page]bool{}, holds: map[page]bool{}, judgedFiles: map[string]bool{}}
	w.file = file{Version: version, Tool: preflight.Tool{Name: preflight.ToolName, Version: preflight.Version}, Artworks: []Artwork{}}
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() && info.Size() > 0 {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, problem.About(name, err)
		}
		if w.old, err = parse(name, data); err != nil {
			return nil, err
		}
	}
	for i := range w.old {
		w.holds[page{w.old[i].File, w.old[i].Page}] = true
	}
	return w, nil
}

// Add takes the findings of a report, but for those a waiver holds: they are to count again when it ends.
func (w *Writer) Add(rep *preflight.Report, path string) {
	a := artworkOf(rep, nameFrom(w.dir, path), func(i int) bool {
		accepted := rep.Findings[i].Accepted
		return accepted != nil && accepted.By == preflight.AcceptedByWaiver
	})
	w.judged[page{a.File, a.Page}], w.judgedFiles[a.File] = true, true
	if len(a.Findings) > 0 {
		w.file.Artworks = append(w.file.Artworks, a)
	}
}

// Count is the number of findings taken.
func (w *Writer) Count() int { return findings(w.file.Artworks) }

func findings(artworks []Artwork) (n int) {
	for i := range artworks {
		n += len(artworks[i].Findings)
	}
	return n
}

// Keep takes over from the older file what it holds of artwork that is still there and was not judged, also where it lies under another name
// now. It returns how many findings that makes, and how many others of the older file were not found again.
func (w *Writer) Keep() (kept, gone int) {
	now := Baseline{bySum: map[string][]*Artwork{}, byName: map[string][]*Artwork{}}
	now.index(slices.Clone(w.file.Artworks), nil)
	now.orphans = nil // by content or name, never by likeness
	elsewhere := search{w: w}
	keep := func(a Artwork) {
		w.file.Artworks = append(w.file.Artworks, a)
		kept += len(a.Findings)
	}
	for i := range w.old {
		a := &w.old[i]
		if !w.judged[page{a.File, a.Page}] && w.exists(a.File) {
			keep(*a)
			continue
		}
		if len(now.bySum[a.SHA256]) == 0 {
			if name := elsewhere.find(a); name != "" {
				moved := *a
				moved.File = name
				keep(moved)
				continue
			}
		}
		gone += len(a.Findings)
		if found := now.artwork(a); found != nil {
			gone -= paired(match(a, found))
		}
	}
	return kept, gone
}

// path is where a file named from the baseline's folder lies.
func (w *Writer) path(file string) string {
	path := filepath.FromSlash(file)
	if !filepath.IsAbs(path) {
		path = filepath.Join(w.dir, path)
	}
	return path
}

func (w *Writer) exists(file string) bool {
	_, err := os.Stat(w.path(file))
	return !errors.Is(err, fs.ErrNotExist)
}

// Write writes the baseline, whole or not at all.
func (w *Writer) Write(ctx context.Context) error {
	slices.SortStableFunc(w.file.Artworks, func(a, b Artwork) int { return cmp.Or(cmp.Compare(a.File, b.File), a.Page-b.Page) })
	err := outfile.Write(ctx, w.name, func(out io.Writer) error {
		enc := json.NewEncoder(out)
		enc.SetIndent("", " ")
		return enc.Encode(&w.file)
	})
	if err != nil {
		return problem.About(w.name, err)
	}
	return nil
}

func artworkOf(rep *preflight.Report, name string, skip func(i int) bool) Artwork {
	i := &rep.Artwork
	a := Artwork{File: name, SHA256: i.SHA256, Page: i.Page, WidthMM: i.WidthMM, HeightMM: i.HeightMM, PrintedBoxMM: i.PrintedBoxMM}
	for k := range rep.Findings {
		if f := &rep.Findings[k]; !skip(k) {
			a.Findings = append(a.Findings, Finding{Rule: f.Rule, Level: f.Level, Plane: f.Plane, BoxMM: f.BoxMM, Measure: f.Measure.Value, Unit: f.Measure.Unit})
		}
	}
	return a
}
