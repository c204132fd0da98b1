package reportfiles_test

import (
	"os"
	"path/filepath"
	"testing"

	"peelcheck/cmd/internal/reportfiles"
)

// Which artwork a report is of is read wherever it stands, and no further: what follows may be cut off.
func TestArtworkOf(t *testing.T) {
	for _, c := range []struct{ text, file string }{
		{`{"schema_version": 1, "artwork": {"file": "moth.png", "sha256": "00"}, "findings": [{"id": 1`, "moth.png"},
		{`{"findings": [{"artwork": {"file": "other.png"}}], "artwork": {"file": "moth.png"}}`, "moth.png"},
		{`{"schema_version": 1}`, ""},
		{`[{"artwork": {"file": "moth.png"}}]`, ""},
		{`{"artwork": {"file": "mo`, ""},
		{`{"artwork": 3}`, ""},
		{``, ""},
	} {
		path := filepath.Join(t.TempDir(), "report.json")
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := reportfiles.ArtworkOf(path)
		if got.File != c.file || (err == nil) != (c.file != "") {
			t.Errorf("%s: %q, %v", c.text, got.File, err)
		}
	}
	if _, err := reportfiles.ArtworkOf(filepath.Join(t.TempDir(), "none.json")); !os.IsNotExist(err) {
		t.Errorf("a missing file: %v", err)
	}
}
