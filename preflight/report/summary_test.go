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
