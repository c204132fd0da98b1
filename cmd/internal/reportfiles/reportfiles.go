// Package reportfiles reads reports back from the JSON files that were written of them. Start at Read.
package reportfiles

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/shard"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// Library is what several runs found together.
type Library struct {
	Artworks []Artwork // by file and page, and then what could not be judged of the file
	Parts    int       // of which at least one was read; 0 if the files hold whole runs
	Problems []error   // with the files read, a *problem.Problem each
}

// Artwork is a report or, without one, why there is none.
type Artwork struct {
	Report  *preflight.Report
	Trouble report.Trouble
}

func (a *Artwork) file() string {
	if a.Report == nil {
		return a.Trouble.File
	}
	return a.Report.Artwork.File
}

// page is above all others for what could not be judged.
func (a *Artwork) page() int {
	if a.Report == nil {
		return math.MaxInt
	}
	return a.Report.Artwork.Page
}

// merger gathers reports, one for each artwork.
type merger struct {
	Library
	at    map[artwork]int
	from  []string // the file of each
	twins twins
	parts map[report.PartNumber]bool
}

type artwork struct {
	file    string
	page    int
	trouble string
}

// Read reads files that hold one report or an array of them, and every .json file in the folders named and below. A report that is in
// several files alike is returned once, and so is one of a folder of --out that calls its artwork otherwise, as seen from elsewhere.
func Read(names []string) Library {
	m := merger{at: map[artwork]int{}, parts: map[report.PartNumber]bool{}}
	for _, name := range names {
		m.named(name)
	}
	m.wholeness(names)
	slices.SortStableFunc(m.Artworks, func(a, b Artwork) int {
		return cmp.Or(strings.Compare(a.file(), b.file()), cmp.Compare(a.page(), b.page()))
	})
	return m.Library
}

// wholeness tells of parts that are missing.
func (m *merger) wholeness(names []string) {
	for part := range m.parts {
		if m.Parts = part.Of; len(m.parts) > 0 && slices.ContainsFunc(slices.Collect(maps.Keys(m.parts)), func(p report.PartNumber) bool { return p.Of != part.Of }) {
			m.fail(names[0], problem.New("", "these are parts of libraries that were parted into different numbers", "merge the parts of one run"))
			return
		}
	}
	var missing []string
	for n := range m.Parts {
		if !m.parts[report.PartNumber{Number: n + 1, Of: m.Parts}] {
			missing = append(missing, strconv.Itoa(n+1))
		}
	}
	if len(missing) > 0 {
		const most = 10
		if more := len(missing) - most; more > 0 {
			missing = append(missing[:most], fmt.Sprintf("and %d more", more))
		}
		m.fail(names[0], problem.New("", fmt.Sprintf("of %d parts those with these numbers are missing: %s", m.Parts, strings.Join(missing, ", ")), "see why their runs wrote nothing, and name all parts"))
	}
}

func (m *merger) fail(name string, err error) {
	m.Problems = append(m.Problems, problem.About(name, err))
}

func (m *merger) named(name string) {
	info, err := os.Stat(name)
	if err != nil {
		m.fail(name, err)
		return
	}
	if !info.IsDir() {
		m.file("", name)
		return
	}
	found := 0
	_ = filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			m.fail(path, err)
		case !d.IsDir() && strings.EqualFold(filepath.Ext(path), ".json"):
			found++
			m.file(name, path)
		}
		return nil
	})
	if found == 0 {
		m.fail(name, problem.New(name, "there is no report in this folder", "name the files, or a folder of .json files"))
	}
}

// file reads a file that was found in the folder root, empty if it was named itself.
func (m *merger) file(root, name string) {
	data, err := os.ReadFile(name)
	if err != nil {
		m.fail(name, err)
		return
	}
	list, part, err := decode(data)
	if err != nil {
		m.fail(name, problem.New(name, "this is no report, or not a whole one: "+err.Error(), "write it again with peelcheck check --format json"))
		return
	}
	for _, rep := range list {
		m.report(root, name, rep)
	}
	if part == nil {
		return
	}
	m.parts[part.Part] = true
	for _, t := range part.NotJudged {
		m.add(name, Artwork{Trouble: t})
	}
}

// decode reads one report or an array of them, and the part that may stand last. It refuses what a report of this version cannot be:
// nothing may be lost in silence.
func decode(data []byte) (list []*preflight.Report, part *report.Part, err error) {
	texts := []json.RawMessage{data}
	if !bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		texts = nil
		if err := decodeWhole(data, &texts); err != nil {
			return nil, nil, err
		}
	}
	for i, text := range texts {
		var last struct{ Part json.RawMessage }
		if i == len(texts)-1 && json.Unmarshal(text, &last) == nil && last.Part != nil {
			part = new(report.Part)
			return list, part, cmp.Or(decodeWhole(text, part), checkPart(part))
		}
		rep := new(preflight.Report)
		if err := cmp.Or(decodeWhole(text, rep), check(rep)); err != nil {
			return nil, nil, err
		}
		list = append(list, rep)
	}
	return list, nil, nil
}

func decodeWhole(data []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows its end")
	}
	return nil
}

func checkPart(p *report.Part) error {
	switch {
	case p.SchemaVersion != preflight.SchemaVersion:
		return fmt.Errorf("it has schema version %d, and %d is read", p.SchemaVersion, preflight.SchemaVersion)
	case p.Part.Number < 1 || p.Part.Of < p.Part.Number || p.Part.Of > shard.Most:
		return fmt.Errorf("there is no part %d of %d", p.Part.Number, p.Part.Of)
	}
	return nil
}

func check(rep *preflight.Report) error {
	switch {
	case rep.Artwork.File == "" || rep.Artwork.Page < 1:
		return errors.New("it names no artwork")
	case rep.SchemaVersion != preflight.SchemaVersion:
		return fmt.Errorf("it has schema version %d, and %d is read", rep.SchemaVersion, preflight.SchemaVersion)
	}
	again := *rep
	if again.Count(); again.Counts != rep.Counts || again.Verdict != rep.Verdict {
		return fmt.Errorf("its counts and verdict are not those of its findings (%s)", rep.Artwork.File)
	}
	return nil
}

// report adds a report, or joins it with that of the same artwork under another name. The longer name is kept.
func (m *merger) report(root, name string, rep *preflight.Report) {
	key := artwork{file: rep.Artwork.File, page: rep.Artwork.Page}
	from, ok := "", false
	if root != "" {
		from, ok = seenFrom(root, name, rep.Artwork.File)
	}
	if _, twice := m.at[key]; !ok || twice {
		m.add(name, Artwork{Report: rep})
		return
	}
	i, twin := m.twins.find(rep.Artwork, from)
	if !twin {
		m.twins.add(rep.Artwork, from, len(m.Artworks))
		m.add(name, Artwork{Report: rep})
		return
	}
	other := m.Artworks[i].Report
	if !alike(other, rep) {
		m.fail(name, problem.New(name, fmt.Sprintf("%s seems to be %s, which was judged otherwise in %s and is kept", rep.Artwork.File, other.Artwork.File, m.from[i]),
			"remove the older of the two reports, or judge all anew into an empty folder"))
		return
	}
	m.twins.add(rep.Artwork, from, i)
	m.at[key] = i
	if len(downward(rep.Artwork.File)) > len(downward(other.Artwork.File)) {
		m.Artworks[i].Report, m.from[i] = rep, name
	}
}

func (m *merger) add(name string, found Artwork) {
	key := artwork{found.file(), found.page(), found.Trouble.Text}
	i, twice := m.at[key]
	if !twice {
		m.at[key] = len(m.Artworks)
		m.Artworks, m.from = append(m.Artworks, found), append(m.from, name)
		return
	}
	a, errA := json.Marshal(m.Artworks[i])
	b, errB := json.Marshal(found)
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		m.fail(name, problem.New(name, fmt.Sprintf("%s was judged otherwise in %s, which is kept", found.file(), m.from[i]), "remove the older of the two, or merge reports of one state of the library"))
	}
}
