package serving

import (
	"html/template"
	"net/http"
	"strings"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// ticketPage is what the person at the press gets, to be printed.
type ticketPage struct {
	Title, Name, ID        string
	Query, SheetQuery      template.URL
	From                   template.URL // of the page that led here
	Verdict, Word, Says    string
	Garment, Size          string
	Sheet                  *sheetShown // nil where no sheet could be made
	NoSheet                string      // why
	SheetSize              string
	DesignPx, SheetPx      int      // how wide each is shown
	Fields                 []string // to be filled in by hand
	Facts                  []report.Fact
	Print, Press, Cautions []string
}

// AddsFiles reports whether the page's head offers to add files.
func (*ticketPage) AddsFiles() bool { return false }

// ticket shows the press operator's page with the design as it will look, and as it lies on the sheet.
func (s *Server) ticket(w http.ResponseWriter, r *http.Request, u *upload) {
	wanted := readWish(r.URL.Query())
	v := s.seen(w, r, u, wanted.artwork())
	if v == nil {
		return
	}
	rep := v.report
	page := &ticketPage{
		Title: "Ticket: " + report.Title(rep), Name: report.Title(rep), ID: u.id,
		Query: template.URL(wanted.artwork().query()), From: template.URL(wanted.query()), SheetQuery: template.URL(wanted.sheet().query()),
		Verdict: string(rep.Verdict), Word: verdictWord(rep.Verdict), Says: report.Says(rep.Verdict) + " (" + report.Tally(rep.Counts) + ")",
		Garment: rep.Job.Garment, Size: millimetres(rep.Artwork.WidthMM) + " x " + millimetres(rep.Artwork.HeightMM) + " mm",
		SheetSize: millimetres(v.job.Sheet.Width.MM()) + " x " + millimetres(v.job.Sheet.Height.MM()) + " mm",
		Fields:    report.TicketFields,
		Facts:     plainFacts(report.TicketFacts(rep)), Print: rep.Instructions.Print, Cautions: rep.Instructions.Cautions,
	}
	if rep.Artwork.PPIFrom == "assumed" {
		page.Size += ", assumed"
	}
	for _, step := range rep.Instructions.Press {
		page.Press = append(page.Press, report.Step(step))
	}
	sheet, err := s.view(r.Context(), u, wanted.sheet())
	if err != nil {
		page.NoSheet = noSheet(err, u)
	} else {
		page.Sheet, page.Print = sheetOf(sheet, rep, wanted), printSteps(rep, v.job.Process, sheet.print)
	}
	page.scale(rep, v.job.Sheet)
	s.show(w, http.StatusOK, "ticket.html", page)
}

// printSteps are how to print the file that was made. Its own lines speak of mirroring, which must be spoken of once only.
func printSteps(rep *preflight.Report, process *preflight.Process, made *printed) []string {
	var list []string
	if len(rep.Instructions.Print) > 0 {
		list = append(list, rep.Instructions.Print[0]) // which sheet
	}
	list = append(list, made.lines...)
	for _, note := range process.PrintNotes {
		if !strings.Contains(note, "100 %") { // the file's own lines say so
			list = append(list, note)
		}
	}
	return list
}

// figurePx bounds the pictures of a ticket.
const figurePx = 220

// scale gives both pictures the same scale.
func (p *ticketPage) scale(rep *preflight.Report, sheet preflight.Sheet) {
	a := rep.Artwork
	perMM := figurePx / max(a.WidthMM, a.HeightMM, sheet.Width.MM(), sheet.Height.MM())
	p.DesignPx, p.SheetPx = max(1, int(a.WidthMM*perMM)), max(1, int(sheet.Width.MM()*perMM))
}
