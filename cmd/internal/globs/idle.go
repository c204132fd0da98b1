package globs

import (
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
)

// mostLookedAt bounds the names looked at, as a settings file may lie in a folder that holds a whole disk.
const mostLookedAt = 100_000

// Unmatched is a pattern that matches nothing. Near is a file or folder, from the base on, that it would match if capital and small letters
// did not differ; empty if there is none.
type Unmatched struct{ Pattern, Near string }

// Idle returns those of the patterns that match no file and no folder below base, an absolute path. An exclamation mark in front does not
// count. Hidden folders are not entered. Of a folder with too many names to look at, none is returned.
func Idle(base string, patterns []string) []Unmatched {
	var idle []Unmatched
	for _, p := range patterns {
		idle = append(idle, Unmatched{Pattern: p})
	}
	l := List{Base: base}
	looked := 0
	// The function given returns no error but SkipDir and SkipAll, and so neither does WalkDir.
	_ = filepath.WalkDir(base, func(path string, d fs.DirEntry, err error) error {
		rel, ok := l.rel(path)
		if !ok || d == nil {
			return nil
		}
		looked++
		idle = slices.DeleteFunc(idle, func(u Unmatched) bool { return match(strings.TrimPrefix(u.Pattern, "!"), rel, d.IsDir()) })
		for i := range idle {
			idle[i].look(rel, d.IsDir())
		}
		switch {
		case looked > mostLookedAt:
			idle = nil
			return fs.SkipAll
		case len(idle) == 0:
			return fs.SkipAll
		case d.IsDir() && strings.HasPrefix(d.Name(), "."):
			return fs.SkipDir
		}
		return nil
	})
	return idle
}

// look notes the first file or folder that would match if capital and small letters did not differ.
func (u *Unmatched) look(rel string, folder bool) {
	if u.Near == "" && match(strings.ToLower(strings.TrimPrefix(u.Pattern, "!")), strings.ToLower(rel), folder) {
		u.Near = rel
	}
}
