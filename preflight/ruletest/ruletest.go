// Package ruletest runs one rule over the artwork in its own testdata folder, for tests only. Start with Run.
//
// A case is a txtar archive: a sentence that says why, then a job section (see readJob), an art section (see drawArt) or a
// pdf section (see drawPDF), and a want section with one expected finding a line (see readWant). Artwork that text cannot draw is NAME.png with the other
// sections in NAME.want. What is wanted is worked out from the geometry by hand and never rewritten by a tool.
package ruletest

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"peelcheck/preflight"
	"peelcheck/raster"
)

// Run judges every case in the test's testdata folder with one rule and reports each difference from what is wanted. It also
// fails on a rule whose cases prove too little, that changes what it looks at, or that depends on the number of processors.
// It sets GOMAXPROCS for a while, so tests that call it must not run in parallel.
func Run(t *testing.T, rule *preflight.Rule) {
	t.Helper()
	for _, fault := range check(os.DirFS("testdata"), rule) {
		t.Errorf("%s: %s", rule.ID, fault)
	}
}

// check returns every fault of a rule and its cases, in order.
func check(dir fs.FS, rule *preflight.Rule) []string {
	cases, err := readCases(dir)
	if err != nil {
		return []string{err.Error()}
	}
	if len(cases) == 0 {
		return []string{"testdata holds no artwork"}
	}
	var faults []string
	counts := map[string]int{}
	fired, silent, skipped := 0, 0, 0
	for _, c := range cases {
		found, wasSkipped, more := c.judge(rule)
		faults = append(faults, more...)
		counts[c.name] = len(found)
		switch {
		case wasSkipped:
			skipped++
		case len(found) > 0:
			fired++
		default:
			silent++
		}
	}
	if fired == 0 {
		faults = append(faults, "no case fires")
	}
	if silent == 0 {
		faults = append(faults, "no case stays silent")
	}
	if slices.Contains(rule.Needs, preflight.NeedSize) && skipped == 0 {
		faults = append(faults, "it needs the printed size, but no case of unknown size (ppi unknown) is skipped")
	}
	return append(faults, limitFaults(cases, rule, counts)...)
}

// limitShift is how far the limit is moved to see whether a case sits near it.
const limitShift = 0.15

// limitFaults tells where moving the limit changes the number of findings of no case.
func limitFaults(cases []*testCase, rule *preflight.Rule, counts map[string]int) []string {
	if rule.Limit.Name == "" {
		return nil
	}
	var faults []string
	for _, share := range []float64{1 - limitShift, 1 + limitShift} {
		changed := false
		for _, c := range cases {
			job := c.job
			job.Limits = maps.Clone(job.Limits)
			l := job.Limits[rule.Limit.Name]
			l.Value *= share
			job.Limits[rule.Limit.Name] = l
			rep, _, err := preflight.Judge(c.art, job, []*preflight.Rule{rule})
			if err != nil {
				return append(faults, fmt.Sprintf("%s: with the limit moved: %v", c.name, err))
			}
			changed = changed || len(rep.Findings) != counts[c.name]
		}
		if !changed {
			faults = append(faults, fmt.Sprintf("no case changes with the limit at %.0f %%: none sits near it on that side", 100*share))
		}
	}
	return faults
}

// judge runs the rule over one case, with one processor and with many, and compares what it finds with what is wanted.
func (c *testCase) judge(rule *preflight.Rule) (found []preflight.Finding, skipped bool, faults []string) {
	fault := func(format string, args ...any) {
		faults = append(faults, c.name+": "+fmt.Sprintf(format, args...))
	}
	before := sha256.Sum256(c.art.Picture.Pix.Pix)
	rep, scene, err := judgeWith(many, c, rule)
	if err != nil {
		fault("%v", err)
		return nil, false, faults
	}
	alone, _, err := judgeWith(1, c, rule)
	if err != nil {
		fault("%v", err)
		return nil, false, faults
	}
	if !reflect.DeepEqual(rep.Findings, alone.Findings) {
		fault("%d workers and one disagree:\n%s%s", many, list(rep.Findings), list(alone.Findings))
	}
	if skipped = len(rep.Skipped) > 0; !skipped && !untouched(scene, rule) {
		fault("running the rule changes the scene, or a second run finds something else")
	}
	if sha256.Sum256(c.art.Picture.Pix.Pix) != before {
		fault("the picture was changed")
	}
	if skipped != c.skipped {
		fault("skipped is %v, want %v", skipped, c.skipped)
	}
	for _, line := range c.differences(rep, rule) {
		fault("%s", line)
	}
	for _, f := range rep.Findings {
		if p, b := f.PointPx, f.BoxPx; p != nil && (p.X < b.X || p.X >= b.X+b.W || p.Y < b.Y || p.Y >= b.Y+b.H) {
			fault("the point %v is not in the box: %s", *p, describe(f))
		}
		if !unsafe(f, rule) {
			fault("reported although %s %g: %s", rule.Limit.Sense, f.Measure.Limit, describe(f))
		}
	}
	return rep.Findings, skipped, faults
}

// unsafe reports whether a measure is on the wrong side of its limit, as every finding's must be.
func unsafe(f preflight.Finding, rule *preflight.Rule) bool {
	switch {
	case rule.Limit.Name == "":
		return true
	case rule.Limit.Sense == preflight.AtMost:
		return f.Measure.Value >= f.Measure.Limit
	}
	return f.Measure.Value < f.Measure.Limit
}

// many is more workers than the small pictures have bands for.
const many = 8

func judgeWith(workers int, c *testCase, rule *preflight.Rule) (*preflight.Report, *preflight.Scene, error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(workers))
	return preflight.Judge(c.art, c.job, []*preflight.Rule{rule})
}

// untouched runs a rule twice more on a scene it has seen and reports whether the masks and the hits stay the same.
func untouched(s *preflight.Scene, rule *preflight.Rule) bool {
	limit := s.Limit(rule.Limit.Name)
	before, first := fingerprint(s), rule.Run(s, limit)
	return reflect.DeepEqual(first, rule.Run(s, limit)) && fingerprint(s) == before
}

// fingerprint hashes the masks that a scene hands out.
func fingerprint(s *preflight.Scene) [sha256.Size]byte {
	var buf bytes.Buffer
	for _, b := range []*raster.Bitmap{s.White(), s.Lost(), s.Stray(), s.Faint(), s.Fading()} {
		if b == nil { // nothing to be set
			continue
		}
		for _, w := range b.Words {
			buf.Write(binary.LittleEndian.AppendUint64(nil, w))
		}
	}
	return sha256.Sum256(buf.Bytes())
}

// differences matches findings and expectations both ways.
func (c *testCase) differences(rep *preflight.Report, rule *preflight.Rule) []string {
	var out []string
	pxMM := 25.4 / rep.Artwork.PPIX
	left := slices.Clone(rep.Findings)
	for _, e := range c.want {
		at := slices.IndexFunc(left, func(f preflight.Finding) bool { return e.metBy(f, rule.Group, pxMM) })
		if at < 0 {
			out = append(out, "not found: "+e.line)
			continue
		}
		left = slices.Delete(left, at, at+1)
	}
	for _, f := range left {
		out = append(out, "unexpected: "+describe(f))
	}
	return out
}

func list(found []preflight.Finding) string {
	out := ""
	for _, f := range found {
		out += "  " + describe(f) + "\n"
	}
	return out
}

func describe(f preflight.Finding) string {
	return fmt.Sprintf("%s %.2f %.2f %.2f %.2f = %.3f %s (%s)", f.Level, f.BoxMM.X, f.BoxMM.Y, f.BoxMM.W, f.BoxMM.H, f.Measure.Value, f.Plane, f.Message)
}
