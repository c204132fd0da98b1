package judging

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/preflight"
)

// Report and proof are named after the artwork without its extension: lantern.png gives lantern.report.json. Where two artworks of one
// folder would share a name, also if only one of them is judged now, both keep their extension: lantern.png.report.json. So a name depends
// on the folder that the artwork lies in and not on the call. Where even these are alike, as Moon.png and moon.png are on some disks, the
// later ones are numbered. A name so long that its report could not be named after it is shortened.

// Target is where the report and the proof of one file go: the path without .report.json or .proof.png.
type Target string

// Page is the target of page n of a document of that many.
func (t Target) Page(n, of int) Target {
	if of > 1 {
		return Target(fmt.Sprintf("%s.p%d", t, n))
	}
	return t
}

// Report is the path of the report.
func (t Target) Report() string { return string(t) + ".report.json" }

// Proof is the path of the proof.
func (t Target) Proof() string { return string(t) + ".proof.png" }

// HTML is the path of the page for a browser.
func (t Target) HTML() string { return string(t) + ".report.html" }

// ProofPDF is the path of the proof at true size.
func (t Target) ProofPDF() string { return string(t) + ".proof.pdf" }

// Print is the path of the print file.
func (t Target) Print() string { return string(t) + ".print.pdf" }

// Plane names a picture of a plane of one design of several.
func (t Target) Plane(i, of int, name string) string {
	if of > 1 {
		return fmt.Sprintf("%s.%d.plane-%s.png", t, i+1, name)
	}
	return fmt.Sprintf("%s.plane-%s.png", t, name)
}

// Tasks are sources that are all judged for one job, with their results beside them.
func Tasks(sources []artfile.Source, job preflight.Job) []Task {
	tasks := make([]Task, len(sources))
	for i, to := range targets(sources, besideArtwork) {
		tasks[i] = Task{Source: sources[i], Job: job, To: to}
	}
	return tasks
}

// TargetOf names the output of one file: in the folder out, or beside the file if that is empty.
func TargetOf(path, out string) Target {
	return targets([]artfile.Source{{Path: path}}, func(dir string) string { return cmp.Or(out, dir) })[0]
}

// Targets names the output of each source found under the names of one call; out is the folder asked for, empty for beside the artwork.
// Below out the folders are those of the artwork, seen from the deepest folder that holds all that was named.
func Targets(names []string, sources []artfile.Source, out string) []Target {
	place := besideArtwork
	if out != "" {
		base := commonFolder(names)
		place = func(dir string) string { return filepath.Join(out, below(base, dir)) }
	}
	return targets(slices.Concat(sources, neighbours(sources)), place)[:len(sources)]
}

func besideArtwork(dir string) string { return dir }

// targets names the output of each source; place says where that of a folder's artwork lies.
func targets(sources []artfile.Source, place func(dir string) string) []Target {
	list := make([]Target, len(sources))
	level := make([]int, len(sources))
	for clash := true; clash; {
		clash = false
		for i, s := range sources {
			list[i] = Target(filepath.Join(place(filepath.Dir(s.Path)), nameOf(filepath.Base(s.Path), level[i])))
		}
		for _, alike := range alikes(list) {
			clash = true
			slices.SortStableFunc(alike, func(a, b int) int { return strings.Compare(sources[a].Path, sources[b].Path) })
			lengthen(alike, level)
		}
	}
	return list
}

// nameOf is what the output of a file is called at a level: without its extension, with it, and then numbered.
func nameOf(name string, level int) string {
	if stem := strings.TrimSuffix(name, filepath.Ext(name)); level == 0 && strings.Trim(stem, ".") != "" {
		name = stem // a name of dots alone would lead to another folder
	}
	name = shortened(name)
	if level > 1 {
		name = fmt.Sprintf("%s-%d", name, level)
	}
	return name
}

// commonFolder is the deepest folder that holds all that was named, a folder itself if it was named alone. It is empty if there is none,
// as on two disks.
func commonFolder(names []string) string {
	common := ""
	for i, name := range names {
		dir, err := filepath.Abs(name)
		if err != nil {
			return ""
		}
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			dir = filepath.Dir(dir)
		}
		if i == 0 {
			common = dir
		}
		for !within(common, dir) {
			up := filepath.Dir(common)
			if up == common {
				return ""
			}
			common = up
		}
	}
	return common
}

func within(base, dir string) bool {
	rel, err := filepath.Rel(base, dir)
	return err == nil && filepath.IsLocal(rel)
}

// below is dir seen from base or, if it does not lie there, from its disk's root, with the disk's letter as a folder.
func below(base, dir string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return ""
	}
	if base != "" && within(base, abs) {
		rel, _ := filepath.Rel(base, abs) // within has seen that it can be told
		return rel
	}
	disk := filepath.VolumeName(abs)
	return filepath.Join(strings.Trim(disk, `:\`), abs[len(disk):])
}

// neighbours are other artworks that lie beside the sources and would share a name with one of them.
func neighbours(sources []artfile.Source) (list []artfile.Source) {
	mine, stems := map[string]bool{}, map[string]map[string]bool{}
	for _, s := range sources {
		dir := filepath.Dir(s.Path)
		if stems[dir] == nil {
			stems[dir] = map[string]bool{}
		}
		mine[filepath.Clean(s.Path)], stems[dir][stemKey(s.Path)] = true, true
	}
	for _, dir := range slices.Sorted(maps.Keys(stems)) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			continue // judging will tell
		}
		for _, e := range entries {
			path := filepath.Join(dir, e.Name())
			if e.IsDir() || mine[path] || strings.HasPrefix(e.Name(), ".") || !stems[dir][stemKey(path)] {
				continue
			}
			if _, err := artfile.Kind(path); err == nil {
				list = append(list, artfile.Source{Path: path})
			}
		}
	}
	return list
}

// stemKey is alike for files that could share a name.
func stemKey(path string) string {
	return pageSuffix.ReplaceAllString(strings.ToLower(nameOf(filepath.Base(path), 0)), "")
}

// longestName leaves room for a number, a page and .report.json within the 255 bytes that file systems allow a name.
const longestName = 225

// shortened cuts a name that is too long and puts the beginning of its SHA-256 there, so that names stay apart.
func shortened(name string) string {
	if len(name) <= longestName {
		return name
	}
	sum := sha256.Sum256([]byte(name))
	mark := "-" + hex.EncodeToString(sum[:4])
	end := longestName - len(mark)
	for end > 0 && !utf8.RuneStart(name[end]) {
		end--
	}
	return name[:end] + mark
}

var pageSuffix = regexp.MustCompile(`\.p[0-9]+$`)

// alikes returns the groups of targets that could write the same files, also where a folder does not tell small letters
// from capitals. A name such as poster.p2 is like poster, whose second page would be written there.
func alikes(list []Target) [][]int {
	taken := map[string]bool{}
	for _, t := range list {
		taken[strings.ToLower(string(t))] = true
	}
	var order []string
	at := map[string][]int{}
	for i, t := range list {
		key := strings.ToLower(string(t))
		if whole := pageSuffix.ReplaceAllString(key, ""); taken[whole] {
			key = whole
		}
		if at[key] == nil {
			order = append(order, key)
		}
		at[key] = append(at[key], i)
	}
	var out [][]int
	for _, key := range order {
		if len(at[key]) > 1 {
			out = append(out, at[key])
		}
	}
	return out
}

// Candidates are the names of a file's output, the better one first, where they are given out one by one: without the extension and with it.
// Both lie in the file's own folder.
func Candidates(path string) []Target {
	dir, name := filepath.Split(path)
	return []Target{Target(filepath.Join(dir, nameOf(name, 0))), Target(filepath.Join(dir, nameOf(name, 1)))}
}

// Names are targets that have been given out one by one. The zero value is ready for use.
type Names struct {
	taken map[string]bool
	pages map[string]int // how many targets seem to be pages of one
}

// Take notes that a target has been given out.
func (n *Names) Take(t Target) {
	if n.taken == nil {
		n.taken, n.pages = map[string]bool{}, map[string]int{}
	}
	key := strings.ToLower(string(t))
	if n.taken[key] {
		return
	}
	n.taken[key] = true
	if whole := pageSuffix.ReplaceAllString(key, ""); whole != key {
		n.pages[whole]++
	}
}

// Release notes that a target is no longer used.
func (n *Names) Release(t Target) {
	key := strings.ToLower(string(t))
	if !n.taken[key] {
		return
	}
	delete(n.taken, key)
	if whole := pageSuffix.ReplaceAllString(key, ""); whole != key {
		n.pages[whole]--
	}
}

// Free reports whether nothing could be written for a target that could be written for one given out; see alikes.
func (n *Names) Free(t Target) bool {
	key := strings.ToLower(string(t))
	return !n.taken[key] && n.pages[key] == 0 && !n.taken[pageSuffix.ReplaceAllString(key, "")]
}

// lengthen moves names that are alike one level on: first all to their full file name, then all but the first to numbers.
func lengthen(alike, level []int) {
	short := false
	for _, i := range alike {
		if level[i] == 0 {
			level[i], short = 1, true
		}
	}
	if short {
		return
	}
	for n, i := range alike[1:] {
		level[i] += n + 1
	}
}
