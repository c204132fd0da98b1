package report_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// TestTicketFitsOnePage: Chromium 148 prints 53 lines of 94 columns of plain text on Letter and more lines of 91 on A4, both measured, with the
// type and margins that it starts with. The tickets here are the longest there are: too large for the sheet, for every fabric and place.
func TestTicketFitsOnePage(t *testing.T) {
	const lines, columns = 53, 91
	for _, p := range preflight.Processes() {
		sheet, err := preflight.SheetByName(p.DefaultSheet(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range p.Fabrics {
			for _, place := range preflight.PrintPlaces(nil) {
				rep := tooLarge(t, p, f.Name, sheet)
				rep.Job.Place = &preflight.PlaceInfo{Name: place.Name, WidthMM: place.Width.MM(), HeightMM: place.Height.MM(), Where: place.Where, Note: place.Note}
				var out bytes.Buffer
				if err := report.Ticket(&out, rep, false); err != nil {
					t.Fatal(err)
				}
				text := out.String()
				if n := strings.Count(text, "\n"); n > lines || n < 30 {
					t.Errorf("%s, %s, %s: %d lines, want at most %d", p.ID, f.Name, place.Name, n, lines)
				}
				for line := range strings.Lines(text) {
					if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > columns {
						t.Errorf("%s, %s, %s: %d columns, want at most %d: %s", p.ID, f.Name, place.Name, n, columns, line)
					}
				}
			}
		}
	}
}

// tooLarge is a report on artwork that no sheet of the process takes.
func tooLarge(t *testing.T, p *preflight.Process, fabric string, sheet preflight.Sheet) *preflight.Report {
	t.Helper()
	box := preflight.SizeMM{W: 1313.9, H: 1097.2}
	rep := sample()
	rep.Artwork.File, rep.Artwork.WidthMM, rep.Artwork.HeightMM = "off-sheet-banner.png", 1330, 1120
	rep.Artwork.PrintedBoxMM = preflight.BoxMM{W: box.W, H: box.H}
	rep.Job.Process, rep.Job.ProcessTitle, rep.Job.Fabric = p.ID, p.Title, fabric
	rep.Job.Sheet = preflight.SheetInfo{Name: sheet.Name, WidthMM: sheet.Width.MM(), HeightMM: sheet.Height.MM(), MarginMM: sheet.Margin.MM()}
	rep.Placement = preflight.Place(box, sheet, 3)
	rep.Findings = append(rep.Findings, preflight.Finding{Rule: "off-sheet", Level: preflight.LevelError})
	rep.Sizes = &preflight.SuitableSizes{
		Most:    preflight.PrintedSize{Scale: 0.91, PictureMM: preflight.SizeMM{W: 1210.3, H: 1019.2}},
		Upright: &preflight.PrintedSize{Scale: 0.83, PictureMM: preflight.SizeMM{W: 1102.2, H: 928.2}},
	}
	if !rep.SizeAdvised() {
		t.Fatal("no other size is advised")
	}
	var err error
	if rep.Instructions, err = preflight.Instructions(p, fabric, sheet, rep.Placement, true); err != nil {
		t.Fatal(err)
	}
	return rep
}
