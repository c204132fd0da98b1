package globs_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/cmd/internal/globs"
)

// paths are files of a library; those of git's own test below too.
var paths = []string{
	"a.png", "drafts.png", "drafts/a.png", "drafts/keep.png", "drafts/old/b.png", "caps/a.png", "caps/drafts/c.png", "caps/x/y/z.pdf",
	"walk/lantern.png", "walk/[1].png", "walk/moth 2.png", "caps/old/deep/er/d.png",
}

// meant says whether a walk from base would come to the file.
func meant(l globs.Lists, base, rel string) bool {
	parts := strings.Split(rel, "/")
	for i := range parts {
		if l.Excluded(filepath.Join(base, filepath.Join(parts[:i+1]...)), i+1 < len(parts)) {
			return false
		}
	}
	return l.Included(filepath.Join(base, rel))
}

// TestExcludeAsGit: the exclude patterns mean what gitignore(5) makes of them, asked of git check-ignore.
func TestExcludeAsGit(t *testing.T) {
	lists := []string{
		"drafts", "drafts/", "/drafts", "/drafts/", "*.png", "a.png", "/a.png", "caps/*", "caps/*.png", "caps/**", "**/a.png", "caps/**/z.pdf",
		"drafts/*\n!drafts/keep.png", "*.png\n!keep.png", "!a.png\na.png", "caps/*/", "old/", "walk/moth ?.png", "walk/[a-m]*.png", "caps/x",
		"**/old", "drafts/**\n!drafts/keep.png", "caps/**/deep", "*\n!caps/\n!caps/a.png",
	}
	for _, list := range lists {
		repo := t.TempDir()
		run(t, repo, "init", "-q")
		if err := os.WriteFile(filepath.Join(repo, ".gitignore"), []byte(list+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, rel := range paths {
			file := filepath.Join(repo, rel)
			if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		kept := run(t, repo, "ls-files", "-z", "--others", "--exclude-standard")
		l := globs.Lists{{Base: repo, Exclude: strings.Split(list, "\n")}}
		for _, rel := range paths {
			want := strings.Contains("\x00"+kept, "\x00"+rel+"\x00")
			if got := meant(l, repo, rel); got != want {
				t.Errorf("exclude %q: %s is meant: %v, and git says %v", list, rel, got, want)
			}
		}
	}
}

func run(t *testing.T, dir string, args ...string) string {
	t.Helper()
	cmd := exec.Command("git", args...)
	cmd.Dir = dir
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("git %v: %v", args, err)
	}
	return string(out)
}

func TestOrder(t *testing.T) {
	const base = "/lib"
	caps := filepath.Join(base, "caps")
	tests := []struct {
		name  string
		lists globs.Lists
		want  string // of paths that are meant
	}{
		{"no patterns", nil, strings.Join(paths, " ")},
		{"include a kind", globs.Lists{{Base: base, Include: []string{"*.pdf"}}}, "caps/x/y/z.pdf"},
		{"include a folder", globs.Lists{{Base: base, Include: []string{"drafts/"}}}, "drafts/a.png drafts/keep.png drafts/old/b.png caps/drafts/c.png"},
		{"the nearest include counts alone", globs.Lists{{Base: base, Include: []string{"*.pdf"}}, {Base: caps, Include: []string{"drafts/*"}}}, "caps/drafts/c.png"},
		{"exclude wins over include", globs.Lists{{Base: base, Include: []string{"caps/"}, Exclude: []string{"*.png"}}}, "caps/x/y/z.pdf"},
		{"excludes add up", globs.Lists{{Base: base, Exclude: []string{"drafts", "walk"}}, {Base: caps, Exclude: []string{"old", "*.pdf"}}}, "a.png drafts.png caps/a.png"},
		{"the last takes back", globs.Lists{{Base: base, Exclude: []string{"*.png"}}, {Base: caps, Exclude: []string{"!/a.png"}}}, "caps/a.png caps/x/y/z.pdf"},
	}
	for _, tt := range tests {
		var got []string
		for _, rel := range paths {
			lists := tt.lists
			if !strings.HasPrefix(rel, "caps/") && len(lists) > 1 {
				lists = lists[:1]
			}
			if meant(lists, base, rel) && (tt.name != "the nearest include counts alone" || strings.HasPrefix(rel, "caps/")) {
				got = append(got, rel)
			}
		}
		if strings.Join(got, " ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.name, got, tt.want)
		}
	}
}

func TestIdle(t *testing.T) {
	dir := t.TempDir()
	for _, rel := range append([]string{".git/inside.png"}, paths...) {
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(rel)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, rel), nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	used := []string{"*.pdf", "drafts/", "!keep.png", "/caps/x", "caps/**", ".git", "z.pdf", "{a,q}.png"}
	idle := []globs.Unmatched{
		{"*.pgn", ""}, {"a.png/", ""}, {"!kep.png", ""}, {"/x", ""}, {"inside.png", ""}, {"caps/*.pdf", ""},
		{"*.PDF", "caps/x/y/z.pdf"}, {"!KEEP.png", "drafts/keep.png"}, {"/Caps/**/[X-Z].pdf", "caps/x/y/z.pdf"}, {"Walk/", "walk"}, {"A.PNG/", ""},
	}
	var patterns []string
	for _, u := range idle {
		patterns = append(patterns, u.Pattern)
	}
	if got := globs.Idle(dir, append(patterns, used...)); !slices.Equal(got, idle) {
		t.Errorf("idle %q, want %q", got, idle)
	}
}
