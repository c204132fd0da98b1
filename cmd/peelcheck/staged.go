package main

import (
	"cmp"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/gitchange"
	"peelcheck/cmd/internal/problem"
)

// stagedCopies is a folder for files as they are staged in git, where they lie otherwise in the working tree or not at all.
type stagedCopies struct{ dir string }

// remove takes the folder away.
func (c *stagedCopies) remove() {
	if c.dir != "" {
		os.RemoveAll(c.dir)
	}
}

// apply has sources read as they are staged, and adds those that meant lets pass and that are gone from the working tree.
func (c *stagedCopies) apply(ctx context.Context, set *gitchange.Set, names []string, sources []artfile.Source, meant artfile.Filter) ([]artfile.Source, error) {
	var wanted []string
	for _, s := range sources {
		if set.Unlike(s.Path) {
			wanted = append(wanted, s.Path)
		}
	}
	var gone []artfile.Source
	for _, name := range names {
		for _, path := range set.Missing(name) {
			s := artfile.Source{Path: path, Root: name}
			if path == filepath.Clean(name) {
				s = artfile.Source{Path: name}
			}
			if passes(s, meant) {
				gone, wanted = append(gone, s), append(wanted, s.Path)
			}
		}
	}
	if len(wanted) == 0 {
		return sources, nil
	}
	var err error
	if c.dir, err = os.MkdirTemp("", "peelcheck-staged-*"); err != nil {
		return nil, problem.About(os.TempDir(), err)
	}
	copies, err := set.CheckOut(ctx, c.dir, wanted)
	if err != nil {
		return nil, err
	}
	return join(sources, gone, copies), nil
}

// passes reports whether a file that is gone would have been found in its folder.
func passes(s artfile.Source, meant artfile.Filter) bool {
	if s.Root == "" {
		return true
	}
	rel, err := filepath.Rel(s.Root, s.Path)
	if err != nil {
		return false
	}
	path := s.Root
	parts := strings.Split(rel, string(filepath.Separator))
	for i, part := range parts {
		path = filepath.Join(path, part)
		if strings.HasPrefix(part, ".") || !meant(s.Root, path, i < len(parts)-1) {
			return false
		}
	}
	return true
}

// join gives the sources their copies, and adds those that are gone from the working tree and are artwork as they are staged.
func join(sources, gone []artfile.Source, copies map[string]string) []artfile.Source {
	added := map[string]bool{}
	var list []artfile.Source
	for _, s := range gone {
		if s.Copy = copies[s.Path]; s.Copy == "" || added[s.Path] {
			continue
		}
		if s.Root != "" && !artfile.InFolder(s.Copy) {
			continue
		}
		_, s.Err = artfile.Kind(s.Copy)
		added[s.Path], added[s.Root] = true, true
		list = append(list, s)
	}
	for _, s := range sources {
		if at := copies[s.Path]; at != "" && !added[s.Path] {
			s.Copy = at
			_, s.Err = artfile.Kind(at)
		}
		if !added[s.Path] { // neither the same file, named and missed, nor a folder in which nothing was found
			list = append(list, s)
		}
	}
	if len(added) > 0 {
		slices.SortStableFunc(list, func(a, b artfile.Source) int { return cmp.Compare(a.Path, b.Path) })
	}
	return list
}
