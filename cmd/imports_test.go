// Package cmd_test states which package may import which.
//
// Do not edit this policy to make a build pass: a new arrow between layers is a decision about the design, and belongs
// in DEVELOPERS.md with its reason.
package cmd_test

import (
	"encoding/json"
	"os/exec"
	"path"
	"slices"
	"strings"
	"testing"
)

type layer struct {
	pattern  string
	own, std []string
}

// policy lists the packages of this module, a trailing /... standing for all below; the first pattern that matches
// counts. A package may import those of its layer named in own, and of the standard library anything but banned, of
// which std are allowed after all. Imports of tests are not looked at, except that nothing may import testOnly.
var policy = []layer{
	{pattern: "raster"},
	// A checksum of bytes that are zero for the most part, of rows read and written.
	{pattern: "raster/adler"},
	{pattern: "raster/codec", own: []string{"raster", "raster/adler"}},
	// Colours of PDF pages become shares of printing planes, in memory.
	{pattern: "raster/pdfcolour", own: []string{"raster", "raster/pdfvalue"}},
	// Objects and content streams are read by those that rewrite a page and those that ask it for facts.
	{pattern: "raster/pdfvalue"},
	{pattern: "raster/pdfcontent"},
	{pattern: "raster/pdfseparate", own: []string{"raster", "raster/pdfcolour", "raster/pdfcontent", "raster/pdfvalue"}},
	{pattern: "raster/pdffacts", own: []string{"raster", "raster/pdfcontent", "raster/pdfvalue"}},
	// The PDF renderer keeps its compiled code in a folder it is given, and bounds the time spent on a file.
	{pattern: "raster/pdfpage", own: []string{"raster", "raster/pdfcolour", "raster/pdffacts", "raster/pdfseparate"}, std: []string{"os", "syscall", "time"}},
	{pattern: "raster/rastertest", own: []string{"raster"}},
	{pattern: "raster/pdftest"},
	// Which way round lettering reads is told of pixels alone, by weights that a program makes from fonts.
	{pattern: "raster/lettering", own: []string{"raster", "raster/lettering/internal/*"}},
	{pattern: "raster/lettering/internal/rows", own: []string{"raster"}},
	{pattern: "raster/lettering/internal/likeness", own: []string{"raster"}},
	{pattern: "raster/lettering/internal/typecase", std: []string{"os"}},
	{pattern: "raster/lettering/internal/clipart", std: []string{"os", "os/exec"}},
	{pattern: "raster/lettering/internal/train", own: []string{"raster/lettering/internal/*"}, std: []string{"flag", "os"}},
	{pattern: "preflight", own: []string{"raster", "raster/lettering"}},
	{pattern: "preflight/ruletest", own: []string{"raster", "raster/pdfpage", "raster/pdftest", "preflight"}, std: []string{"os"}},
	{pattern: "preflight/rules/internal/generate", own: []string{"preflight/rules/internal/generate/listing"}, std: []string{"os", "os/exec"}},
	{pattern: "preflight/rules/internal/generate/listing", own: []string{"preflight"}},
	{pattern: "preflight/rules/internal/generate/page", own: []string{"preflight", "preflight/rules", "preflight/rules/internal/generate/listing"}, std: []string{"os"}},
	{pattern: "preflight/rules", own: []string{"preflight", "preflight/rules/*"}},
	{pattern: "preflight/rules/*", own: []string{"raster", "preflight"}},
	{pattern: "preflight/report", own: []string{"preflight"}},
	// Both write PDF, of pdfcpu's objects.
	{pattern: "preflight/internal/pdfobject"},
	{pattern: "preflight/proof", own: []string{"raster", "preflight", "preflight/internal/pdfobject"}},
	{pattern: "preflight/impose"},
	// The print file takes a time from its caller; it has no clock.
	{pattern: "preflight/printfile", own: []string{"raster", "preflight/internal/pdfobject"}, std: []string{"time"}},
	{pattern: "preflight/prepare", own: []string{"raster", "preflight", "preflight/impose", "preflight/printfile"}},
	{pattern: "cmd"},
	{pattern: "cmd/internal/artfile", own: []string{"raster", "raster/codec", "raster/pdfcolour", "raster/pdfpage", "cmd/internal/outfile"}, std: banned},
	// Compression knows bytes only, whoever writes them.
	{pattern: "cmd/internal/outfile", own: []string{"raster/adler"}, std: banned},
	// Prepared files are written below cmd/peelcheck too: by the local page.
	{pattern: "cmd/internal/preparing", own: []string{"raster", "preflight", "preflight/report", "preflight/prepare", "preflight/printfile", "cmd/internal/*"}, std: banned},
	// Watching is given a function that judges: no rules, no pictures.
	{pattern: "cmd/internal/watching", own: []string{"raster", "preflight", "cmd/internal/artfile", "cmd/internal/judging", "cmd/internal/outfile", "cmd/internal/problem", "cmd/internal/reportfiles", "cmd/internal/setup"}, std: []string{"os", "syscall", "time"}},
	// The local page shows, draws, words and prepares, turning designs as prepare does; its rules come from the command.
	{pattern: "cmd/internal/serving", own: []string{"raster", "preflight", "preflight/report", "preflight/proof", "preflight/prepare", "preflight/impose", "cmd/internal/*"}, std: banned},
	{pattern: "cmd/internal/...", own: []string{"raster", "preflight", "preflight/report", "preflight/proof", "cmd/internal/*"}, std: banned},
	{pattern: "cmd/...", own: []string{"raster", "raster/...", "preflight", "preflight/...", "cmd/internal/..."}, std: banned},
}

// banned are the packages through which code would reach files, the network, the clock or global state.
var banned = []string{"os", "os/exec", "os/signal", "net", "net/http", "log", "log/slog", "flag", "time", "syscall"}

// testOnly are the packages that nothing but tests, and one another, may import.
var testOnly = []string{"raster/rastertest", "raster/pdftest", "preflight/ruletest"}

const module = "peelcheck/"

type goPackage struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []goPackage {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", module+"...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var list []goPackage
	for dec := json.NewDecoder(strings.NewReader(string(out))); dec.More(); {
		var p goPackage
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		list = append(list, p)
	}
	if len(list) == 0 {
		t.Fatal("go list found no packages")
	}
	return list
}

func matches(pattern, name string) bool {
	if parent, ok := strings.CutSuffix(pattern, "/..."); ok {
		return strings.HasPrefix(name, parent+"/")
	}
	ok, err := path.Match(pattern, name)
	return ok && err == nil
}

func TestImports(t *testing.T) {
	used := make([]bool, len(policy))
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		i := slices.IndexFunc(policy, func(l layer) bool { return matches(l.pattern, name) })
		if i < 0 {
			t.Errorf("%s stands in no layer of the policy", name)
			continue
		}
		used[i] = true
		for _, imp := range p.Imports {
			if fault := policy[i].fault(imp); fault != "" {
				t.Errorf("%s imports %s: %s", name, imp, fault)
			}
		}
	}
	for i, u := range used {
		if !u {
			t.Errorf("no package matches the pattern %q of the policy", policy[i].pattern)
		}
	}
}

// fault says why a package of the layer may not import imp, or nothing if it may.
func (l layer) fault(imp string) string {
	name, ours := strings.CutPrefix(imp, module)
	switch {
	case !ours && slices.Contains(banned, imp) && !slices.Contains(l.std, imp):
		return "files, network, clock and globals belong to cmd"
	case !ours:
		return ""
	case slices.Contains(testOnly, name) && !slices.Contains(testOnly, l.pattern):
		return "only tests may"
	case !slices.ContainsFunc(l.own, func(pattern string) bool { return matches(pattern, name) }):
		return "this arrow is not in the policy"
	}
	return ""
}

// TestPolicyRefuses makes sure that the policy can fail: each of these arrows must be refused.
func TestPolicyRefuses(t *testing.T) {
	arrows := []struct{ from, to string }{
		{"raster", "peelcheck/preflight"},
		{"raster", "os"},
		{"preflight", "peelcheck/preflight/rules"},
		{"preflight", "time"},
		{"preflight/rules/*", "peelcheck/preflight/rules/hairline"},
		{"preflight/report", "peelcheck/preflight/rules"},
		{"preflight/report", "os"},
		{"preflight/printfile", "os"},
		{"cmd/internal/watching", "peelcheck/preflight/rules"},
		{"cmd/internal/watching", "log/slog"},
		{"cmd/...", "peelcheck/raster/rastertest"},
	}
	for _, a := range arrows {
		i := slices.IndexFunc(policy, func(l layer) bool { return l.pattern == a.from })
		if i < 0 {
			t.Fatalf("no layer %q", a.from)
		}
		if policy[i].fault(a.to) == "" {
			t.Errorf("%s may import %s, want it refused", a.from, a.to)
		}
	}
}
