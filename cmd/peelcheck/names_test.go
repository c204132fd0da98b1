package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/preflight"
	"peelcheck/raster"
)

func TestTargets(t *testing.T) {
	tests := []struct {
		name  string
		paths []string
		out   string
		want  []string
	}{
		{"beside", []string{"in/a.png", "in/b.pdf"}, "", []string{"in/a", "in/b"}},
		{"gathered", []string{"in/a.png"}, "out", []string{"out/a"}},
		{"alike but for the extension", []string{"a.png", "b.png", "a.pdf"}, "", []string{"a.png", "b", "a.pdf"}},
		{"alike in other folders", []string{"x/a.png", "y/a.png"}, "", []string{"x/a", "y/a"}},
		{"gathered from two folders", []string{"x/a.png", "y/a.png", "z/a.png"}, "out", []string{"out/a.png", "out/a.png-2", "out/a.png-3"}},
		{"small letters and capitals", []string{"A.png", "a.pdf"}, "", []string{"A.png", "a.pdf"}},
		{"looks like a page", []string{"poster.pdf", "poster.p2.png"}, "", []string{"poster.pdf", "poster.p2.png"}},
		{"pages exported as pictures", []string{"poster.p1.png", "poster.p2.png"}, "", []string{"poster.p1", "poster.p2"}},
		{"a full name that is another's short one", []string{"a.png", "a.pdf", "a.png.gif"}, "", []string{"a.png", "a.pdf", "a.png.gif"}},
		{"no extension", []string{"lantern"}, "", []string{"lantern"}},
		{"nothing but an extension", []string{"in/.png"}, "out", []string{"out/.png"}},
		{"dots that would lead elsewhere", []string{"..png", "...png"}, "out", []string{"out/..png", "out/...png"}},
		{"as long as it may be", []string{strings.Repeat("n", 225) + ".png"}, "", []string{strings.Repeat("n", 225)}},
		// SHA-256 of the names by another program (Python hashlib).
		{"too long", []string{strings.Repeat("n", 251) + ".png"}, "", []string{strings.Repeat("n", 216) + "-64091ef0"}},
		{"too long, in letters of several bytes", []string{"a" + strings.Repeat("é", 125) + ".png"}, "", []string{"a" + strings.Repeat("é", 107) + "-9c8a68a9"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var sources []artfile.Source
			for _, p := range tt.paths {
				sources = append(sources, artfile.Source{Path: filepath.FromSlash(p)})
			}
			var got []string
			for _, target := range targets(sources, tt.out) {
				got = append(got, filepath.ToSlash(string(target)))
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestLongNamesStayApart(t *testing.T) {
	long := strings.Repeat("n", 246)
	got := targets([]artfile.Source{{Path: long + "1.png"}, {Path: long + "2.png"}, {Path: "x/" + long + "1.png"}}, "out")
	for i, a := range got {
		if n := len(filepath.Base(a.page(12345, 99999).report())); n > 255 {
			t.Errorf("%s: name of %d bytes", a, n)
		}
		if slices.Contains(got[:i], a) {
			t.Errorf("%s given twice", a)
		}
	}
}

func TestManyBrokenPagesMakeFewLines(t *testing.T) {
	o := outcome{source: artfile.Source{Path: "a.pdf"}}
	for range 6 {
		o.problems = append(o.problems, errors.New("broken"))
	}
	if o.shorten(); len(o.problems) != 6 {
		t.Errorf("6 problems became %d", len(o.problems))
	}
	for range 1000 {
		o.problems = append(o.problems, errors.New("broken"))
	}
	o.shorten()
	if last := o.problems[len(o.problems)-1].Error(); len(o.problems) != 6 || !strings.HasPrefix(last, "a.pdf: 1001 more problems") {
		t.Errorf("%d problems, the last is %q", len(o.problems), last)
	}
}

// gone is standard output whose reader went away, as in "| head -1".
type gone struct{}

func (gone) Write([]byte) (int, error) { return 0, fmt.Errorf("write: %w", syscall.EPIPE) }

func TestReaderGoneLeavesNothingHalfWritten(t *testing.T) {
	dir, out := t.TempDir(), t.TempDir()
	for i := range 8 {
		var b bytes.Buffer
		if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 60, 60))); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.png", i)), b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	var stderr strings.Builder
	code := run(context.Background(), []string{"check", "--jobs", "4", "--out", out, dir}, terminal{out: gone{}, err: &stderr})
	if want := "peelcheck: standard output: it was closed before all was printed; "; code != exitTrouble || !strings.HasPrefix(stderr.String(), want) {
		t.Errorf("exit code %d, %q; want %d, %q", code, stderr.String(), exitTrouble, want)
	}
	list, err := os.ReadDir(out)
	if err != nil || len(list) == 0 {
		t.Fatalf("%d files, %v", len(list), err)
	}
	for _, e := range list {
		if strings.HasSuffix(e.Name(), ".tmp") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

func TestAboutSystemErrors(t *testing.T) {
	for _, s := range systemErrors {
		p := about("a.png", &os.PathError{Op: "open", Path: "a.png", Err: s.is})
		if p.reason != s.reason || p.remedy == "" {
			t.Errorf("%v: %q", s.is, p.Error())
		}
	}
	if p := about(" ", os.ErrNotExist); !strings.HasPrefix(p.Error(), `" ": `) {
		t.Errorf("a name of a space: %q", p.Error())
	}
	if p := about("a.png", fmt.Errorf("outfile: %w", syscall.EIO)); strings.Contains(p.Error(), "outfile") || p.remedy == "" {
		t.Errorf("got %q", p.Error())
	}
}

// full refuses every write, as a full disk does.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestOutputThatCannotBeWritten(t *testing.T) {
	for _, args := range [][]string{{"rules"}, {"rules", "hairline"}, {"process"}, {"process", "film-underbase"}} {
		var stderr strings.Builder
		code := run(context.Background(), args, terminal{out: full{}, err: &stderr})
		if want := "peelcheck: standard output: no space left\n"; code != exitTrouble || stderr.String() != want {
			t.Errorf("%v: exit code %d and %q, want %d and %q", args, code, stderr.String(), exitTrouble, want)
		}
	}
}

// panicky stands for a fault in the program that one artwork brings out.
type panicky struct{ raster.Document }

func (panicky) Pages() int   { panic("lantern fell over") }
func (panicky) Close() error { return nil }

func TestPanicStaysWithItsFile(t *testing.T) {
	b := &bench{opener: func(string, artfile.Options) (*artfile.File, error) { return &artfile.File{Document: panicky{}}, nil }}
	o := b.judgeFile(context.Background(), artfile.Source{Path: "moth.png"}, "moth")
	if len(o.problems) != 1 || o.problems[0].Error() != "moth.png: internal error: lantern fell over; please report it together with the file" {
		t.Errorf("got %v", o.problems)
	}
}

func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr strings.Builder
	code := run(ctx, []string{"check", "--out", t.TempDir(), t.TempDir()}, terminal{out: &stdout, err: &stderr})
	if want := "peelcheck: stopped after 0 of 1 files\n"; code != exitTrouble || stderr.String() != want || stdout.Len() > 0 {
		t.Errorf("exit code %d, stdout %q, stderr %q; want %d, none and %q", code, stdout.String(), stderr.String(), exitTrouble, want)
	}
}

func TestEveryLimitHasWords(t *testing.T) {
	for _, name := range preflight.LimitNames {
		if limitWords[name] == "" {
			t.Errorf("limit %q has no words", name)
		}
	}
}

// TestProcessAsYAML feeds what "process --format yaml" prints back as a shop's own process.
func TestProcessAsYAML(t *testing.T) {
	for _, p := range preflight.Processes() {
		var stdout, stderr strings.Builder
		if code := run(context.Background(), []string{"process", p.ID, "--format", "yaml"}, terminal{out: &stdout, err: &stderr}); code != exitClean {
			t.Fatalf("%s: exit code %d: %s", p.ID, code, stderr.String())
		}
		own := strings.Replace(stdout.String(), "id: "+p.ID, "id: own", 1)
		shop, err := preflight.ParseProcesses("own.yaml", []byte("processes:\n  -\n    "+strings.ReplaceAll(own, "\n", "\n    ")+"\n"))
		if err != nil {
			t.Errorf("%s: %v", p.ID, err)
			continue
		}
		want := *p
		want.ID, want.Limits = "own", nil
		got := *shop.Processes[0]
		got.Limits = nil
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", p.ID, diff)
		}
	}
}
