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
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// merger gathers reports, one for each artwork.
type merger struct {
	at       map[artwork]int
	reports  []*preflight.Report
	from     []string // the file of each
	problems []error
}

type artwork struct {
	file string
	page int
}

// Read reads files that hold one report or an array of them, and every .json file in the folders named and below. It returns the reports
// by file and page; one that is in several files alike is returned once. What cannot be read is a *problem.Problem each.
func Read(names []string) (reports []*preflight.Report, problems []error) {
	m := merger{at: map[artwork]int{}}
	for _, name := range names {
		m.named(name)
	}
	slices.SortStableFunc(m.reports, func(a, b *preflight.Report) int {
		return cmp.Or(strings.Compare(a.Artwork.File, b.Artwork.File), a.Artwork.Page-b.Artwork.Page)
	})
	return m.reports, m.problems
}

func (m *merger) fail(name string, err error) {
	m.problems = append(m.problems, problem.About(name, err))
}

func (m *merger) named(name string) {
	info, err := os.Stat(name)
	if err != nil {
		m.fail(name, err)
		return
	}
	if !info.IsDir() {
		m.file(name)
		return
	}
	found := 0
	_ = filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			m.fail(path, err)
		case !d.IsDir() && strings.EqualFold(filepath.Ext(path), ".json"):
			found++
			m.file(path)
		}
		return nil
	})
	if found == 0 {
		m.fail(name, problem.New(name, "there is no report in this folder", "name the files, or a folder of .json files"))
	}
}

func (m *merger) file(name string) {
	data, err := os.ReadFile(name)
	if err != nil {
		m.fail(name, err)
		return
	}
	list, err := decode(data)
	if err != nil {
		m.fail(name, problem.New(name, "this is no report, or not a whole one: "+err.Error(), "write it again with peelcheck check --format json"))
		return
	}
	for _, rep := range list {
		m.add(name, rep)
	}
}

// decode reads one report or an array of them, and refuses what a report of this version cannot be: nothing may be lost in silence.
func decode(data []byte) ([]*preflight.Report, error) {
	var list []*preflight.Report
	var into any = &list
	if one := new(preflight.Report); bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		list, into = []*preflight.Report{one}, one
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return nil, err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows its end")
	}
	for _, rep := range list {
		if err := check(rep); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func check(rep *preflight.Report) error {
	switch {
	case rep == nil || rep.Artwork.File == "" || rep.Artwork.Page < 1:
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

func (m *merger) add(name string, rep *preflight.Report) {
	key := artwork{rep.Artwork.File, rep.Artwork.Page}
	i, twice := m.at[key]
	if !twice {
		m.at[key] = len(m.reports)
		m.reports, m.from = append(m.reports, rep), append(m.from, name)
		return
	}
	a, errA := json.Marshal(m.reports[i])
	b, errB := json.Marshal(rep)
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		m.fail(name, problem.New(name, fmt.Sprintf("%s was judged otherwise in %s, which is kept", rep.Artwork.File, m.from[i]), "merge reports of one state of the library"))
	}
}
