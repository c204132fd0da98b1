package report_test

import (
	"bytes"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func summary(t *testing.T, reps []*preflight.Report, troubles ...report.Trouble) string {
	t.Helper()
	return written(t, func(out *bytes.Buffer) report.Writer { return report.NewSummary(out) }, reps, troubles...)
}

func TestSummaryGolden(t *testing.T) {
	golden(t, "summary.md", summary(t, []*preflight.Report{sample(), ready()}, troubles...))
}

func TestSummaryKeepsItsTable(t *testing.T) {
	rep := ready()
	rep.Artwork.File = "a|b\n| c <b>*x*_`[l](u)\\|.png"
	text := summary(t, []*preflight.Report{rep}, report.Trouble{File: "d|e.png", Text: "broken\n| twice"})
	for line := range strings.Lines(text) {
		if n := strings.Count(strings.ReplaceAll(line, `\|`, ""), "|"); strings.HasPrefix(line, "|") && n != 7 {
			t.Errorf("%d bars that are not escaped, want 7: %s", n, line)
		}
	}
	if want := `a\|b\\n\| c \<b\>\*x\*\_\` + "`" + `\[l\](u)\\\\\|.png`; !strings.Contains(text, want) {
		t.Errorf("no %s in %s", want, text)
	}
}

// TestSummaryCountsWhatCounts: a finding that is accepted is none of those that are left to be mended.
func TestSummaryCountsWhatCounts(t *testing.T) {
	rep := ready()
	rep.Findings = []preflight.Finding{{Rule: "speck", Level: preflight.LevelError, Message: "A dot."}, {Rule: "speck", Level: preflight.LevelError, Message: "A dot."},
		{Rule: "hairline", Level: preflight.LevelError, Accepted: &preflight.Accepted{By: preflight.AcceptedByBaseline, Reason: "in the baseline"}}}
	rep.Count()
	if text := summary(t, []*preflight.Report{rep}); !strings.Contains(text, "A dot. (and 1 more); 1 accepted |") {
		t.Errorf("one finding more that counts, and one accepted, in %s", text)
	}
}
