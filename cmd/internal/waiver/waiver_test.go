package waiver_test

import (
	"os"
	"path/filepath"
	"testing"

	"peelcheck/cmd/internal/waiver"
	"peelcheck/preflight/rules"
)

const written = `waivers:
  - {rule: hairline, files: "caps/*.png", reason: tested on a scrap, until: 2026-03-31}
  - {rule: hairline, files: caps/, reason: tested again, until: 2026-12-31}
  - {rule: speck, files: moth.png, reason: dust is meant, until: 2024-02-29}
`

func TestWaivers(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "waivers.yaml")
	if err := os.WriteFile(name, []byte(written), 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := waiver.Read(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := list.Check(rules.All()); err != nil {
		t.Fatal(err)
	}
	tests := []struct{ day, file, rule, want string }{
		{"2026-03-31", "caps/a.png", "hairline", "tested again"},
		{"2026-03-31", "caps/deep/a.png", "hairline", "tested again"},
		{"2026-12-31", "caps/a.png", "hairline", "tested again"},
		{"2027-01-01", "caps/a.png", "hairline", ""},
		{"2026-03-31", "caps/a.png", "speck", ""},
		{"2026-03-31", "a.png", "hairline", ""},
		{"2024-02-29", "walk/moth.png", "speck", "dust is meant"},
		{"2024-03-01", "walk/moth.png", "speck", ""},
	}
	for _, tt := range tests {
		holding, ended := list.Holding(tt.day)
		if len(holding)+len(ended) != len(list) {
			t.Errorf("%s: %d hold and %d have ended, of %d", tt.day, len(holding), len(ended), len(list))
		}
		got := ""
		if w := holding.For(filepath.Join(dir, tt.file), tt.rule); w != nil {
			got = w.Reason
		}
		if got != tt.want {
			t.Errorf("%s, %s in %s: %q, want %q", tt.day, tt.rule, tt.file, got, tt.want)
		}
	}
}
