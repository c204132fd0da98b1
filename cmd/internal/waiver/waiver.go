// Package waiver says which findings do not count for a while, by a person's decision. Start at List.For.
package waiver

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"peelcheck/cmd/internal/globs"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// Waiver is one with the folder, absolute, from which its pattern counts.
type Waiver struct {
	preflight.Waiver
	Base string
}

// List are waivers, the one that wins last.
type List []Waiver

// Read reads a file of waivers.
func Read(name string) (List, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, problem.About(name, err)
	}
	defer f.Close()
	const most = 1 << 20 // ParseWaivers reads less, and says so
	data, err := io.ReadAll(io.LimitReader(f, most))
	if err != nil {
		return nil, problem.About(name, err)
	}
	return Parse(name, data)
}

// Parse takes the text of the file so named.
func Parse(name string, data []byte) (List, error) {
	found, err := preflight.ParseWaivers(filepath.ToSlash(name), data)
	if err != nil {
		return nil, &problem.Problem{Reason: err.Error()}
	}
	return In(name, found)
}

// In gives waivers of the settings file so named the folder it lies in.
func In(name string, found []preflight.Waiver) (List, error) {
	base, err := filepath.Abs(filepath.Dir(name))
	if err != nil {
		return nil, problem.About(name, err)
	}
	var list List
	for _, w := range found {
		list = append(list, Waiver{w, base})
	}
	return list, nil
}

// Check refuses a waiver of a rule that there is not, with its place.
func (l List) Check(rules []*preflight.Rule) error {
	ids := make([]string, len(rules))
	for i, r := range rules {
		ids[i] = r.ID
	}
	for _, w := range l {
		if slices.Contains(ids, w.Rule) {
			continue
		}
		fault := fmt.Sprintf("there is no rule %q: \"peelcheck rules\" lists them", w.Rule)
		if near := preflight.Nearest(w.Rule, ids); near != "" {
			fault = fmt.Sprintf("there is no rule %q; did you mean %q?", w.Rule, near)
		}
		return &problem.Problem{Reason: (&preflight.ConfigError{File: w.File, Line: w.Line, Column: w.Column, Fault: fault}).Error()}
	}
	return nil
}

// Holding parts the list in those that hold on a day, written as 2026-12-31, and those that have ended.
func (l List) Holding(day string) (holding, ended List) {
	for _, w := range l {
		if w.Until >= day { // days so written sort as they follow each other
			holding = append(holding, w)
		} else {
			ended = append(ended, w)
		}
	}
	return holding, ended
}

// Place is where the waiver is written.
func (w *Waiver) Place() string { return fmt.Sprintf("%s:%d:%d", w.File, w.Line, w.Column) }

// For returns the waiver of a rule's findings in the file at path, absolute; nil if there is none.
func (l List) For(path, rule string) *Waiver {
	for i := len(l) - 1; i >= 0; i-- {
		if w := &l[i]; w.Rule == rule && globs.Match(w.Base, w.Files, path) {
			return w
		}
	}
	return nil
}
