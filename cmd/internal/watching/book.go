package watching

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/gofrs/flock"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
)

// What has been judged stands in a file among the results, one JSON object a line; the last line about a file counts. Lines are only ever
// added, so a program killed at any moment leaves at worst one broken last line, which is passed over. A name is given out before anything
// is written under it, so a file judged again after that gets the same one. If the book is lost, results are known by the hash of the
// artwork that stands in the report.
const (
	bookName = ".peelcheck-watch.jsonl"
	lockName = ".peelcheck-watch.lock"
)

// record is what is known of one file. Paths have slashes and stand in the book with their odd bytes as %XX.
type record struct {
	Path     string             `json:"path"`   // below the folder watched; if results lie elsewhere, from the root
	As       string             `json:"as"`     // its path below a verdict's folder
	Target   string             `json:"target"` // of its results, below the folder for them
	SHA256   string             `json:"sha256,omitzero"`
	Job      string             `json:"job,omitzero"`
	Size     int64              `json:"size,omitzero"`
	Modified int64              `json:"modified_ns,omitzero"`
	Mode     fs.FileMode        `json:"mode,omitzero"`
	Verdict  preflight.Verdict  `json:"verdict,omitzero"`
	Counts   preflight.Counts   `json:"counts,omitzero"`
	Reasons  []preflight.Reason `json:"reasons,omitzero"`
	Pages    int                `json:"pages,omitzero"`    // of the document
	Only     []int              `json:"only,omitzero"`     // the pages that have results, if not all have
	Because  []int              `json:"because,omitzero"`  // the pages that the verdict comes from, if not all do
	Refused  bool               `json:"refused,omitzero"`  // it cannot be judged
	Why      []why              `json:"why,omitzero"`      // it cannot be
	Prepared bool               `json:"prepared,omitzero"` // refused as a print file of our own
	Apart    bool               `json:"apart,omitzero"`    // put among the sorted artwork by others, and told
	To       string             `json:"to,omitzero"`       // where it is being moved, below the folder watched
	Moved    bool               `json:"moved,omitzero"`    // it has arrived there
	Cleared  bool               `json:"cleared,omitzero"`  // its results were removed, and its names are kept for the next file
	Earlier  []earlier          `json:"earlier,omitzero"`
}

// earlier are results of another file that had the path of a record before, or a place where a copy of the record's own file was moved.
type earlier struct {
	Target string `json:"target"`
	Pages  int    `json:"pages,omitzero"`
	To     string `json:"to,omitzero"` // empty if the artwork lies nowhere

	// The artwork as it was moved there; empty where an older program wrote the book.
	SHA256   string      `json:"sha256,omitzero"`
	Size     int64       `json:"size,omitzero"`
	Modified int64       `json:"modified_ns,omitzero"`
	Mode     fs.FileMode `json:"mode,omitzero"`
}

func (e *earlier) signature() signature { return signature{e.Size, e.Modified, e.Mode} }

// why is what was told of a file that cannot be judged.
type why struct {
	Reason string `json:"reason"`
	Remedy string `json:"remedy,omitzero"`
}

func (r *record) signature() signature { return signature{r.Size, r.Modified, r.Mode} }
func (r *record) see(s signature)      { r.Size, r.Modified, r.Mode = s.size, s.modified, s.mode }

func (r *record) target(out string) judging.Target {
	return judging.Target(filepath.Join(out, filepath.FromSlash(r.Target)))
}

// underWay reports whether results may lie there that are not on record: the file is being judged, or that was cut short.
func (r *record) underWay() bool {
	return r.Target != "" && r.SHA256 == "" && !r.Refused && !r.Cleared
}

// pages are the numbers of the pages that have results.
func (r *record) pages() []int {
	if len(r.Only) > 0 {
		return r.Only
	}
	return from1To(r.Pages)
}

func from1To(last int) (list []int) {
	for n := 1; n <= last; n++ {
		list = append(list, n)
	}
	return list
}

// aside are the results on record as earlier ones, with those before them.
func (r *record) aside() []earlier {
	if r.Target == "" {
		return r.Earlier
	}
	return append([]earlier{r.asEarlier()}, r.Earlier...)
}

func (r *record) asEarlier() earlier {
	return earlier{r.Target, r.Pages, r.To, r.SHA256, r.Size, r.Modified, r.Mode}
}

// book keeps the records. It is safe for concurrent use.
type book struct {
	dir, out string
	prefix   string // of paths in the book
	lock     *flock.Flock
	mu       sync.Mutex
	writes   judging.Outputs
	records  map[string]record
	bySum    map[string][]string // paths of records by content
	loose    map[string]bool     // paths of records with results that may have to be removed
	movedTo  map[string][]string // paths of records by where their artwork was moved, now or before
	names    judging.Names
	size     int64 // of the file as this program left it
	torn     bool  // the last line may be broken
}

// openBook reads the book in the folder for results. It refuses where another program has it open.
func openBook(dir, out string, writes judging.Outputs) (*book, error) {
	b := &book{dir: dir, out: out, writes: writes}
	real, err := realPath(dir)
	if err != nil {
		return nil, err
	}
	if results, err := realPath(out); err == nil {
		if rel, err := filepath.Rel(real, results); err != nil || !filepath.IsLocal(rel) {
			b.prefix = filepath.ToSlash(real) + "/"
		}
	}
	return b, b.read()
}

func (b *book) path() string { return filepath.Join(b.out, bookName) }

// read takes the lock and reads the book anew.
func (b *book) read() error {
	if b.lock != nil {
		b.lock.Close() // its folder may have been taken away
	}
	b.lock = flock.New(filepath.Join(b.out, lockName))
	if err := b.hold(); err != nil {
		return err
	}
	b.records, b.bySum, b.loose, b.movedTo = map[string]record{}, map[string][]string{}, map[string]bool{}, map[string][]string{}
	b.names, b.size, b.torn = judging.Names{}, 0, false
	data, err := os.ReadFile(b.path())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return problem.About(b.path(), err)
	}
	b.size, b.torn = int64(len(data)), !bytes.HasSuffix(data, []byte("\n"))
	lines := 0
	for line := range bytes.Lines(data) {
		lines++
		var r record
		if json.Unmarshal(line, &r) != nil || r.unescape() != nil {
			continue // broken off
		}
		b.note(r)
	}
	for key, r := range b.records {
		b.records[key] = b.arrived(r)
		for _, e := range r.aside() {
			b.names.Take(judging.Target(filepath.FromSlash(e.Target)))
		}
	}
	if b.torn || lines > 2*len(b.records)+100 {
		return b.rewrite()
	}
	return nil
}

// note keeps a record in memory.
func (b *book) note(r record) {
	if old := b.records[r.Path].SHA256; old != r.SHA256 {
		b.bySum[old] = slices.DeleteFunc(b.bySum[old], func(path string) bool { return path == r.Path })
		if r.SHA256 != "" {
			b.bySum[r.SHA256] = append(b.bySum[r.SHA256], r.Path)
		}
	}
	b.records[r.Path] = r
	for _, e := range r.aside() {
		if keys := b.movedTo[e.To]; e.To != "" && !slices.Contains(keys, r.Path) {
			b.movedTo[e.To] = append(keys, r.Path)
		}
	}
	if len(r.Earlier) > 0 || r.underWay() {
		b.loose[r.Path] = true
	} else {
		delete(b.loose, r.Path)
	}
}

// hold takes the lock, unless it is held. Where there can be none, as on some network shares, it does without.
func (b *book) hold() error {
	if ok, err := b.lock.TryLock(); err == nil && !ok {
		return problem.New(b.out, "another peelcheck watches with its results here", "stop it, or name another folder with --out")
	}
	return nil
}

// arrived notes that a file has been moved, where the program ended before that could be written.
func (b *book) arrived(r record) record {
	if r.To != "" && !r.Moved {
		_, err := os.Lstat(filepath.Join(b.dir, filepath.FromSlash(strings.TrimPrefix(r.Path, b.prefix))))
		r.Moved = errors.Is(err, fs.ErrNotExist)
	}
	return r
}

// rewrite leaves out what no longer counts.
func (b *book) rewrite() error {
	var all bytes.Buffer
	for _, r := range b.records {
		all.Write(r.line())
	}
	if err := outfile.Write(context.Background(), b.path(), func(w io.Writer) error { _, err := w.Write(all.Bytes()); return err }); err != nil {
		return nil // it can be read as it is
	}
	b.size, b.torn = int64(all.Len()), false
	return nil
}

// refresh reads the book again if somebody else has changed or removed it, as when folders are taken away. renewed reports whether so.
func (b *book) refresh() (renewed bool, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var size int64
	if info, err := os.Stat(b.path()); err == nil {
		size = info.Size()
	} else if !errors.Is(err, fs.ErrNotExist) {
		return false, nil // the share may be away for a moment
	}
	if size == b.size {
		return false, nil
	}
	return true, b.read()
}

func (b *book) close() { b.lock.Close() }

// find returns the record of a file.
func (b *book) find(rel string) (record, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	r, ok := b.records[b.key(rel)]
	return r, ok
}

// sortedAt returns what artwork was moved to a path below the folder watched, and the path that the first of it came from.
func (b *book) sortedAt(to string) (from string, list []earlier) {
	b.mu.Lock()
	defer b.mu.Unlock()
	to = filepath.ToSlash(to)
	for _, key := range b.movedTo[to] {
		r := b.records[key]
		if !strings.HasPrefix(key, b.prefix) || r.To == to && !r.Moved {
			continue
		}
		for _, e := range r.aside() {
			if e.To == to && e.SHA256 != "" {
				from = cmp.Or(from, filepath.FromSlash(b.rel(key)))
				list = append(list, e)
			}
		}
	}
	return from, list
}

// leads reports whether artwork of ours was moved, or is being moved, to a path below the folder watched.
func (b *book) leads(to string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	to = filepath.ToSlash(to)
	return slices.ContainsFunc(b.movedTo[to], func(key string) bool {
		r := b.records[key]
		return strings.HasPrefix(key, b.prefix) && slices.ContainsFunc(r.aside(), func(e earlier) bool { return e.To == to })
	})
}

// apart returns the file that was told to lie apart at a path.
func (b *book) apart(rel string) signature {
	if r, _ := b.find(rel); r.Apart {
		return r.signature()
	}
	return signature{}
}

// putApart notes that a file was told to lie apart.
func (b *book) putApart(rel string, seen signature) error {
	r, known := b.find(rel)
	if known && !r.Apart {
		return nil // the folder it lies in was once watched by itself
	}
	r = record{Path: b.key(rel), Apart: true}
	r.see(seen)
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.add(r, false)
}

func (b *book) key(rel string) string { return b.prefix + filepath.ToSlash(rel) }

// put adds a record, on the disk first.
func (b *book) put(r record) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.add(r, true)
}

// add adds a record; flush says whether it must outlast a power cut.
func (b *book) add(r record, flush bool) error {
	if err := b.hold(); err != nil {
		return err
	}
	line := r.line()
	if b.torn {
		line = append([]byte("\n"), line...)
	}
	f, err := os.OpenFile(b.path(), os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o644)
	if err != nil {
		return err
	}
	defer f.Close()
	n, err := f.Write(line)
	b.size += int64(n)
	b.torn = err != nil && (n > 0 || b.torn)
	if err == nil && flush {
		err = f.Sync()
	}
	if err == nil {
		b.note(r)
	}
	return err
}

// claim returns the names of a file and notes that it is being judged. They are those it has, or that an earlier file of its path had which
// no longer lies where it was moved, or else new ones. free reports whether artwork can be moved under a name, ours whether a report is of
// this file.
func (b *book) claim(rel string, free, ours func(string) bool) (record, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	old := b.records[b.key(rel)]
	r := record{Path: b.key(rel)}
	before := old.aside()
	for _, e := range before {
		if b.lies(before, e.Target) {
			continue
		}
		// A copy that was judged before has a number of its own but the first one's results: then the first one's name counts.
		for _, as := range []string{e.as(rel), filepath.FromSlash(old.As), rel} {
			if goesWith(as, e.Target) && free(as) {
				r.As, r.Target, r.Pages = filepath.ToSlash(as), e.Target, e.Pages
				r.Earlier = slices.DeleteFunc(before, func(o earlier) bool { return o.Target == e.Target })
				return r, b.add(r, false)
			}
		}
	}
	r.Earlier = before
	for n := 1; ; n++ {
		as := numbered(rel, n)
		if !free(as) {
			continue
		}
		for _, to := range judging.Candidates(as) {
			if b.names.Free(to) && !b.occupied(to, ours) {
				r.As, r.Target = filepath.ToSlash(as), filepath.ToSlash(string(to))
				b.names.Take(to)
				return r, b.add(r, false)
			}
		}
	}
}

// as is the path below a verdict's folder that artwork was moved to, or that it had in the folder watched.
func (e earlier) as(rel string) string {
	if _, as, ok := strings.Cut(e.To, "/"); ok {
		return filepath.FromSlash(as)
	}
	return rel
}

// goesWith reports whether target is a name that the results of artwork of this name may have.
func goesWith(as, target string) bool {
	return slices.Contains(judging.Candidates(as), judging.Target(filepath.FromSlash(target)))
}

// lies reports whether artwork that has these results still lies where it was moved.
func (b *book) lies(list []earlier, target string) bool {
	return slices.ContainsFunc(list, func(e earlier) bool {
		return e.Target == target && e.To != "" && !b.gone(e.To)
	})
}

// gone reports whether there is nothing at a path below the folder watched.
func (b *book) gone(rel string) bool {
	_, err := os.Lstat(filepath.Join(b.dir, filepath.FromSlash(rel)))
	if !errors.Is(err, fs.ErrNotExist) {
		return false
	}
	_, err = os.Stat(b.dir) // else the whole folder is away
	return err == nil
}

// occupied reports whether there are results of another file that the book does not know.
func (b *book) occupied(to judging.Target, ours func(report string) bool) bool {
	to = judging.Target(filepath.Join(b.out, string(to)))
	for _, page := range []judging.Target{to, to.Page(1, 2)} {
		_, noReport := os.Lstat(page.Report())
		_, noProof := os.Lstat(page.Proof())
		if noReport == nil && !ours(page.Report()) || noReport != nil && noProof == nil {
			return true
		}
	}
	return false
}

// longestName is what file systems allow, in bytes.
const longestName = 255

// numbered puts a number into a file's name, from the second on.
func numbered(rel string, n int) string {
	if n == 1 {
		return rel
	}
	dir, name := filepath.Split(rel)
	ext := filepath.Ext(name)
	if ext == name || len(ext) > 20 {
		ext = ""
	}
	stem, number := strings.TrimSuffix(name, ext), fmt.Sprintf("-%d", n)
	if most := longestName - len(number) - len(ext); len(stem) > most {
		for most > 0 && !utf8.RuneStart(stem[most]) {
			most--
		}
		stem = stem[:most]
	}
	return dir + stem + number + ext
}

// line is the record as it stands in the book.
func (r record) line() []byte {
	r.Earlier = slices.Clone(r.Earlier)
	for _, p := range r.names() {
		*p = url.PathEscape(*p)
	}
	data, err := json.Marshal(r)
	if err != nil {
		panic(err) // a struct of strings and numbers
	}
	return append(data, '\n')
}

// unescape undoes what line did. A path that leads elsewhere is an error: the book lies where anybody may write.
func (r *record) unescape() (err error) {
	for _, p := range r.names() {
		var one error
		*p, one = url.PathUnescape(*p)
		err = errors.Join(err, one)
		if p != &r.Path && *p != "" && !filepath.IsLocal(filepath.FromSlash(*p)) {
			err = errors.Join(err, fmt.Errorf("%q leads elsewhere", *p))
		}
	}
	return err
}

// names are all paths of a record.
func (r *record) names() []*string {
	list := []*string{&r.Path, &r.As, &r.Target, &r.To}
	for i := range r.Earlier {
		list = append(list, &r.Earlier[i].Target, &r.Earlier[i].To)
	}
	return list
}
