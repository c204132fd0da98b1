package report_test

import (
	"regexp"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// jargon are words that a customer need not know. Resolution is told as pixels across, which people see when they save a picture.
var jargon = regexp.MustCompile(`(?i)\bppi\b|\bdpi\b|alpha|plane|raster|separation|toner|\bRGB\b|CMYK|mask|\bmm2\b|--|\bflag\b|dE00|hairline|peelcheck|config`)

func finding(rule string, level preflight.Level, value, limit float64, unit string) preflight.Finding {
	return preflight.Finding{
		ID: 1, Rule: rule, Level: level, Message: "Something is odd.", Remedy: "Mend it.",
		BoxPx: preflight.BoxPx{X: 100, Y: 200, W: 10, H: 20}, BoxMM: preflight.BoxMM{X: 8, Y: 17, W: 1, H: 2},
		Measure: preflight.Measure{Value: value, Limit: limit, Unit: unit},
	}
}

func reportOf(findings ...preflight.Finding) *preflight.Report {
	rep := &preflight.Report{Verdict: preflight.Hold, Findings: findings}
	rep.Artwork = preflight.ArtworkInfo{File: "orders/reeds.png", Page: 1, PageCount: 1, WidthPx: 2362, HeightPx: 2953, PPIX: 300, PPIFrom: "pHYs", WidthMM: 200, HeightMM: 250}
	rep.Artwork.PrintedBoxMM = preflight.BoxMM{W: 190, H: 240}
	rep.Placement = preflight.Placement{PrintableMM: preflight.SizeMM{W: 200, H: 287}}
	rep.Sizes = &preflight.SuitableSizes{
		Most: preflight.PrintedSize{Scale: 0.88, DesignMM: preflight.SizeMM{W: 167.2, H: 211.2}, PictureMM: preflight.SizeMM{W: 176, H: 220}}, SuitsAll: true,
		Upright: &preflight.PrintedSize{Scale: 0.8, DesignMM: preflight.SizeMM{W: 152, H: 192}, PictureMM: preflight.SizeMM{W: 160, H: 200}}, Bounds: []preflight.SizeBound{{From: "sheet"}, {From: "pixels"}},
	}
	rep.Job.Garment = "black"
	return rep
}

func TestReply(t *testing.T) {
	list := []preflight.Finding{
		finding("hairline", preflight.LevelError, 0.12, 0.35, "mm"),
		finding("hairline", preflight.LevelError, 0.3, 0.35, "mm"),
		finding("hairline", preflight.LevelWarning, 0.34, 0.35, "mm"), // a line is a line, however thin
		finding("hairline", preflight.LevelNote, 0.34, 0.35, "mm"),    // and a note is not told
		finding("soft-edge", preflight.LevelWarning, 40, 0, "mm2"),
		finding("heavy-area", preflight.LevelNote, 40, 0, "mm2"),
	}
	list[1].BoxMM.X, list[2].BoxMM.X = 50, 90
	got := report.Reply(reportOf(list...))
	want := `Hello,

thank you for “reeds.png”. We looked at it for printing 200 x 250 mm large on a garment (black).

Before we can print it, we need your help:

1. 3 lines are too thin: the worst is 0.12 mm wide. Under 0.35 mm a line does not stay on the cloth. To be found: 8 mm from left and 17 mm from top; 50 mm from left and 17 mm from top; 90 mm from left and 17 mm from top. Please make every line at least 0.35 mm wide, or take out what is thinner.

2. A shadow, glow or soft edge fades to nothing, and its pale end does not hold. To be found: 8 mm from left and 17 mm from top. Please take it out, or give it a hard edge.

Places are measured to the upper left corner of what is meant, from the left and the upper edge of the whole picture, at the size printed.

Please answer this message, or send the changed file. If anything is unclear, just ask: we are glad to help.

Kind regards
`
	if got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

func TestReplySaysWhetherItCanBePrinted(t *testing.T) {
	tests := []struct {
		name string
		rep  *preflight.Report
		want string
	}{
		{"nothing found", reportOf(), "nothing that speaks against printing it"},
		{"notes alone", reportOf(finding("heavy-area", preflight.LevelNote, 1, 0, "mm2")), "nothing that speaks against printing it"},
		{"the shop's own business", reportOf(finding("turned", preflight.LevelWarning, 90, 0, "deg")), "nothing that speaks against printing it"},
		{"warnings alone", reportOf(finding("soft-edge", preflight.LevelWarning, 1, 0, "mm2")), "We can print it, but please look at this first:"},
		{"errors", reportOf(finding("blank", preflight.LevelError, 0, 0, "")), "Before we can print it, we need your help:"},
		{"a rule without words of its own", reportOf(finding("newest", preflight.LevelError, 0, 0, "")), "1. Something is odd. To be found: 8 mm from left and 17 mm from top. Mend it."},
	}
	for _, tt := range tests {
		if got := report.Reply(tt.rep); !strings.Contains(got, tt.want) {
			t.Errorf("%s: %q is not in:\n%s", tt.name, tt.want, got)
		}
	}
}

// A design that is too large is not looked for at a place; the size that needs no turning comes first.
func TestReplyOfTooLarge(t *testing.T) {
	rep := reportOf(finding("off-sheet", preflight.LevelError, 0, 0, ""))
	for _, want := range []string{
		"The whole picture is 200.0 x 250.0 mm, and what is drawn in it is larger than we can print on one sheet, 200 x 287 mm. Please tell us whether we may print it smaller: the whole picture at 160.0 x 200.0 mm would fit.",
		"About the size, all taken together: with the whole picture, its empty edges included, printed at 160.0 x 200.0 mm or less, the design suits our sheet and the pixels that it has. " +
			"If we turn it by a quarter on our sheet, it may be up to 176.0 x 220.0 mm. Fine detail shrinks with it",
	} {
		if got := report.Reply(rep); !strings.Contains(got, want) {
			t.Errorf("%q is not in:\n%s", want, got)
		}
	}
}

// Every rule has words for the customer, which are polite and free of jargon.
// TestReplyTellsWidthsThatRoundToNothing: 0 mm would sound as if there were no line.
func TestReplyTellsWidthsThatRoundToNothing(t *testing.T) {
	for value, want := range map[float64]string{
		0:     "it is one without a width of its own, which every printer draws as thin as it can. Under 0.35 mm",
		0.001: "it is under 0.01 mm wide. Under 0.35 mm",
		0.1:   "it is 0.1 mm wide. Under 0.35 mm",
	} {
		rep := sample()
		rep.Findings = []preflight.Finding{{ID: 1, Rule: "hairline", Level: preflight.LevelError, Message: "A line.", Measure: preflight.Measure{Quantity: "width", Value: value, Limit: 0.35, Unit: "mm"}}}
		rep.Counts, rep.Verdict = preflight.Counts{Error: 1}, preflight.Hold
		if got := report.Reply(rep); !strings.Contains(strings.Join(strings.Fields(got), " "), want) {
			t.Errorf("%g mm: want %q in:\n%s", value, want, got)
		}
	}
}

func TestReplyKnowsEveryRule(t *testing.T) {
	for _, r := range rules.All() {
		unit := r.Limit.Unit
		if unit == "" {
			unit = preflight.LimitUnits[r.Limit.Name]
		}
		got := report.Reply(reportOf(finding(r.ID, preflight.LevelError, 0.1, 0.35, unit)))
		if strings.Contains(got, "Something is odd") {
			t.Errorf("%s has no words for the customer", r.ID)
		}
		if word := jargon.FindString(got); word != "" {
			t.Errorf("%s: %q is jargon: %s", r.ID, word, got)
		}
		if strings.Contains(got, "1. ") && !strings.Contains(got, "Please ") {
			t.Errorf("%s does not say what to do: %s", r.ID, got)
		}
		if strings.Contains(got, "%!") {
			t.Errorf("%s is misformatted: %s", r.ID, got)
		}
	}
}

// Real reports of all processes come out whole too.
func TestReplyToRealReports(t *testing.T) {
	for name, rep := range judged(t) {
		got := report.Reply(rep)
		if word := jargon.FindString(got); word != "" {
			t.Errorf("%s: %q is jargon:\n%s", name, word, got)
		}
		if !strings.HasPrefix(got, "Hello,\n") || !strings.HasSuffix(got, "Kind regards\n") {
			t.Errorf("%s: not a letter:\n%s", name, got)
		}
	}
}
