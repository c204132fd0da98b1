package report_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func annotations(t *testing.T, reps []*preflight.Report, troubles ...report.Trouble) string {
	t.Helper()
	return written(t, func(out *bytes.Buffer) report.Writer {
		return report.NewAnnotations(out, report.AnnotationOptions{Rules: sampleRules, Where: "in reports"})
	}, reps, troubles...)
}

func TestAnnotationsGolden(t *testing.T) {
	golden(t, "sample.annotations", annotations(t, []*preflight.Report{sample(), ready()}, troubles...))
}

// The escapes are those of the workflow commands' documentation (read second-hand): % CR LF everywhere, and : and , in a value.
func TestAnnotationsEscape(t *testing.T) {
	rep := sample()
	rep.Artwork.PageCount = 1
	rep.Artwork.File = "a: b, c\n50%.png"
	rep.Findings = rep.Findings[:1]
	rep.Findings[0].Message, rep.Findings[0].Remedy, rep.Findings[0].Rule = "50%\nnext\r::error::b", "", "own"
	got := annotations(t, []*preflight.Report{rep})
	want := "::error file=a%3A b%2C c%0A50%25.png,title=own::1.00 mm from left, 2.00 mm from top: 50%25%0Anext%0D::error::b\n"
	if got != want {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

func TestAnnotationsAreBounded(t *testing.T) {
	var reps []*preflight.Report
	for i := range 60 {
		rep := sample() // an error, and eight warnings of one rule
		rep.Artwork.File = fmt.Sprintf("design%d.png", i)
		reps = append(reps, rep)
	}
	lines := strings.SplitAfter(strings.TrimSuffix(annotations(t, reps), "\n"), "\n")
	const left = "::notice title=peelcheck::the worst 50 lines of 120 are here, and 70 are left out; a build system may show 10 of a level. All are in the reports in reports\n"
	if len(lines) != 51 || lines[0] != left {
		t.Fatalf("%d lines, the first is %q", len(lines), lines[0])
	}
	for i, line := range lines[1:] {
		if !strings.HasPrefix(line, fmt.Sprintf("::error file=design%d.png,", i)) {
			t.Errorf("line %d is %q", i, line)
		}
	}
	const shown = "::notice title=peelcheck::22 lines are here; a build system may show 10 of a level. All are in the reports in reports\n"
	if got := annotations(t, reps[:11]); !strings.HasPrefix(got, shown) || strings.Count(got, "\n") != 23 {
		t.Errorf("11 errors and 11 warnings: %q", got)
	}
	if got := annotations(t, reps[:10]); !strings.HasPrefix(got, "::error") || strings.Count(got, "\n") != 20 {
		t.Errorf("10 errors and 10 warnings: %q", got)
	}
	if got := annotations(t, []*preflight.Report{ready()}); got != "" {
		t.Errorf("nothing found, and yet %q", got)
	}
}
