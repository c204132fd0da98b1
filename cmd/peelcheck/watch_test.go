package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"peelcheck/cmd/internal/judging"
	"peelcheck/preflight"
	"peelcheck/preflight/rules"
)

// tinyPNG is artwork unlike any with another number.
func tinyPNG(tb testing.TB, number int) []byte {
	m := image.NewNRGBA(image.Rect(0, 0, 12, 12))
	for i := range 24 {
		if number>>i&1 == 1 {
			m.SetNRGBA(i%12, i/12*5+2, color.NRGBA{A: 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// drop is how a file comes into the folder: some are renamed into place, some written in two goes.
func drop(path string, data []byte, whole bool) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	if whole {
		beside := filepath.Join(filepath.Dir(path), ".coming-"+filepath.Base(path))
		if err := os.WriteFile(beside, data, 0o666); err != nil {
			return err
		}
		return os.Rename(beside, path)
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := f.Write(data[:len(data)/2]); err != nil {
		return err
	}
	time.Sleep(time.Millisecond)
	_, err = f.Write(data[len(data)/2:])
	return err
}

// TestWatchKilled kills the program again and again while files come in: in the end each has exactly one report and one proof, and lies
// unharmed in the folder of its verdict.
func TestWatchKilled(t *testing.T) {
	const files, kills = 1000, 20
	dir := filepath.Join(t.TempDir(), "in")
	want := map[string][32]byte{} // by path in the folder
	art := map[string][]byte{}
	for i := range files {
		rel := filepath.FromSlash(fmt.Sprintf("order %d/design %d.png", i%9, i))
		art[rel] = tinyPNG(t, i)
		want[rel] = sha256.Sum256(art[rel])
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	args := []string{"watch", dir, "--sort", "--settle", "20ms"}
	var reports atomic.Int64
	coming := make(chan error, 1)
	go func() {
		n := 0
		for rel, data := range art {
			if err := drop(filepath.Join(dir, rel), data, n%2 == 0); err != nil {
				coming <- err
				return
			}
			n++
			for int64(n) > reports.Load()+200 { // not all at once: they are to come while the program is killed
				time.Sleep(time.Millisecond)
			}
		}
		coming <- nil
	}()
	count := func() int64 {
		n := int64(0)
		eachFile(t, filepath.Join(dir, "checked"), func(rel string) { n += int64(strings.Count(rel, ".report.json")) })
		reports.Store(n)
		return n
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	for kill := range kills {
		cmd := exec.Command("peelcheck", args...)
		var errs bytes.Buffer
		cmd.Stderr = &errs
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		await(t, func() bool { return count() >= int64((kill+1)*files/(kills+2)) })
		time.Sleep(time.Duration(random.IntN(40)) * time.Millisecond) // at any point of its work
		if err := cmd.Process.Kill(); err != nil {
			t.Fatalf("%v: %s", err, errs.String())
		}
		cmd.Wait()
	}
	if n := count(); n == files {
		t.Error("all was done before the last kill; the test shows less than it should")
	}
	for done := false; !done; {
		select {
		case err := <-coming:
			if err != nil {
				t.Fatal(err)
			}
			done = true
		case <-time.After(time.Millisecond):
			reports.Store(files) // no more kills: let the rest come
		}
	}
	out, err := exec.Command("peelcheck", append(args, "--once", "--fail-on", "never")...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	checkSorted(t, dir, want)
}

// checkSorted checks that each file of want has one report and one proof, and lies once, unharmed, in the folder of the report's verdict.
func checkSorted(t *testing.T, dir string, want map[string][32]byte) {
	t.Helper()
	results := 0
	eachFile(t, filepath.Join(dir, "checked"), func(string) { results++ })
	if results != 2*len(want) {
		t.Errorf("%d reports and proofs for %d files", results, len(want))
	}
	found := map[string]int{}
	eachFile(t, dir, func(rel string) {
		folder, rest, _ := strings.Cut(rel, string(filepath.Separator))
		if folder == "checked" {
			return
		}
		found[rest]++
		data, err := os.ReadFile(filepath.Join(dir, rel))
		if err != nil || sha256.Sum256(data) != want[rest] {
			t.Errorf("%s is not what was put there (%v)", rel, err)
		}
		target := filepath.Join(dir, "checked", strings.TrimSuffix(rest, ".png"))
		data, err = os.ReadFile(target + ".report.json")
		var rep preflight.Report
		if err == nil {
			err = json.Unmarshal(data, &rep)
		}
		if err != nil || string(rep.Verdict) != folder || rep.Artwork.SHA256 != fmt.Sprintf("%x", want[rest]) {
			t.Errorf("%s: the report says %s of %s (%v)", rel, rep.Verdict, rep.Artwork.SHA256, err)
		}
		if info, err := os.Stat(target + ".proof.png"); err != nil || info.Size() == 0 {
			t.Errorf("%s: no proof (%v)", rel, err)
		}
	})
	for rel := range want {
		if found[rel] != 1 {
			t.Errorf("%s lies in %d folders", rel, found[rel])
		}
	}
}

// eachFile visits the files that are not hidden. A folder that is not there has none; others may change meanwhile.
func eachFile(t *testing.T, dir string, visit func(rel string)) {
	t.Helper()
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasPrefix(d.Name(), ".") {
			rel, _ := filepath.Rel(dir, path)
			visit(rel)
		}
		return nil
	})
}

// await waits for as long as a busy machine may take.
func await(t *testing.T, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(3 * time.Minute); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("waited in vain")
		}
	}
}

// lockedBuffer is written by one goroutine while another reads.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// TestWatchInterrupted stops the program as Ctrl-C does.
func TestWatchInterrupted(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i := range 50 {
		if err := drop(filepath.Join(dir, fmt.Sprintf("%d.png", i)), tinyPNG(t, i), true); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("peelcheck", "watch", dir, "--settle", "0s", "--jobs", "1")
	var out, errs lockedBuffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	await(t, func() bool { return strings.Contains(out.String(), ".png\n") })
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	err := cmd.Wait()
	text := out.String()
	lines := strings.Count(text, ".png\n")
	if err != nil || errs.String() != "" || !strings.Contains(text, fmt.Sprintf(" Stopped. Artwork judged: %d (", lines)) {
		t.Errorf("%v, %q and %q", err, text, errs.String())
	}
	results := 0
	eachFile(t, filepath.Join(dir, "checked"), func(string) { results++ })
	if results != 2*lines {
		t.Errorf("%d lines, but %d reports and proofs", lines, results)
	}
}

// TestWatchReaderGone watches with nobody to tell, as after "| head -1".
func TestWatchReaderGone(t *testing.T) {
	for _, format := range []string{"text", "json"} {
		var stderr strings.Builder
		code := run(t.Context(), []string{"watch", t.TempDir(), "--log-format", format}, terminal{out: gone{}, err: &stderr})
		if want := "peelcheck: standard output: it was closed before all was printed; "; code != exitTrouble || !strings.HasPrefix(stderr.String(), want) {
			t.Errorf("%s: exit code %d, %q; want %d, %q", format, code, stderr.String(), exitTrouble, want)
		}
	}
}

// BenchmarkWatch5000 judges 5,000 files that come all at once, without proofs, in turns with a check of the same folder.
func BenchmarkWatch5000(b *testing.B) {
	const files = 5000
	for b.Loop() {
		b.StopTimer()
		dir := filepath.Join(b.TempDir(), "in")
		for i := range files {
			if err := drop(filepath.Join(dir, fmt.Sprintf("%d.png", i)), tinyPNG(b, i), true); err != nil {
				b.Fatal(err)
			}
		}
		start := time.Now()
		if code := run(context.Background(), []string{"check", dir, "--no-proof", "--fail-on", "never", "--out", filepath.Join(dir, "..", "out")}, terminal{out: io.Discard, err: io.Discard}); code != exitClean {
			b.Fatalf("check: exit code %d", code)
		}
		check := time.Since(start)
		b.StartTimer()
		took, held := fresh(b, "peelheld", "watch", dir, "--no-proof", "--once", "--settle", "0s", "--fail-on", "never")
		b.StopTimer()
		reports := 0
		_ = filepath.WalkDir(filepath.Join(dir, "checked"), func(path string, d fs.DirEntry, err error) error {
			if strings.HasSuffix(path, ".report.json") {
				reports++
			}
			return err
		})
		if reports != files {
			b.Fatalf("%d reports", reports)
		}
		b.ReportMetric(float64(took)/float64(check), "x-check")
		b.ReportMetric(float64(held)/(1<<20), "held-MB")
		b.StartTimer()
	}
}

// TestFolderWordsNameNoFlag: whoever drags files is told of no flag, by any rule's remedy or where a document has too many pages.
func TestFolderWordsNameNoFlag(t *testing.T) {
	var texts []string
	for _, r := range rules.All() {
		texts = append(texts, r.Remedy)
	}
	_, _, err := judging.PagesOf("walk.pdf", judging.MostPages+1, 0)
	if err == nil {
		t.Fatal("a document of too many pages is judged")
	}
	for _, text := range append(texts, err.Error()) {
		if said := inFolder(text); strings.Contains(said, "--") {
			t.Errorf("%q says of flags: %q", text, said)
		}
	}
}
