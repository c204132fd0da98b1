package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/baseline"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/cmd/internal/waiver"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// acceptFlags are the flags that say which findings do not count.
type acceptFlags struct {
	baseline, writeBaseline, waivers string
}

func (a *acceptFlags) add(fs *pflag.FlagSet) {
	fs.StringVar(&a.baseline, "baseline", "", "findings that `FILE` holds are shown as accepted, and do not count")
	fs.StringVar(&a.writeBaseline, "write-baseline", "", "writes all that is found to `FILE`, as accepted from now on; then the exit code is 0, or 2")
	fs.StringVar(&a.waivers, "waivers", "", "`FILE` of waivers, besides those in the shop's files")
}

// acceptance decides which findings do not count.
type acceptance struct {
	named    waiver.List // of --waivers
	today    string
	ended    waiver.List // each once
	baseline *baseline.Baseline
}

// acceptance reads the files. The baseline is read once the library is known.
func (a *acceptFlags) acceptance(staged setup.Staged) (*acceptance, error) {
	out := &acceptance{today: time.Now().Format(time.DateOnly)}
	if a.waivers == "" {
		return out, nil
	}
	var err error
	if out.named, err = readWaivers(a.waivers, staged); err != nil {
		return nil, err
	}
	return out, out.named.Check(rules.All())
}

func readWaivers(name string, staged setup.Staged) (waiver.List, error) {
	if staged != nil {
		if data, ok, err := staged(name); err != nil {
			return nil, err
		} else if ok {
			return waiver.Parse(name, data)
		}
	}
	return waiver.Read(name)
}

// of returns what marks the accepted findings of the artwork at path, nil if there can be none.
func (a *acceptance) of(path string, in *setup.Folder) (judging.Accept, error) {
	if err := in.Waivers.Check(rules.All()); err != nil {
		return nil, err
	}
	holding, ended := append(slices.Clip(a.named), in.Waivers...).Holding(a.today)
	for _, w := range ended {
		if !slices.Contains(a.ended, w) {
			a.ended = append(a.ended, w)
		}
	}
	if len(holding) == 0 && a.baseline == nil {
		return nil, nil
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, problem.About(path, err)
	}
	return func(rep *preflight.Report) *preflight.Report { return a.accept(rep, abs, holding) }, nil
}

// accept marks what a waiver holds and then what the baseline holds.
func (a *acceptance) accept(rep *preflight.Report, path string, holding waiver.List) *preflight.Report {
	marks := make([]*preflight.Accepted, len(rep.Findings))
	waived := make([]bool, len(rep.Findings))
	any := false
	for i := range rep.Findings {
		if w := holding.For(path, rep.Findings[i].Rule); w != nil {
			marks[i] = &preflight.Accepted{By: preflight.AcceptedByWaiver, Reason: w.Reason, Until: w.Until}
			waived[i], any = true, true
		}
	}
	if a.baseline != nil {
		for i, known := range a.baseline.Known(rep, path, waived) {
			if known {
				marks[i] = &preflight.Accepted{By: preflight.AcceptedByBaseline, Reason: "in the baseline"}
				any = true
			}
		}
	}
	if !any {
		return rep
	}
	out := *rep
	out.Findings = slices.Clone(rep.Findings)
	for i, m := range marks {
		out.Findings[i].Accepted = m
	}
	out.Count()
	return &out
}

// tell tells of waivers that have ended, all in one line.
func (a *acceptance) tell(say *speaker) {
	var list []string
	for i := range a.ended {
		w := &a.ended[i]
		list = append(list, fmt.Sprintf("%s (%s in %s, on %s)", w.Place(), w.Rule, w.Files, w.Until))
	}
	switch len(list) {
	case 0:
	case 1:
		w := &a.ended[0]
		reason := fmt.Sprintf("the waiver of %s in %s ended on %s, so what it covered counts again", w.Rule, w.Files, w.Until)
		say.problem(problem.New(w.Place(), reason, "mend the artwork, or set a new day"))
	default:
		reason := fmt.Sprintf("%d waivers have ended, so what they covered counts again: %s", len(list), report.Named(list, mostWaivers))
		say.problem(problem.New("", reason, "mend the artwork, or set new days"))
	}
}

// mostWaivers is how many one line names.
const mostWaivers = 5

// present lists the whole library for the baseline.
func present(tasks []judging.Task) []baseline.Present {
	list := make([]baseline.Present, len(tasks))
	for i, t := range tasks {
		list[i] = baseline.Present{Path: t.Source.Path, SHA256: t.Sum}
	}
	return list
}

// wroteBaseline says what was written.
func wroteBaseline(findings, kept int, name string) string {
	words := ""
	if kept > 0 {
		words = fmt.Sprintf(", %d of them kept of artwork that was not judged", kept)
	}
	return fmt.Sprintf("Written: a baseline of %s%s, %s\n", countOf(findings, "finding"), words, report.Printable(filepath.ToSlash(name)))
}

// notInBaseline says that what was accepted is not accepted any more.
func notInBaseline(gone int, name string) error {
	words := countOf(gone, "finding") + " accepted before is no longer in it"
	if gone > 1 {
		words = countOf(gone, "finding") + " accepted before are no longer in it"
	}
	return problem.New(filepath.ToSlash(name), words, "if they were not mended or the artwork taken away, take the older file back")
}

// countOf is a number with its noun.
func countOf(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
