package main

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
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
