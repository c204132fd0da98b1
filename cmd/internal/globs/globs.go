// Package globs says by patterns which files of a folder are meant. Start at Lists.
package globs

import (
	"path"
	"path/filepath"
	"strings"

	"github.com/bmatcuk/doublestar/v4"
)

// List is the patterns of one settings file, or of the command line. They count from Base down, an absolute path.
type List struct {
	From             string // the settings file, empty for the command line
	Base             string
	Include, Exclude []string
}

// Lists are those that hold for a file, the outermost first and the one that wins last.
//
// A pattern without a slash, but for one at its end, means files and folders of that name at any depth; one with a slash is matched from
// Base on. A slash at the end means folders only. Of all the exclude patterns in their order, the last that matches decides; one that
// begins with an exclamation mark takes back. Of the include lists, the last that is not empty counts alone.
type Lists []List

// Excluded reports whether a file or folder is left out. path is absolute; the folders it lies in are not looked at.
func (l Lists) Excluded(path string, folder bool) bool {
	out := false
	for _, list := range l {
		rel, ok := list.rel(path)
		if !ok {
			continue
		}
		for _, pattern := range list.Exclude {
			bare, back := strings.CutPrefix(pattern, "!")
			if match(bare, rel, folder) {
				out = !back
			}
		}
	}
	return out
}

// Included reports whether the include list that counts, if any, names a file or a folder that it lies in. path is absolute.
func (l Lists) Included(path string) bool {
	for i := len(l) - 1; i >= 0; i-- {
		if len(l[i].Include) == 0 {
			continue
		}
		rel, ok := l[i].rel(path)
		return !ok || l[i].names(rel)
	}
	return true
}

func (l *List) names(rel string) bool {
	for folder := false; rel != "."; rel, folder = path.Dir(rel), true {
		for _, pattern := range l.Include {
			if match(pattern, rel, folder) {
				return true
			}
		}
	}
	return false
}

// rel is the path from Base on, with slashes; ok is false for Base itself and what lies elsewhere.
func (l *List) rel(path string) (rel string, ok bool) {
	rel, err := filepath.Rel(l.Base, path)
	if rel = filepath.ToSlash(rel); err != nil || rel == "." || rel == ".." || strings.HasPrefix(rel, "../") {
		return "", false
	}
	return rel, true
}

// Match reports whether a pattern means the file or a folder that it lies in; both paths are absolute.
func Match(base, pattern, path string) bool {
	l := List{Base: base, Include: []string{pattern}}
	rel, ok := l.rel(path)
	return ok && l.names(rel)
}

func match(pattern, rel string, folder bool) bool {
	bare, folders := strings.CutSuffix(pattern, "/")
	if folders && !folder {
		return false
	}
	if !strings.Contains(bare, "/") {
		rel = path.Base(rel)
	}
	bare = strings.TrimPrefix(bare, "/")
	if strings.HasSuffix(bare, "/**") {
		bare += "/*" // what is in the folder, not the folder itself
	}
	ok, err := doublestar.Match(bare, rel)
	return ok && err == nil
}
