package judging

import (
	"bufio"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"peelcheck/cmd/internal/problem"
)

// originsName is a file in a folder of --out. Reports name artwork as the call did, which for a relative name says nothing to a call from
// another folder; an absolute one would make the same artwork's reports differ from machine to machine.
const originsName = ".peelcheck-origins"

// Origins say where the artwork of each report in a folder of --out lies, of artwork that was named singly. Notes are not safe for concurrent
// use, but for use by a Bench.
type Origins struct {
	dir   string
	known map[string]string // slash paths from dir: of a target its artwork
	added [][2]string
}

// ReadOrigins reads what is kept in the folder dir. A line that cannot be read, as one cut short, is passed over.
func ReadOrigins(dir string) *Origins {
	o := &Origins{dir: dir, known: map[string]string{}}
	f, err := os.Open(filepath.Join(dir, originsName))
	if err != nil {
		return o
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		var pair [2]string
		if json.Unmarshal(lines.Bytes(), &pair) == nil {
			o.known[pair[0]] = pair[1]
		}
	}
	return o
}

// of returns where the artwork of a target lies, an absolute path; empty if that is not known, or if the report there calls it otherwise.
func (o *Origins) of(to Target, called string) string {
	key, err := filepath.Rel(o.dir, string(to))
	if err != nil {
		return ""
	}
	name := o.known[filepath.ToSlash(key)]
	if name == "" {
		return ""
	}
	path, err := filepath.Abs(filepath.Join(o.dir, filepath.FromSlash(name)))
	if err != nil {
		return ""
	}
	called = filepath.ToSlash(filepath.Clean(filepath.FromSlash(called)))
	for strings.HasPrefix(called, "../") {
		called = strings.TrimPrefix(called, "../")
	}
	if !strings.HasSuffix(filepath.ToSlash(path), "/"+strings.TrimPrefix(called, "/")) {
		return "" // another call has written the report since
	}
	return path
}

// Note takes down where the artwork of a target lies.
func (o *Origins) Note(to Target, artwork string) {
	dir, err := filepath.Abs(o.dir)
	if err != nil {
		return
	}
	path, err := filepath.Abs(artwork)
	if err != nil {
		return
	}
	name, err := filepath.Rel(dir, path)
	key, fault := filepath.Rel(o.dir, string(to))
	if errors.Join(err, fault) != nil {
		return // as on two disks
	}
	pair := [2]string{filepath.ToSlash(key), filepath.ToSlash(name)}
	if o.known[pair[0]] != pair[1] {
		o.added = append(o.added, pair)
	}
}

// Save adds what was noted to the file, in one go: other calls may do so at the same time.
func (o *Origins) Save() error {
	if len(o.added) == 0 {
		return nil
	}
	var text []byte
	for _, pair := range o.added {
		line, err := json.Marshal(pair)
		if err != nil {
			return err
		}
		text = append(append(text, line...), '\n')
	}
	path := filepath.Join(o.dir, originsName)
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, fs.FileMode(0o644))
	if err == nil {
		_, err = f.Write(text)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return problem.About(path, err).Unwritable("results cannot be written here")
	}
	o.added = nil
	return nil
}
