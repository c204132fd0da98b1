package reportfiles

import (
	"bytes"
	"encoding/json"
	"iter"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// An artwork has two names where two calls from different folders wrote into one --out: "check designs" calls it designs/drafts/owl.png and its
// report lies there as drafts/owl; "check drafts" from within designs calls it drafts/owl.png, and its report lies there as owl. The folder
// that the places of reports are seen from, designs and then drafts, tells this from copies that one call judged: theirs are seen from one.

// placed is an artwork by its report's place. from is the folder that the names in its part of --out are seen from.
type placed struct {
	at   int
	from string
}

// twins finds artwork under another of its names.
type twins struct {
	byName, byEnd map[artwork][]placed
}

// seenFrom is the folder that an artwork's report was placed from: its own without the folders that the report lies in below root. It is not
// known of reports that lie otherwise.
func seenFrom(root, report, called string) (from string, ok bool) {
	rel, err := filepath.Rel(root, filepath.Dir(report))
	if err != nil {
		return "", false
	}
	dir, rel := "/"+path.Dir(downward(called)), "/"+filepath.ToSlash(rel)
	if rel == "/." {
		return path.Clean(dir), true
	}
	from, ok = strings.CutSuffix(dir, rel)
	return path.Clean("/" + from), ok
}

// downward is a name without the way up that it begins with, and without the root.
func downward(name string) string {
	name = path.Clean(name)
	for strings.HasPrefix(name, "../") {
		name = strings.TrimPrefix(name, "../")
	}
	return strings.TrimPrefix(name, "/")
}

// find returns an artwork taken down before, the whole name of one of the two being the end of the other's and both being seen from different
// folders.
func (t *twins) find(info preflight.ArtworkInfo, from string) (at int, found bool) {
	name := downward(info.File)
	lists := [][]placed{t.byEnd[artwork{file: name, page: info.Page}]}
	for end := range ends(name) {
		lists = append(lists, t.byName[artwork{file: end, page: info.Page}])
	}
	for _, list := range lists {
		if i := slices.IndexFunc(list, func(p placed) bool { return p.from != from }); i >= 0 {
			return list[i].at, true
		}
	}
	return 0, false
}

// add takes down an artwork by its index.
func (t *twins) add(info preflight.ArtworkInfo, from string, at int) {
	if t.byName == nil {
		t.byName, t.byEnd = map[artwork][]placed{}, map[artwork][]placed{}
	}
	name := downward(info.File)
	whole := artwork{file: name, page: info.Page}
	t.byName[whole] = append(t.byName[whole], placed{at, from})
	for end := range ends(name) {
		key := artwork{file: end, page: info.Page}
		t.byEnd[key] = append(t.byEnd[key], placed{at, from})
	}
}

// ends are the names that are left of one when folders are taken away from its front.
func ends(name string) iter.Seq[string] {
	return func(yield func(string) bool) {
		for {
			_, rest, ok := strings.Cut(name, "/")
			if name = rest; !ok || !yield(rest) {
				return
			}
		}
	}
}

// alike reports whether two reports say the same of the same content and job, whatever the artwork and the files of settings are called.
func alike(a, b *preflight.Report) bool {
	said := func(rep *preflight.Report) []byte {
		r := preflight.Report{Artwork: preflight.ArtworkInfo{SHA256: rep.Artwork.SHA256, Page: rep.Artwork.Page}}
		r.Job, r.FailOn, r.Findings = rep.Job, rep.FailOn, rep.Findings
		r.Job.Limits = maps.Clone(rep.Job.Limits)
		for name, limit := range r.Job.Limits {
			limit.From = ""
			r.Job.Limits[name] = limit
		}
		if rep.Job.Place != nil {
			place := *rep.Job.Place
			place.From = ""
			r.Job.Place = &place
		}
		text, err := json.Marshal(&r)
		if err != nil {
			return nil
		}
		return text
	}
	x := said(a)
	return x != nil && bytes.Equal(x, said(b))
}
