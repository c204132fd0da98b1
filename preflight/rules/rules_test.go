package rules_test

import (
	"bytes"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode"

	"peelcheck/preflight"
	"peelcheck/preflight/rules"
	"peelcheck/preflight/rules/internal/generate/listing"
)

func folders(t *testing.T) []string {
	t.Helper()
	names, err := listing.Folders(os.DirFS("."))
	if err != nil {
		t.Fatal(err)
	}
	return names
}

func TestRulesAreValid(t *testing.T) {
	all := rules.All()
	if err := preflight.Validate(all); err != nil {
		t.Error(err)
	}
	if len(all) != len(folders(t)) {
		t.Errorf("%d rules from %d folders", len(all), len(folders(t)))
	}
	names := folders(t)
	for _, r := range all {
		if name := strings.ReplaceAll(r.ID, "-", ""); !slices.Contains(names, name) {
			t.Errorf("rule %s is not in the folder %s", r.ID, name)
		}
	}
}

func TestListIsCurrent(t *testing.T) {
	want, err := listing.AllGo(os.DirFS("."))
	if err != nil {
		t.Fatal(err)
	}
	compare(t, listing.ListFile, want)
}

func TestPageIsCurrent(t *testing.T) {
	compare(t, listing.PageFile, listing.Page(rules.All(), preflight.Processes()))
}

func compare(t *testing.T, file string, want []byte) {
	t.Helper()
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; run %s", err, listing.Command)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is stale: run %s", file, listing.Command)
	}
}

func TestAllGoRefusesStrayFolder(t *testing.T) {
	for name, dir := range map[string]fs.FS{
		"no rule in it": fstest.MapFS{"hairline/doc.md": {}},
		"no folder":     fstest.MapFS{"rules.go": {}, "internal/generate/main.go": {}},
	} {
		if got, err := listing.AllGo(dir); err == nil {
			t.Errorf("%s: no error but\n%s", name, got)
		}
	}
}

// leastLetters is fewer than any honest sentence under a heading has.
const leastLetters = 40

func TestDocsSaySomething(t *testing.T) {
	for _, r := range rules.All() {
		sections := strings.Split("\n"+r.Doc, "\n## ")
		if len(sections) != len(preflight.DocHeadings)+1 {
			t.Errorf("%s: %d headings, want %d", r.ID, len(sections)-1, len(preflight.DocHeadings))
			continue
		}
		for i, h := range preflight.DocHeadings {
			heading, text, _ := strings.Cut(sections[i+1], "\n")
			if heading != h || letters(text) < leastLetters || strings.Contains(text, "To be written") {
				t.Errorf("%s: under %q stands %q, want real text under %q", r.ID, heading, strings.TrimSpace(text), h)
			}
		}
	}
}

func letters(s string) int {
	n := 0
	for _, c := range s {
		if unicode.IsLetter(c) {
			n++
		}
	}
	return n
}

func TestEveryFolderHasATest(t *testing.T) {
	for _, name := range folders(t) {
		text, err := os.ReadFile(name + "/" + name + "_test.go")
		if err != nil || !bytes.Contains(text, []byte("ruletest.Run(t, ")) {
			t.Errorf("%s: no test that calls ruletest.Run (%v)", name, err)
		}
	}
}
