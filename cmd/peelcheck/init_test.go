package main

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
)

// sameJob fails unless two jobs judge alike: all but where the limits come from, and those to the four digits that the file writes.
func sameJob(t *testing.T, what string, got, want preflight.Job) {
	t.Helper()
	if got.Process.ID != want.Process.ID {
		t.Errorf("%s: process %s, want %s", what, got.Process.ID, want.Process.ID)
	}
	for name, l := range want.Limits {
		if g := got.Limits[name]; g.Unit != l.Unit || math.Abs(g.Value-l.Value) > 0.0005*l.Value {
			t.Errorf("%s: limit %s is %+v, want %+v", what, name, g, l)
		}
	}
	bare := func(j preflight.Job) preflight.Job {
		j.Process, j.Limits, j.WhiteDrawnAs = nil, nil, setup.First(j.WhiteDrawnAs, j.Process.WhiteDrawnAs)
		return j
	}
	g, w := bare(got), bare(want)
	if g.IsWhite("White") != w.IsWhite("White") || g.IsWhite("Opaque") != w.IsWhite("Opaque") {
		t.Errorf("%s: other names are white", what)
	}
	g.WhiteNames, w.WhiteNames = nil, nil
	if diff := cmp.Diff(w, g); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// remark is a line of the file that sets something once its # is taken away; other remarks have one space after it.
var remark = regexp.MustCompile(`(?m)^#([^ \n]|  )`)

// TestInitChangesNothing parses what init writes, as it is and with every setting's # taken away, and expects the job of a call without
// such a file, for every process.
func TestInitChangesNothing(t *testing.T) {
	for _, p := range preflight.Processes() {
		for _, asked := range []setup.Asked{{Process: p.ID}, {Process: p.ID, Garment: "#1e1e1e", Sheet: "210x297"}, {Process: p.ID, Garment: "navy", Sheet: "a3"}} {
			want, err := asked.Job(&preflight.ShopConfig{})
			if err != nil {
				t.Fatal(err)
			}
			text, err := (&initFlags{Asked: asked}).text()
			if err != nil {
				t.Fatal(err)
			}
			shop, err := preflight.ParseProcesses("peelcheck.yaml", text)
			if err != nil {
				t.Fatalf("%v\n%s", err, text)
			}
			got, err := (&setup.Asked{}).Job(&shop)
			if err != nil {
				t.Fatal(err)
			}
			sameJob(t, p.ID, got, want)
			if len(shop.Limits) > 0 || len(shop.Sheets) > 0 || len(shop.Processes) > 0 || shop.FailOn != "" {
				t.Errorf("%s: the file sets what was not asked for: %+v", p.ID, shop)
			}

			all, err := preflight.ParseProcesses("peelcheck.yaml", []byte(remark.ReplaceAllString(string(text), "$1")))
			if err != nil {
				t.Fatalf("with every setting: %v\n%s", err, text)
			}
			if len(all.Limits) != len(preflight.LimitNames) || len(all.Sheets) != 1 || len(all.Processes) != 1 || all.FailOn != "error" || all.Fabric == "" || all.WhiteDrawnAs == "" || all.Background == "" {
				t.Errorf("%s: not every setting is in the file: %+v", p.ID, all)
			}
			if got, err = (&setup.Asked{}).Job(&all); err != nil {
				t.Fatal(err)
			}
			// Nothing can stand there for the size of each file.
			if got.Width != 200*preflight.Millimetre || got.Height != got.Width || got.PPI != 300 || got.SizeFrom != "the file peelcheck.yaml" {
				t.Errorf("%s: printed size %v x %v, %v pixels an inch from %q", p.ID, got.Width, got.Height, got.PPI, got.SizeFrom)
			}
			got.Width, got.Height, got.PPI, got.SizeFrom = 0, 0, 0, ""
			sameJob(t, p.ID+", every setting", got, want)
		}
	}
}

// TestInitNamesEveryKey takes the keys that a shop may write from what the parser says of one it does not know.
func TestInitNamesEveryKey(t *testing.T) {
	text, err := (&initFlags{}).text()
	if err != nil {
		t.Fatal(err)
	}
	_, err = preflight.ParseProcesses("peelcheck.yaml", []byte("zzzzzzzzzzzz: 1"))
	if err == nil {
		t.Fatal("a key that does not exist is taken")
	}
	_, list, found := strings.Cut(err.Error(), "the keys here are ")
	keys := strings.Split(list, ", ")
	if !found || len(keys) < 11 {
		t.Fatalf("no keys in %q", err)
	}
	for _, key := range keys {
		if !strings.Contains(string(text), "\n#"+key+":") {
			t.Errorf("the file does not name %s", key)
		}
	}
}

func TestVersionWords(t *testing.T) {
	for want, build := range map[string]map[string]string{
		preflight.Version: {},
		preflight.Version + " (commit 0123456789ab)":       {"vcs.revision": "0123456789abcdef0123", "vcs.modified": "false"},
		preflight.Version + " (commit 0123456789ab+dirty)": {"vcs.revision": "0123456789abcdef0123", "vcs.modified": "true"},
		preflight.Version + " (commit 01)":                 {"vcs.revision": "01"},
	} {
		if got := versionWords(build); got != want {
			t.Errorf("%v: %q, want %q", build, got, want)
		}
	}
}
