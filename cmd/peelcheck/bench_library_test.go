package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkLibrary checks a folder of artwork, which the variable LIBRARY names and docs/speed.md says how to make, in a process of its
// own each time: first, and again with what was kept, the quickest of seven. The command is built for it, without changes to be committed: one of changed files is
// told by the sum of all of it at each start. The metrics are artworks a second of processor time, which does not hang on how
// many cores there are or what else they do, and how much longer the first run takes than the second.
func BenchmarkLibrary(b *testing.B) {
	dir := os.Getenv("LIBRARY")
	files, err := filepath.Glob(filepath.Join(dir, "*.png"))
	if err != nil || len(files) == 0 {
		b.Fatalf("no pictures in the folder %q that LIBRARY names; docs/speed.md says how to make a library", dir)
	}
	program := filepath.Join(b.TempDir(), "peelcheck.exe")
	if out, err := exec.CommandContext(b.Context(), "go", "build", "-buildvcs=auto", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	for _, bench := range []struct {
		name string
		args []string
	}{{"no-proof", []string{"--no-proof"}}, {"proofs", nil}} {
		b.Run(bench.name, func(b *testing.B) {
			var first, again spent
			for b.Loop() {
				args := append([]string{"check", dir, "--fail-on", "never", "--out", b.TempDir(), "--cache", b.TempDir()}, bench.args...)
				first.run(b, program, args)
				again.add(quickest(b, 7, program, args))
			}
			n := float64(len(files) * b.N)
			b.ReportMetric(n/first.processor.Seconds(), "first-a-second-and-core")
			b.ReportMetric(n/again.processor.Seconds(), "again-a-second-and-core")
			b.ReportMetric(first.wall.Seconds()/float64(b.N), "first-s")
			b.ReportMetric(again.wall.Seconds()/float64(b.N), "again-s")
			b.ReportMetric(first.wall.Seconds()/again.wall.Seconds(), "first-x-again")
			b.ReportMetric(first.processor.Seconds()/again.processor.Seconds(), "first-x-again-processor")
		})
	}
}

// spent is time by the clock on the wall and by the processors, user's and system's.
type spent struct{ wall, processor time.Duration }

func (s *spent) add(o spent) {
	s.wall += o.wall
	s.processor += o.processor
}

// quickest is the least that any of so many runs took: a run of a tenth of a second is easily twice that where others want the cores.
func quickest(b *testing.B, times int, program string, args []string) spent {
	b.Helper()
	var least spent
	least.run(b, program, args)
	for range times - 1 {
		var one spent
		one.run(b, program, args)
		least = spent{min(least.wall, one.wall), min(least.processor, one.processor)}
	}
	return least
}

func (s *spent) run(b *testing.B, program string, args []string) {
	b.Helper()
	cmd := exec.CommandContext(b.Context(), program, args...)
	start := time.Now()
	if err := cmd.Run(); err != nil {
		b.Fatalf("%v: %v", args, err)
	}
	s.wall += time.Since(start)
	s.processor += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}
