package report

import (
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"path"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// HTMLPage is what a page for a browser is made of.
type HTMLPage struct {
	Report  *preflight.Report
	Rules   []*preflight.Rule   // titles, limits and reasons of the rules the report names
	Proof   []byte              // the proof as PNG; empty for none
	Numbers []int               // the findings that have a number in the proof; these are always listed
	Words   func(string) string // says otherwise what is worded for the command line; nil for as it is
}

// mostListed is how many findings of one rule and level are listed; the JSON report has all.
const mostListed = 200

//go:embed page.html
var htmlText string

var htmlTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"step": Step, "percent": percent, "area": area,
}).Parse(htmlText))

// HTML writes one report as a page that needs nothing else: no other file, no network, no script.
func HTML(w io.Writer, page HTMLPage) error {
	if err := htmlTemplate.Execute(w, newHTMLView(page)); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// htmlView is what the template shows, in words where it can be.
type htmlView struct {
	*preflight.Report
	Name, Says, Tally string
	Facts             []Fact
	NotLooked         []Unseen
	Proof             template.URL
	ProofAlt          string
	Groups            []htmlGroup
}

// htmlGroup is what one rule found at one level.
type htmlGroup struct {
	Level       preflight.Level
	Rule, Title string
	Wrong       string // what the rule looks for
	Limit       string
	Why         []string // paragraphs
	Remedies    []string
	Rows        []htmlRow
	Count, More int
}

type htmlRow struct {
	*preflight.Finding
	Place, Size, Got, Limit string
}

func newHTMLView(page HTMLPage) *htmlView {
	rep := page.Report
	bare := *rep // the folder stays untold: the page is sent to customers
	bare.Artwork.File = path.Base(rep.Artwork.File)
	v := &htmlView{
		Report: rep, Name: Title(&bare), Says: Says(rep.Verdict),
		Tally: strings.Trim(counts(rep.Counts), " ()"), Facts: Facts(rep),
		NotLooked: NotLooked(rep.Skipped, func(id string) string { return titleOf(id, page.Rules) }),
	}
	if page.Words != nil {
		for i := range v.Facts {
			v.Facts[i].Text = page.Words(v.Facts[i].Text)
		}
	}
	if len(page.Proof) > 0 {
		v.Proof = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(page.Proof))
		v.ProofAlt = proofAlt(rep, v.Name)
	}
	rules := map[string]*preflight.Rule{}
	for _, r := range page.Rules {
		rules[r.ID] = r
	}
	for _, g := range Groups(rep.Findings, shownOfRule) {
		v.Groups = append(v.Groups, newHTMLGroup(rep, g, rules[g.Rule], page.Numbers))
	}
	return v
}

// proofAlt says in words what the proof shows.
func proofAlt(rep *preflight.Report, name string) string {
	text := fmt.Sprintf("Proof of %s: the artwork as it will look on a %s garment, beside it what prints white", name, rep.Job.Garment)
	if len(rep.Findings) == 0 {
		return text + ". Nothing is marked."
	}
	return text + ". The places of the findings below are framed and numbered."
}

func newHTMLGroup(rep *preflight.Report, g *Group, r *preflight.Rule, numbers []int) htmlGroup {
	h := htmlGroup{Level: g.Level, Rule: g.Rule, Wrong: g.Rule, Count: g.Count, Remedies: remedies(g.Worst)}
	if r != nil {
		h.Title, h.Wrong = r.Title, r.Title
		h.Why = docSection(r.Doc, "Why it matters")
		if r.Limit.Name != "" {
			l := rep.Job.Limits[r.Limit.Name]
			h.Limit = fmt.Sprintf("%s (%s)", Bound(r, l), l.From)
		}
	}
	if g.Accepted != nil {
		h.Remedies = nil
		h.Title = strings.TrimPrefix(h.Title+"; "+acceptedLabel(g.Accepted)+": "+acceptedWords(g.Accepted), "; ")
	}
	for _, f := range listed(rep.Findings, g, numbers) {
		row := htmlRow{Finding: f, Place: "all of it", Got: f.Measure.Words(), Limit: f.Measure.LimitWords()}
		if place(rep, f) != "" {
			row.Place = fmt.Sprintf("%.1f, %.1f mm", f.BoxMM.X, f.BoxMM.Y)
			row.Size = fmt.Sprintf("%.1f x %.1f mm", f.BoxMM.W, f.BoxMM.H)
		}
		h.Rows = append(h.Rows, row)
	}
	h.More = g.Count - len(h.Rows)
	return h
}

// listed are the findings of a group that are listed, in the order of the report: those with a number in the proof, and the worst.
func listed(findings []preflight.Finding, g *Group, numbers []int) []*preflight.Finding {
	var all []*preflight.Finding
	for i := range findings {
		if f := &findings[i]; f.Rule == g.Rule && f.Level == g.Level && g.holds(f.Accepted) {
			all = append(all, f)
		}
	}
	if len(all) <= mostListed {
		return all
	}
	inProof := func(f *preflight.Finding) int {
		if slices.Contains(numbers, f.ID) {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(all, func(a, b *preflight.Finding) int {
		return cmp.Or(inProof(b)-inProof(a), cmp.Compare(beyond(b.Measure), beyond(a.Measure)))
	})
	all = all[:mostListed]
	slices.SortFunc(all, func(a, b *preflight.Finding) int { return a.ID - b.ID })
	return all
}

// docSection returns the paragraphs under a heading of a rule's document.
func docSection(doc, heading string) []string {
	_, after, _ := strings.Cut("\n"+doc, "\n## "+heading+"\n")
	section, _, _ := strings.Cut(after, "\n## ")
	var out []string
	for para := range strings.SplitSeq(strings.TrimSpace(section), "\n\n") {
		if para = strings.Join(strings.Fields(para), " "); para != "" {
			out = append(out, para)
		}
	}
	return out
}
