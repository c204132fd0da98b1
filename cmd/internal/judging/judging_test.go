package judging

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/preflight"
	"peelcheck/raster"
)

// panicky stands for a fault in the program that one artwork brings out.
type panicky struct{ raster.Document }

func (panicky) Pages() int   { panic("lantern fell over") }
func (panicky) Close() error { return nil }

func TestPanicStaysWithItsFile(t *testing.T) {
	b := &Bench{opener: func(string, artfile.Options) (*artfile.File, error) { return &artfile.File{Document: panicky{}}, nil }}
	o := b.File(context.Background(), Task{Source: artfile.Source{Path: "moth.png"}, Job: preflight.Job{Process: &preflight.Process{}}, To: "moth"})
	if len(o.Problems) != 1 || o.Problems[0].Error() != "moth.png: internal error: lantern fell over; please report it together with the file" {
		t.Errorf("got %v", o.Problems)
	}
}

func TestLookKeepsAPanicToItsFile(t *testing.T) {
	b := &Bench{opener: func(string, artfile.Options) (*artfile.File, error) { return &artfile.File{Document: panicky{}}, nil }}
	seen, err := b.Look(context.Background(), "/somewhere/8f3a", "moth.png", 1, &preflight.Job{Process: &preflight.Process{}})
	if seen != nil || err == nil || err.Error() != "moth.png: internal error: lantern fell over; please report it together with the file" {
		t.Errorf("got %v, %v", seen, err)
	}
}

func TestTargets(t *testing.T) {
	cwd, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	here := filepath.Base(cwd)
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
		{"from two folders", []string{"x/a.png", "y/z/a.png"}, "out", []string{"out/x/a", "out/y/z/a"}},
		{"from two folders far down", []string{"x/y/a.png", "x/z/a.png"}, "out", []string{"out/y/a", "out/z/a"}},
		{"from above", []string{"../a.png", "x/a.png"}, "out", []string{"out/a", "out/" + here + "/x/a"}},
		{"alike but for capitals, in any order", []string{"a.png", "A.png"}, "", []string{"a.png-2", "A.png"}},
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
			for _, target := range Targets(tt.paths, sources, tt.out) {
				got = append(got, filepath.ToSlash(string(target)))
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestNamesGivenOutOneByOne(t *testing.T) {
	var n Names
	tests := []struct {
		target Target
		free   bool
	}{
		{"a", true}, {"a", false}, {"A", false}, {"a.png", true}, {"sub/a", true},
		{"a.p2", false},                              // where a's second page would be written
		{"b.p1", true}, {"b.p2", true}, {"b", false}, // whose pages would be written over these
	}
	for _, tt := range tests {
		if got := n.Free(tt.target); got != tt.free {
			t.Errorf("%s is free: %v, want %v", tt.target, got, tt.free)
		}
		if tt.free {
			n.Take(tt.target)
		}
	}
	if got := Candidates("sub/a.png"); !slices.Equal(got, []Target{Target(filepath.Join("sub", "a")), Target(filepath.Join("sub", "a.png"))}) {
		t.Errorf("candidates %v", got)
	}
}

func TestLongNamesStayApart(t *testing.T) {
	long := strings.Repeat("n", 246)
	got := Targets([]string{"."}, []artfile.Source{{Path: long + "1.png"}, {Path: long + "2.png"}, {Path: "x/" + long + "1.png"}}, "out")
	for i, a := range got {
		if n := len(filepath.Base(a.Page(12345, 99999).Report())); n > 255 {
			t.Errorf("%s: name of %d bytes", a, n)
		}
		if slices.Contains(got[:i], a) {
			t.Errorf("%s given twice", a)
		}
	}
}

func TestManyBrokenPagesMakeFewLines(t *testing.T) {
	o := Outcome{Source: artfile.Source{Path: "a.pdf"}}
	for range 6 {
		o.Problems = append(o.Problems, errors.New("broken"))
	}
	if o.shorten(); len(o.Problems) != 6 {
		t.Errorf("6 problems became %d", len(o.Problems))
	}
	for range 1000 {
		o.Problems = append(o.Problems, errors.New("broken"))
	}
	o.shorten()
	if last := o.Problems[len(o.Problems)-1].Error(); len(o.Problems) != 6 || !strings.HasPrefix(last, "a.pdf: 1001 more problems") {
		t.Errorf("%d problems, the last is %q", len(o.Problems), last)
	}
}
