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
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"peelcheck/preflight"
)

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
	code := run(context.Background(), []string{"check", "--no-cache", "--jobs", "4", "--out", out, dir}, terminal{out: gone{}, err: &stderr})
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

func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr strings.Builder
	code := run(ctx, []string{"check", "--no-cache", "--out", t.TempDir(), t.TempDir()}, terminal{out: &stdout, err: &stderr})
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
