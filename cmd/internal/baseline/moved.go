package baseline

import (
	"path/filepath"
	"strings"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/raster"
)

// search finds artwork under other names by its content, in the deepest folder that holds all that the older baseline and this call know of.
type search struct {
	w     *Writer
	names map[string]string // by SHA-256, from the baseline's folder; nil until something is looked for
}

// find returns the name that artwork of the older file has now, empty if its content is nowhere or is held under that name anyway.
func (s *search) find(a *Artwork) string {
	if s.names == nil {
		s.look()
	}
	name := s.names[a.SHA256]
	if name == "" || s.w.judged[page{name, a.Page}] || s.w.holds[page{name, a.Page}] {
		return ""
	}
	return name
}

// look hashes what was not judged now.
func (s *search) look() {
	s.names = map[string]string{}
	root := s.root()
	if root == "" {
		return
	}
	found, _, _ := artfile.Gather([]string{root}, nil)
	for _, f := range found {
		name := nameFrom(s.w.dir, f.Path)
		if f.Err != nil || s.w.judgedFiles[name] {
			continue
		}
		if sum, err := artfile.Sum(f.Path, raster.DefaultMaxPixels); err == nil && s.names[sum] == "" {
			s.names[sum] = name
		}
	}
}

// root is the folder to look in, empty if there is none, as on two disks.
func (s *search) root() (root string) {
	first := true
	hold := func(file string) {
		dir := filepath.Dir(s.w.path(file))
		if first {
			root, first = dir, false
		}
		for root != "" && !within(root, dir) {
			up := filepath.Dir(root)
			if up == root {
				up = ""
			}
			root = up
		}
	}
	for i := range s.w.old {
		hold(s.w.old[i].File)
	}
	for file := range s.w.judgedFiles {
		hold(file)
	}
	return root
}

func within(root, dir string) bool {
	rel, err := filepath.Rel(root, dir)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}
