package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"peelcheck/preflight"
)

// TestPreparedDemo prepares designs for every process, and for one of a shop's own whose white knocks colour out, and lets the command judge what it wrote: an opaque photograph, fades, a background
// that stays in, hairlines as thin as twice the choke, a vector page and one with a spot colour. With PREPARE_ALL=1 it takes every
// design of the demo.
func TestPreparedDemo(t *testing.T) {
	designs := []string{"low-ppi-photo.jpg", "soft-shadow.png", "white-box-tote.png", "hairline-reeds.png", "lantern-keeper.pdf", "spot-moon.pdf"}
	if os.Getenv("PREPARE_ALL") != "" {
		designs = allDemo(t)
	}
	settings := filepath.Join(t.TempDir(), "peelcheck.yaml")
	if err := os.WriteFile(settings, []byte("processes:\n  - id: beside\n    based_on: toner-underbase\n    white_source: beside-colour\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	processes := []string{"beside"}
	for _, p := range preflight.Processes() {
		processes = append(processes, p.ID)
	}
	for _, process := range processes {
		for _, design := range designs {
			t.Run(process+"/"+design, func(t *testing.T) {
				args := []string{"prepare", "../../testdata/demo/" + design, "--config", settings, "--process", process, "--out", t.TempDir(), "--fail-on", "never"}
				switch design { // as testdata/SOURCES.md says of them
				case "off-sheet-banner.png":
					args = append(args, "--width", "180")
				case "no-size-cap.png":
					args = append(args, "--width", "90")
				}
				var stdout, stderr strings.Builder
				code := run(context.Background(), args, terminal{out: &stdout, err: &stderr})
				if code != exitClean || !strings.Contains(stdout.String(), "nothing was found in the file that the artwork does not have") {
					t.Errorf("exit code %d: %s%s", code, stderr.String(), stdout.String())
				}
			})
		}
	}
}

func allDemo(t *testing.T) (names []string) {
	t.Helper()
	list, err := os.ReadDir("../../testdata/demo")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if filepath.Ext(e.Name()) != ".json" {
			names = append(names, e.Name())
		}
	}
	return names
}

// What is mended in the file counts no more: the exit code is the file's.
func TestThickenedDemoIsReady(t *testing.T) {
	for thicken, want := range map[bool]int{false: exitFindings, true: exitClean} {
		args := []string{"prepare", "../../testdata/demo/hairline-reeds.png", "--out", t.TempDir()}
		if thicken {
			args = append(args, "--thicken")
		}
		var stdout, stderr strings.Builder
		code := run(context.Background(), args, terminal{out: &stdout, err: &stderr})
		if code != want || thicken != strings.Contains(stdout.String(), "The file itself is READY.") {
			t.Errorf("thickened %v: exit code %d: %s%s", thicken, code, stderr.String(), stdout.String())
		}
	}
}

// White that the artwork draws wrongly leaves no trace in what is written, so the file is judged by the artwork there, of which check tells 13 such
// places. Thickening mends none of it.
func TestLostWhiteHoldsThePrintFile(t *testing.T) {
	for _, more := range [][]string{nil, {"--thicken"}} {
		var stdout, stderr strings.Builder
		args := append([]string{"prepare", "../../testdata/demo/navy-on-navy.png", "--out", t.TempDir()}, more...)
		code := run(context.Background(), args, terminal{out: &stdout, err: &stderr})
		if code != exitFindings || !strings.Contains(stdout.String(), "The file itself is HOLD.\nWhite is missing from it in 13 places") {
			t.Errorf("%v: exit code %d: %s%s", more, code, stderr.String(), stdout.String())
		}
	}
}

// A print file has a size of its own, so that it is guessed can be told by the artwork alone. A size that is said is not guessed.
func TestAssumedSizeIsToBeReviewed(t *testing.T) {
	for _, tt := range []struct {
		more []string
		want string
	}{
		{nil, "The file itself is REVIEW.\nIts size is assumed: ask"},
		{[]string{"--copies", "2"}, "The file itself is REVIEW.\nIts size is assumed: ask"},
		{[]string{"--width", "90"}, "The file itself is READY.\n"},
	} {
		var stdout, stderr strings.Builder
		args := append([]string{"prepare", "../../testdata/demo/no-size-cap.png", "--out", t.TempDir()}, tt.more...)
		code := run(context.Background(), args, terminal{out: &stdout, err: &stderr})
		if code != exitClean || !strings.Contains(stdout.String(), tt.want) || !strings.Contains(stdout.String(), "nothing was found in the file that the artwork does not have") {
			t.Errorf("%v: exit code %d: %s%s", tt.more, code, stderr.String(), stdout.String())
		}
	}
}

// What preparing has brought in is gathered rule by rule, as check gathers it.
func TestNewFindingsAreGathered(t *testing.T) {
	var stdout, stderr strings.Builder
	args := []string{"prepare", "../../testdata/demo/dark-colours-hill.png", "--process", "toner-underbase", "--garment", "#2a3a2a", "--knock-out", "--thicken", "--out", t.TempDir()}
	code := run(context.Background(), args, terminal{out: &stdout, err: &stderr})
	_, news, found := strings.Cut(stdout.String(), "\nNew in the file, not in the artwork (")
	if code != exitFindings || !found || !strings.Contains(news, "2 places") || strings.Count(news, "    Mend: ") != strings.Count(news, "\n  warning ") {
		t.Errorf("exit code %d: %s%s", code, stderr.String(), stdout.String())
	}
}
