package preflight

import (
	"reflect"
	"testing"
	"time"
)

// extended parses the files, each below the one before it.
func extended(t *testing.T, files ...string) ShopConfig {
	t.Helper()
	names := []string{"peelcheck.yaml", "caps/peelcheck.yaml", "caps/small/peelcheck.yaml"}
	var c ShopConfig
	for i, data := range files {
		var err error
		if c, err = c.Extended(names[i], []byte(data)); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func TestExtendedInherits(t *testing.T) {
	c := extended(t, wholeConfig, "garment: white\nlimits: {line: 0.5, gap: 0.6}\nexclude: [drafts]\n", "limits: {gap: 0.7}\n")
	p, err := c.DefaultProcess()
	if err != nil {
		t.Fatal(err)
	}
	if p.ID != "lantern-film" || c.Garment != "white" || c.Fabric != "felt" || c.FailOn != "warning" || len(c.Sheets) != 2 || c.Place != "pennant" || len(c.Places) != 2 || c.Exclude != nil {
		t.Errorf("%+v", c)
	}
	limits, err := c.ResolveLimits(p, map[string]float64{"dot": 2})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]Limit{
		"line": {0.5, "mm", "the file caps/peelcheck.yaml"}, "gap": {0.7, "mm", "the file caps/small/peelcheck.yaml"},
		"ppi": {200, "ppi", "the file peelcheck.yaml"}, "dot": {2, "mm", "the flag --min-dot"}, "hole": {0.5, "mm", "built in"},
	} {
		if limits[name] != want {
			t.Errorf("%s = %+v, want %+v", name, limits[name], want)
		}
	}
}

// TestExtendedLeavesItsParent: siblings that extend one parent do not see each other.
func TestExtendedLeavesItsParent(t *testing.T) {
	parent := extended(t, wholeConfig)
	want := extended(t, wholeConfig)
	const own = "processes: [{id: mine, based_on: lantern-film}]\nsheets: [{name: mine, width: 50, height: 50}]\nplaces: [{name: mine, width: 50, height: 50}]\nlimits: {line: 3}\n"
	for range 2 {
		if _, err := parent.Extended("caps/peelcheck.yaml", []byte(own)); err != nil {
			t.Fatal(err)
		}
	}
	if !reflect.DeepEqual(parent, want) {
		t.Errorf("got  %+v\nwant %+v", parent, want)
	}
}

func TestExtendedFaults(t *testing.T) {
	parent := extended(t, wholeConfig)
	for data, want := range map[string]string{
		"process: toner-underbase\n":                                  "caps/peelcheck.yaml:1:10: process toner-underbase has no fabric \"felt\"",
		"sheets: [{name: banner, width: 9, height: 9}]\n":             "caps/peelcheck.yaml:1:17: two sheets are called \"banner\"",
		"places: [{name: pennant, width: 9, height: 9}]\n":            "caps/peelcheck.yaml:1:17: two places are called \"pennant\"",
		"processes: [{id: lantern-film, based_on: film-underbase}]\n": "caps/peelcheck.yaml:1:18: there is a process \"lantern-film\" already",
	} {
		_, err := parent.Extended("caps/peelcheck.yaml", []byte(data))
		if err == nil || len(err.Error()) < len(want) || err.Error()[:len(want)] != want {
			t.Errorf("%q: %v, want %s", data, err, want)
		}
	}
}

// TestIsDay compares with Go's calendar.
func TestIsDay(t *testing.T) {
	for _, text := range []string{
		"2026-12-31", "2024-02-29", "2026-02-29", "1900-02-29", "2000-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "2026-04-00",
		"26-04-01", "2026-4-1", "2026-04-01 ", "2026-04-01x", "20260401", "", "+026-01-01", "-026-01-01", "0000-01-01",
	} {
		_, err := time.Parse(time.DateOnly, text)
		if isDay(text) != (err == nil) {
			t.Errorf("isDay(%q) = %v, and time.Parse says %v", text, isDay(text), err)
		}
	}
}

// A size is not mixed from two files.
func TestExtendedSizeStandsAlone(t *testing.T) {
	c := extended(t, "width: 90mm\nheight: 40\n", "garment: navy\n")
	if c.Width != 90*Millimetre || c.Height != 40*Millimetre || c.PPI != 0 || c.SizeFile != "peelcheck.yaml" {
		t.Errorf("inherited: %+v", c)
	}
	c = extended(t, "width: 90mm\nheight: 40\n", "garment: navy\n", "ppi: 254\n")
	if c.Width != 0 || c.Height != 0 || c.PPI != 254 || c.SizeFile != "caps/small/peelcheck.yaml" {
		t.Errorf("its own: %+v", c)
	}
}
