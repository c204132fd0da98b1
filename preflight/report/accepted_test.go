package report

import (
	"bytes"
	"strings"
	"testing"

	"peelcheck/preflight"
)

// TestAcceptedInEveryFormat: what is accepted is shown with its reason wherever findings are listed, and calls nobody.
func TestAcceptedInEveryFormat(t *testing.T) {
	const reason = "tested on a scrap"
	rep := &preflight.Report{Artwork: preflight.ArtworkInfo{File: "moth.png", Page: 1, PageCount: 1}}
	for i, a := range []*preflight.Accepted{{By: preflight.AcceptedByWaiver, Reason: reason, Until: "2999-12-31"}, {By: preflight.AcceptedByBaseline, Reason: "in the baseline"}} {
		rep.Findings = append(rep.Findings, preflight.Finding{ID: i + 1, Rule: "hairline", Level: preflight.LevelError, Message: "A line.", Remedy: "Thicken it.", Accepted: a})
	}
	rep.Count()
	if rep.Verdict != preflight.Ready || rep.Counts != (preflight.Counts{Accepted: 2, Waived: 1}) {
		t.Fatalf("%+v, %s", rep.Counts, rep.Verdict)
	}
	var text, sarif, junit, annotations, summary, page bytes.Buffer
	for _, w := range []Writer{
		NewText(&text, TextOptions{}), NewSARIF(&sarif, nil), NewJUnit(&junit, JUnitOptions{FailOn: "note"}), NewAnnotations(&annotations, AnnotationOptions{}), NewSummary(&summary),
	} {
		if err := w.Add(rep); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := HTML(&page, HTMLPage{Report: rep}); err != nil {
		t.Fatal(err)
	}
	for name, out := range map[string]*bytes.Buffer{"text": &text, "sarif": &sarif, "junit": &junit, "html": &page} {
		if n := strings.Count(out.String(), reason); n != 1 {
			t.Errorf("%s has the reason %d times, want once:\n%s", name, n, out.String())
		}
	}
	if strings.Contains(text.String(), "Mend:") || strings.Contains(junit.String(), "<failure") || annotations.Len() > 0 || !strings.Contains(summary.String(), "nothing that counts (1 accepted; 1 waived until 2999-12-31 (tested on a scrap))") {
		t.Errorf("%s\n%s\n%s\n%s", text.String(), junit.String(), annotations.String(), summary.String())
	}
}
