package watching

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"peelcheck/preflight"
)

// TestResultsAreThoseOfTheArtwork does to a folder what people do, and cuts the power now and then: afterwards all artwork there has its
// results and lies where its verdict says if it was sorted, and no others lie there but those of artwork that was taken out and has no successor, by name or by content.
func TestResultsAreThoseOfTheArtwork(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := &shop{desk: newDesk(t), r: r, named: map[string]bool{}}
		s.opt.Jobs, s.opt.Settle = 1, 0
		s.opt.Sort = rapid.Bool().Draw(r, "sort")
		for range rapid.IntRange(2, 8).Draw(r, "steps") {
			s.step()
			s.watch()
			s.compare()
		}
	})
}

// shop is a desk to which things happen.
type shop struct {
	*desk
	r      *rapid.T
	number int             // of contents made
	before map[of][]string // the results at the last comparison
	named  map[string]bool // contents that got another name where they were sorted
	log    []string
}

var (
	shopNames = []string{"a.png", "b.png", "a.jpg", "x/a.png"}
	shopKinds = []string{"ready", "hold", "hold page", "ready page page", "broken"}
)

func (s *shop) pick(label string, list []string) string {
	return rapid.SampledFrom(list).Draw(s.r, label)
}

// artwork lists the files that may be touched: those dropped and those sorted.
func (s *shop) artwork() (list []string) {
	for _, rel := range s.files(".") {
		if rel = filepath.ToSlash(rel); !strings.HasPrefix(rel, "checked/") {
			list = append(list, rel)
		}
	}
	return list
}

// step changes something in the folder.
func (s *shop) step() {
	there := s.artwork()
	steps := []string{"drop", "drop"}
	if len(there) > 0 {
		steps = append(steps, "delete", "rename", "copy", "touch", "back")
	}
	dropped := slices.DeleteFunc(slices.Clone(there), func(rel string) bool { return strings.HasPrefix(rel, "ready/") || strings.HasPrefix(rel, "hold/") })
	if len(dropped) > 1 {
		steps = append(steps, "swap")
	}
	sorted := slices.DeleteFunc(slices.Clone(there), func(rel string) bool { return slices.Contains(dropped, rel) })
	if len(sorted) > 0 {
		steps = append(steps, "mend", "mend", "name", "name")
	}
	step := s.pick("step", steps)
	var from, to string
	switch step {
	case "drop":
	case "swap":
		from = s.pick("from", dropped)
	case "mend", "name":
		from = s.pick("from", sorted)
	default:
		from = s.pick("from", there)
	}
	switch step {
	case "drop":
		to = s.pick("name", shopNames)
		s.number++
		s.put(to, s.pick("kind", shopKinds)+strings.Repeat("!", 100*s.number)) // of a length of its own: they may come within one tick of the clock
	case "mend":
		s.number++
		s.put(from, s.pick("kind", shopKinds)+strings.Repeat("!", 100*s.number))
	case "name":
		folder, _, _ := strings.Cut(from, "/")
		if to = folder + "/" + s.pick("name", shopNames); slices.Contains(there, to) {
			break
		}
		data, err := os.ReadFile(s.path(from))
		s.must(err)
		s.named[sumOf(data)] = true
		s.mkdir(filepath.Dir(to))
		s.must(os.Rename(s.path(from), s.path(to)))
	case "delete":
		s.must(os.Remove(s.path(from)))
	case "rename", "back":
		to = s.pick("name", shopNames)
		s.mkdir(filepath.Dir(to))
		s.must(os.Rename(s.path(from), s.path(to)))
	case "copy":
		to = s.pick("name", shopNames)
		data, err := os.ReadFile(s.path(from))
		s.must(err)
		s.put(to, strings.TrimPrefix(string(data), signed))
	case "touch":
		now := time.Now()
		s.must(os.Chtimes(s.path(from), now, now))
	case "swap":
		to = s.pick("with", dropped)
		s.must(os.Rename(s.path(from), s.path("swapping")))
		if to != from {
			s.must(os.Rename(s.path(to), s.path(from)))
		}
		s.must(os.Rename(s.path("swapping"), s.path(to)))
	}
	s.log = append(s.log, fmt.Sprint(step, " ", from, " ", to))
}

func (s *shop) must(err error) {
	if err != nil {
		s.r.Fatal(err)
	}
}

// watch has the folder judged, perhaps while somebody meddles, and perhaps with the power cut in between.
func (s *shop) watch() {
	meddles := s.pick("meddles", []string{"no", "no", "away", "drop"})
	cut := s.pick("power", []string{"on", "on", "cut"}) == "cut"
	instead := s.pick("instead", shopKinds) + strings.Repeat("?", 100*s.number+50)
	var failed error
	copied, asleep := "", ""
	var visits map[string][]string
	if cut {
		copied = filepath.Join(s.t.TempDir(), "in")
	}
	disturb := func(path string) { // from another goroutine, where rapid must not be asked
		switch meddles {
		case "away":
			failed = os.Rename(path, s.path("b.png"))
		case "drop":
			failed = os.WriteFile(path, []byte(signed+instead), 0o666)
		}
		meddles = "no"
		if cut && failed == nil {
			cut = false
			asleep, visits = copied, maps.Clone(s.visits)
			failed = os.CopyFS(asleep, os.DirFS(s.opt.Dir))
		}
	}
	s.log = append(s.log, "watch, meddling "+meddles)
	before, quiet := s.contents(), meddles == "no" && !cut
	if rapid.Bool().Draw(s.r, "after") {
		s.written = disturb
	} else {
		s.hook = disturb
	}
	s.rest()
	s.hook, s.written = nil, nil
	s.must(failed)
	if after := s.contents(); quiet && !slices.Equal(before, after) {
		s.r.Fatalf("artwork %v, and afterwards %v%s", before, after, s.told())
	}
	if asleep != "" {
		s.log = append(s.log, "power cut")
		s.visits = visits
		s.opt.Dir, s.opt.Out = asleep, filepath.Join(asleep, "checked")
		if rapid.Bool().Draw(s.r, "stepped before it comes back") {
			s.step()
		}
		s.rest()
	}
}

// rest watches until all is judged, in no time.
func (s *shop) rest() {
	outer := s.t
	synctest.Test(outer, func(t *testing.T) {
		s.t = t
		s.once()
	})
	s.t = outer
}

// contents are those of all artwork, each as often as it is there.
func (s *shop) contents() (list []string) {
	for _, rel := range s.artwork() {
		data, err := os.ReadFile(s.path(rel))
		s.must(err)
		list = append(list, sumOf(data))
	}
	slices.Sort(list)
	return list
}

func (s *shop) told() string {
	return fmt.Sprintf("\n%s\n%s\n", strings.Join(s.log, "\n"), strings.Join(s.files("."), "\n"))
}

// compare holds the results to the artwork.
func (s *shop) compare() {
	dropped, sorted := map[string]string{}, map[string]bool{} // content by path; contents
	for _, rel := range s.artwork() {
		data, err := os.ReadFile(s.path(rel))
		s.must(err)
		sum := sumOf(data)
		switch top, _, _ := strings.Cut(rel, "/"); {
		case top == string(preflight.Ready) || top == string(preflight.Hold):
			sorted[sum] = true
			if bytes.Contains(data, []byte(preflight.Hold)) != (top == string(preflight.Hold)) || bytes.Contains(data, []byte("broken")) {
				s.r.Fatalf("%s lies in the wrong folder%s", rel, s.told())
			}
		case !bytes.Contains(data, []byte("broken")):
			dropped[rel] = sum
		default:
			dropped[rel] = ""
		}
	}
	results := s.results()
	for rel, sum := range dropped {
		if n := len(results[of{rel, sum}]); sum != "" && n != 1 {
			s.r.Fatalf("%s has %d results %v%s", rel, n, results, s.told())
		}
	}
	for sum := range sorted {
		if !s.anyOf(results, sum) {
			s.r.Fatalf("sorted artwork %s has no results %v%s", sum, results, s.told())
		}
	}
	for about, targets := range results {
		if dropped[about.rel] == about.sum || sorted[about.sum] {
			continue // of artwork that is there
		}
		if s.named[about.sum] {
			continue // the report has the name that it came under
		}
		if len(targets) > 1 {
			s.r.Fatalf("%v are all of %s, which was taken out%s", targets, about.rel, s.told())
		}
		if _, there := dropped[about.rel]; there {
			s.r.Fatalf("%v are of an earlier %s%s", targets, about.rel, s.told())
		}
		for other := range results {
			renamed := other.sum == about.sum && s.before[other] == nil && dropped[other.rel] == other.sum
			if other != about && (renamed || other.rel == about.rel && s.latest(about.rel) == other.sum) {
				s.r.Fatalf("%v are of %s, which was taken out; %v came after it%s", targets, about.rel, results[other], s.told())
			}
		}
	}
	s.before = results
}

// latest is the content that was judged last under a path.
func (s *shop) latest(rel string) string {
	list := s.visits[filepath.FromSlash(rel)]
	return sumOf([]byte(signed + list[len(list)-1]))
}

func (s *shop) anyOf(results map[of][]string, sum string) bool {
	for about := range results {
		if about.sum == sum {
			return true
		}
	}
	return false
}

// of tells results apart: the artwork's path below the folder watched and its content.
type of struct{ rel, sum string }

var pageOfResult = regexp.MustCompile(`(\.p[0-9]+)?\.(report\.json|proof\.png)$`)

// results lists the names of results by what they are of. Those of one name must agree.
func (s *shop) results() map[of][]string {
	all, found := map[string]map[of]bool{}, map[of][]string{}
	for _, rel := range s.files("checked") {
		data, err := os.ReadFile(filepath.Join(s.opt.Out, rel))
		s.must(err)
		var rep preflight.Report
		s.must(json.Unmarshal(data, &rep))
		stem := pageOfResult.ReplaceAllString(rel, "")
		_, at, _ := strings.Cut(rep.Artwork.File, "/in/")
		if all[stem] == nil {
			all[stem] = map[of]bool{}
		}
		all[stem][of{at, rep.Artwork.SHA256}] = true
	}
	for name, list := range all {
		if len(list) > 1 {
			s.r.Fatalf("%s has results of several artworks: %v%s", name, list, s.told())
		}
		for about := range list {
			found[about] = append(found[about], name)
			slices.Sort(found[about])
		}
	}
	return found
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
