package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// ticketGroup is what artwork of one process and fabric shares at the press.
type ticketGroup struct {
	process, title, fabric string
	ticket                 preflight.Ticket    // Print gathers the sentences of all its artwork
	printFor               map[string][]string // which artwork each sentence of Print is for
	names                  []string
}

// keepTicket files a report's instructions with those of earlier artwork that is pressed the same way.
func (t *textWriter) keepTicket(rep *preflight.Report) {
	g := t.groupFor(rep)
	g.names = append(g.names, Title(rep))
	at := 0 // where a sentence not met before belongs
	for _, s := range rep.Instructions.Print {
		if g.printFor[s] == nil {
			g.ticket.Print = slices.Insert(g.ticket.Print, at, s)
		}
		at = slices.Index(g.ticket.Print, s) + 1
		g.printFor[s] = append(g.printFor[s], Title(rep))
	}
}

func (t *textWriter) groupFor(rep *preflight.Report) *ticketGroup {
	for _, g := range t.tickets {
		if g.process == rep.Job.Process && g.fabric == rep.Job.Fabric &&
			slices.Equal(g.ticket.Press, rep.Instructions.Press) && slices.Equal(g.ticket.Cautions, rep.Instructions.Cautions) {
			return g
		}
	}
	g := &ticketGroup{process: rep.Job.Process, title: cmp.Or(rep.Job.ProcessTitle, rep.Job.Process), fabric: rep.Job.Fabric, ticket: rep.Instructions, printFor: map[string][]string{}}
	g.ticket.Print = nil
	t.tickets = append(t.tickets, g)
	return g
}

func (t *textWriter) instructions(g *ticketGroup) {
	what := g.title
	if g.fabric != "" {
		what += " on " + g.fabric
	}
	if len(t.tickets) > 1 {
		what += " (for " + few(g.names) + ")"
	}
	t.para("How to print and press: ", bold, 4, what)
	ticket := g.ticket
	ticket.Print = slices.Clone(ticket.Print)
	for i, s := range ticket.Print {
		if only := g.printFor[s]; len(only) < len(g.names) {
			ticket.Print[i] = s + " (Only " + few(only) + ".)"
		}
	}
	t.steps("  ", ticket)
}

// few lists some names and counts the rest.
func few(names []string) string {
	const most = 4
	if len(names) <= most {
		return strings.Join(names, "; ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most-1], "; "), len(names)-most+1)
}

func (p *page) steps(indent string, ticket preflight.Ticket) {
	p.list(indent, "Print", plain, ticket.Print, func(int) string { return "- " })
	var press []string
	for _, s := range ticket.Press {
		press = append(press, Step(s))
	}
	p.list(indent, "Press", plain, press, func(i int) string { return fmt.Sprintf("%d. ", i+1) })
	p.list(indent, "Cautions", yellow, ticket.Cautions, func(int) string { return "- " })
}

func (p *page) list(indent, title string, st style, items []string, marker func(i int) string) {
	if len(items) == 0 {
		return
	}
	p.para(indent+title, st, 4, "")
	for i, item := range items {
		lead := indent + "  " + marker(i)
		p.para(lead, plain, len(lead), item)
	}
}

// Step writes one press step in sentences.
func Step(s preflight.PressStep) string {
	text := strings.TrimSuffix(s.Do, ".") + "."
	var at []string
	if s.TemperatureC > 0 {
		at = append(at, fmt.Sprintf("%.0f °C", s.TemperatureC))
	}
	if s.Seconds > 0 {
		at = append(at, fmt.Sprintf("%.0f seconds", s.Seconds))
	}
	if s.Pressure != "" {
		at = append(at, s.Pressure+" pressure")
	}
	if at != nil {
		text += " Set " + strings.Join(at, ", ") + "."
	}
	if s.Note != "" {
		text += " " + s.Note
	}
	return text
}

// TicketFacts are what the person at the press needs to know of an artwork. What else would fit is left to the report.
func TicketFacts(rep *preflight.Report) []Fact {
	list := []Fact{{"Size", sizeToPrint(rep)}, {"Process", jobWords(rep.Job, cmp.Or(rep.Job.ProcessTitle, rep.Job.Process))}, {"Sheet", ticketSheet(rep)}}
	if p := rep.Job.Place; p != nil {
		where := strings.TrimSpace(p.Where + " " + p.Note)
		list = append(list, Fact{"Place", strings.TrimSpace(fmt.Sprintf("%s, %.0f x %.0f mm at most. %s", p.Name, p.WidthMM, p.HeightMM, where))})
	}
	if sizes := rep.SizesInShort(); sizes != "" {
		list = append(list, Fact{"Size to print", sizes})
	}
	return list
}

// sizeToPrint is the size without the pixels, which the press does not need. Who reads a ticket cannot type a size.
func sizeToPrint(rep *preflight.Report) string {
	a := rep.Artwork
	if a.PPIFrom == "assumed" {
		return fmt.Sprintf("assumed, %.1f x %.1f mm: the file does not tell it. Ask before printing", a.WidthMM, a.HeightMM)
	}
	return fmt.Sprintf("%.1f x %.1f mm", a.WidthMM, a.HeightMM) + printedSize(a)
}

// ticketSheet tells of a design that does not fit only the largest size that does.
func ticketSheet(rep *preflight.Report) string {
	s, p := rep.Job.Sheet, rep.Placement
	if p.Fits || len(p.FittingSizes) == 0 {
		return placement(rep)
	}
	text := fmt.Sprintf("%s, too small: of its %.1f x %.1f mm the printer reaches %.1f x %.1f.", s.Name, s.WidthMM, s.HeightMM, p.PrintableMM.W, p.PrintableMM.H)
	if rep.SizeAdvised() {
		return text // the size that suits the rest too stands beside it
	}
	return text + " The largest that fits is " + p.FittingSizes[0].Words() + "."
}

// ticketColumns is how wide a line of plain text a browser prints on A4, with its own size of type and margins.
const ticketColumns = 90

// TicketFields are what a shop writes on a ticket by hand.
var TicketFields = []string{"Order", "Customer"}

// Ticket writes the press operator's page for one judged artwork as text, to be printed on one page of A4 or Letter.
func Ticket(w io.Writer, rep *preflight.Report, colour bool) error {
	t := &textWriter{page: page{w: w, colour: colour, columns: ticketColumns}}
	t.para("Ticket: ", bold, 4, Title(rep))
	rules := make([]string, len(TicketFields))
	for i, name := range TicketFields {
		rules[i] = name + " " + strings.Repeat("_", 30)
	}
	t.para("  ", plain, 2, strings.Join(rules, " "))
	t.fact("Verdict", verdictWords(rep))
	for _, f := range TicketFacts(rep) {
		t.fact(f.Label, f.Text)
	}
	t.steps("", rep.Instructions)
	return t.err
}

func verdictWords(rep *preflight.Report) string {
	if rep.Verdict == preflight.Ready {
		return "ready" + counts(rep.Counts)
	}
	return string(rep.Verdict) + ": " + Says(rep.Verdict) + counts(rep.Counts)
}
