package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

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

// TestHTMLSummary: the page is well formed, fetches and runs nothing, and its cells hold what was said, whatever that is.
func TestHTMLSummary(t *testing.T) {
	hostile := ready()
	hostile.Artwork.File = `x/"><script>alert(1)</script><img src=//a.b onerror=c>.png`
	page := written(t, func(out *bytes.Buffer) report.Writer { return report.NewHTMLSummary(out) }, []*preflight.Report{hostile, sample()}, troubles...)
	var rows [][]string
	walk(parsed(t, page), func(n node) {
		switch n.XMLName.Local {
		case "script", "link", "img", "a", "form":
			t.Errorf("element %s", n.XMLName.Local)
		case "tr":
			var cells []string
			for _, c := range n.Children {
				cells = append(cells, whole(c))
			}
			rows = append(rows, cells)
		}
	})
	want := [][]string{
		{"Verdict", "Artwork", "Errors", "Warnings", "Notes", "Worst finding"},
		{"not complete", "the whole call", "", "", "", "stopped after 2 of 9 files"},
		{"not judged", "orders/moth:2.png", "", "", "", "the file is empty; copy or export it again"},
		{"hold", `lantern\x1b[31m.pdf, page 2 of 3`, "1", "8", "0", "thin-gap: A line 0.05 mm wide. (and 8 more)"},
		{"ready", hostile.Artwork.File, "0", "0", "0", "nothing found"},
		{"", "all", "1", "8", "0", ""},
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
	if !strings.Contains(page, "<p>1 on hold, 0 to review, 1 ready; 1 not judged; not complete.</p>") {
		t.Error("the totals are not there")
	}
}

// whole is the text of an element, that of the elements in it first.
func whole(n node) string {
	text := ""
	for _, c := range n.Children {
		text += whole(c)
	}
	return text + n.Text
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
