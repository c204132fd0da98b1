package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	art "peelcheck/cmd/internal/drawing"
)

// BenchmarkFresh runs the command in a process of its own, as it is run at a counter, in turns with a process that does nothing but
// png.Decode of the same file. Memory is the most that was resident, as the kernel tells (VmHWM), over four bytes a pixel, beyond what
// a check of a picture of one pixel takes.
func BenchmarkFresh(b *testing.B) {
	for _, p := range cleanPages {
		b.Run(p.name, func(b *testing.B) {
			f := p.page.write(b)
			dot := benchPage{0.1, 0.1, 254, func(b *testing.B, c *art.Canvas) { c.Pix.SetNRGBA(0, 0, benchBlack) }}.write(b)
			_, least := dot.freshCheck(b)
			var ours, bare turns
			var most int64
			for b.Loop() {
				took, _ := fresh(b, "pngdecode", f.path)
				bare.add(took)
				took, held := f.freshCheck(b)
				ours.add(took)
				most = max(most, held)
			}
			ours.report(b, &bare, "png.Decode")
			ours.perPixel(b, f, "check")
			bare.perPixel(b, f, "decode")
			b.ReportMetric(float64(most-least)/float64(4*f.pixels), "resident-x-pixels")
		})
	}
}

// BenchmarkFreshHard checks the pages that are hard to judge, each in a process of its own, in turns with the clean page.
func BenchmarkFreshHard(b *testing.B) {
	for _, p := range hardPages {
		b.Run(p.name, func(b *testing.B) {
			clean, hard := cleanPages[0].page.write(b), p.page.write(b)
			var easy, ours turns
			for b.Loop() {
				took, _ := clean.freshCheck(b)
				easy.add(took)
				took, _ = hard.freshCheck(b)
				ours.add(took)
			}
			ours.report(b, &easy, "clean")
			ours.perPixel(b, hard, "check")
		})
	}
}

func (f benchFile) freshCheck(b *testing.B) (took time.Duration, held int64) {
	b.Helper()
	return fresh(b, "peelheld", "check", "--no-cache", "--fail-on", "never", "--out", filepath.Dir(f.path), f.path)
}

// fresh runs a command of the test program and returns how long it took and, of peelHeld, the most memory it held, in bytes.
func fresh(b *testing.B, name string, args ...string) (took time.Duration, held int64) {
	b.Helper()
	cmd := exec.CommandContext(b.Context(), name, args...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	start := time.Now()
	err := cmd.Run()
	took = time.Since(start)
	if err != nil {
		b.Fatalf("%s: %v: %s", name, err, errs.String())
	}
	fmt.Sscanf(errs.String(), "held %d kB", &held)
	return took, held * 1024
}

// peelHeld is peelcheck that says on standard error how much memory it held at most.
func peelHeld() {
	code := run(context.Background(), os.Args[1:], terminal{out: io.Discard, err: os.Stderr})
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(exitTrouble)
	}
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	line, _, _ := strings.Cut(rest, "\n")
	fmt.Fprintln(os.Stderr, "held", strings.TrimSpace(line))
	os.Exit(code)
}

// BenchmarkFreshPDF checks the vector page of the demo, 200 x 250 mm drawn at 600 pixels an inch, each time in a process of its own with the
// renderer's code kept from before; the goal is a verdict within 0.8 s.
func BenchmarkFreshPDF(b *testing.B) {
	args := []string{"check", "--no-cache", "--fail-on", "never", filepath.Join("..", "..", "testdata", "demo", "lantern-keeper.pdf"), "--out", b.TempDir()}
	fresh(b, "peelheld", args...)
	var ours, alone turns
	for b.Loop() {
		took, _ := fresh(b, "peelheld", args...)
		ours.add(took)
		took, _ = fresh(b, "peelheld", append(args, "--no-proof")...)
		alone.add(took)
	}
	b.ReportMetric(ours.least.Seconds(), "s-with-proof")
	b.ReportMetric(alone.least.Seconds(), "s-verdict-alone")
}
