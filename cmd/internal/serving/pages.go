package serving

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

//go:embed pages
var pageFiles embed.FS

//go:embed assets
var assetFolder embed.FS

var assetFiles = http.FileServerFS(assetFolder)

// pages are the templates before a server has put its own limits into them.
var pages = template.Must(template.New("").Funcs(template.FuncMap{"mm": millimetres, "most": func() int64 { return 0 }, "mostWords": func() string { return "" }}).ParseFS(pageFiles, "pages/*.html"))

// pagesFor are the templates for a server that takes files of so many bytes.
func pagesFor(most int64) *template.Template {
	return template.Must(pages.Clone()).Funcs(template.FuncMap{"most": func() int64 { return most }, "mostWords": func() string { return byteWords(most) }})
}

// retryAfter is how many seconds a browser waits before it asks again.
const retryAfter = 5

// show fills in a page and sends it, whole or not at all.
func (s *Server) show(w http.ResponseWriter, status int, name string, data any) {
	var body bytes.Buffer
	if err := s.pages.ExecuteTemplate(&body, name, data); err != nil {
		http.Error(w, "internal error: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(body.Bytes())
}

// AddsFiles reports whether the page's head offers to add files; the list does so itself.
func (homePage) AddsFiles() bool     { return false }
func (troublePage) AddsFiles() bool  { return true }
func (*artworkPage) AddsFiles() bool { return true }

// troublePage says what is wrong and what to do.
type troublePage struct {
	Title, Wrong, Do string
	Again            string // the address to be tried again, empty where that would not help
	After            int    // and in how many seconds
}

func (s *Server) trouble(w http.ResponseWriter, r *http.Request, status int, wrong, do string) {
	page := troublePage{Title: "Not done", Wrong: wrong, Do: do}
	if status == http.StatusServiceUnavailable && r.Method == http.MethodGet {
		page.Title, page.Again, page.After = "Please wait", r.URL.RequestURI(), s.retryAfter
	}
	s.show(w, status, "trouble.html", page)
}

func (s *Server) nothingHere(w http.ResponseWriter, r *http.Request) {
	s.trouble(w, r, http.StatusNotFound, "There is nothing here.", "It may have been removed, or kept long enough. Drop the artwork again.")
}

// busyWords say that there is no place to wait.
func (s *Server) busyWords() string {
	return fmt.Sprintf("Too much is being judged at once: %d at work, %d waiting. Nothing is lost; it goes on in some seconds.", s.opt.AtOnce, s.opt.Waiting)
}

// explain answers with what went wrong.
func (s *Server) explain(w http.ResponseWriter, r *http.Request, err error) {
	var field *fieldError
	switch {
	case errors.Is(err, errBusy):
		w.Header().Set("Retry-After", strconv.Itoa(s.retryAfter))
		s.trouble(w, r, http.StatusServiceUnavailable, s.busyWords(), "Wait some seconds, then try again.")
	case errors.Is(err, context.Canceled):
		s.trouble(w, r, http.StatusServiceUnavailable, "peelcheck serve is ending.", "Start it again.")
	case errors.As(err, &field):
		s.trouble(w, r, http.StatusUnprocessableEntity, "This cannot be judged so: "+plainly(field.text)+".", "Go back and change it.")
	default:
		s.trouble(w, r, http.StatusUnprocessableEntity, upperFirst(plainly(err.Error()))+".", "Then drop it again.")
	}
}

// about finds the upload that a request is about.
func (s *Server) about(do func(http.ResponseWriter, *http.Request, *upload)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if u := s.store.get(r.PathValue("id")); u != nil {
			do(w, r, u)
			return
		}
		s.nothingHere(w, r)
	}
}

// choice is one of several that a field offers.
type choice struct {
	Value, Title string
	Chosen       bool
}

// artworkPage is all that the page of one artwork shows.
type artworkPage struct {
	Title, ID, Name string
	Query           template.URL // of the artwork as it is judged
	Wish            wish
	Wrong           *fieldError // what cannot be judged as asked; then there is no more than the form
	Trouble         string      // why the file cannot be judged at all

	Verdict, Word, Says, Tally         string
	Width, Taken, Height               string
	Assumed                            bool
	Processes, Sheets, Fabrics, Places []choice
	DrawnAs                            []choice // what stands for white
	DrawnNote                          string   // where that comes from, and when to change it
	Garments                           []string
	Garment, GarmentHex                string
	Pages                              []choice
	Groups                             []groupShown
	Facts, NotChecked                  []report.Fact
	Print, Press, Cautions             []string
	Reply                              string
	Viewer                             viewerShown
	Sheet                              *sheetShown
	SheetQuery, PrintQuery             template.URL
	ThickenHelps                       bool
	SizeNote                           string         // which sizes suit, where another is advised
	PlaceNote                          string         // how the design sits in the place that was chosen
	Document                           *documentShown // nil where there is one page
	NoSheet                            string         // why no print file can be made
	Prepared                           *sheetShown    // the print file as it was made last with what is ticked; nil if it was not
}

// viewerShown is the picture that zooms.
type viewerShown struct {
	W, H, Levels int
	Layers       []choice
	Query        template.URL
	PerMM        float64 // pixels a millimetre
}

// sheetShown is what was done for the printer.
type sheetShown struct {
	Lines                      []string
	News                       []string
	Verdict, Word, Says, Tally string
	Mended                     bool   // lines were grown and gaps opened
	Changed                    bool   // so, or parts were left out
	Mirror                     bool   // it holds the artwork mirrored
	Lost                       string // how many places that the artwork draws white are missing from it, empty if none is
	Assumed                    bool   // the artwork does not tell its size, which was assumed for the sheet
}

// groupShown is all findings of one kind.
type groupShown struct {
	ID, Level, LevelWord, Title, Limit, Places string
	Rows, More                                 []rowShown
	Unlisted                                   int
	Remedies                                   []string
}

type rowShown struct {
	ID                    int
	Level, Message, Where string
	X, Y, W, H            int
	Point                 *preflight.PointPx // of the mark itself, nil for the middle of its box
	Wide                  float64            // of the mark itself in pixels, 0 where that was not measured
}

// How many findings of a kind are listed: at first, and after asking for more. Those listed are marked in the picture.
const rowsAtFirst, rowsInAll = 5, 100

func (s *Server) artwork(w http.ResponseWriter, r *http.Request, u *upload) {
	wanted := readWish(r.URL.Query())
	page := &artworkPage{Title: u.name, ID: u.id, Name: u.name, Wish: wanted, Query: template.URL(wanted.artwork().query())}
	v, err := s.view(r.Context(), u, wanted.artwork())
	switch {
	case errors.Is(err, errBusy), errors.Is(err, context.Canceled):
		s.explain(w, r, err)
		return
	case errors.As(err, &page.Wrong):
		page.Wrong = &fieldError{page.Wrong.field, sentence(plainly(page.Wrong.text))}
		s.offer(page, wanted)
		s.show(w, http.StatusUnprocessableEntity, "artwork.html", page)
		return
	case err != nil:
		page.Trouble = sentence(plainly(withoutName(err, u.name)))
		if wanted.query() != "" { // what was asked for may be what is wrong
			s.offer(page, wanted)
		}
		s.show(w, http.StatusUnprocessableEntity, "artwork.html", page)
		return
	}
	s.fill(page, v, wanted)
	shown, status := v, http.StatusOK
	if wanted.Sheets {
		sheet, err := s.view(r.Context(), u, wanted)
		switch {
		case errors.Is(err, errBusy), errors.Is(err, context.Canceled):
			s.explain(w, r, err)
			return
		case err != nil: // the artwork stays in sight
			page.NoSheet, status, wanted = noSheet(err, u), http.StatusUnprocessableEntity, wanted.artwork()
		default:
			shown, page.Sheet = sheet, sheetOf(sheet, v.report, wanted)
			page.Groups = s.groupsOf(sheet.report)
		}
	} else if sheet := s.views.get(viewKey(u, wanted.sheet())); sheet != nil {
		page.Prepared = sheetOf(sheet, v.report, wanted)
	}
	page.Document = documentOf(u, wanted)
	page.Viewer = viewerOf(shown, wanted)
	s.show(w, status, "artwork.html", page)
}

// noSheet says why no print file can be made.
func noSheet(err error, u *upload) string { return sentence(plainly(withoutName(err, u.name))) }

// Field is which field of the page is wrong; for templates.
func (e *fieldError) Field() string { return e.field }

// WrongAt is what is wrong with a field, nil if nothing is; for templates, as IsWrong.
func (p *artworkPage) WrongAt(field string) *fieldError {
	if p.Wrong == nil || p.Wrong.field != field {
		return nil
	}
	return p.Wrong
}

// IsWrong reports whether something is wrong with a field.
func (p *artworkPage) IsWrong(field string) bool { return p.WrongAt(field) != nil }

// offer fills in the form as it was asked for, where nothing could be judged.
func (s *Server) offer(page *artworkPage, w wish) {
	kept := w
	if page.Wrong != nil {
		kept = w.without(page.Wrong.field)
	}
	job, err := kept.job(s.opt.Asked, s.opt.Shop)
	if err != nil { // more than one is wrong
		if job, err = (wish{}).job(s.opt.Asked, s.opt.Shop); err != nil {
			return
		}
	}
	s.choices(page, job)
	page.Width, page.Garment = w.Width, setup.First(w.Garment, page.Garment)
}

// commonGarments are offered; any other CSS colour may be typed.
var commonGarments = []string{"black", "white", "navy", "grey", "#1e1e1e", "red", "maroon", "royalblue", "forestgreen", "olive", "khaki", "orange", "pink", "purple"}

func (s *Server) choices(page *artworkPage, job preflight.Job) {
	for _, p := range slices.Concat(s.opt.Shop.Processes, preflight.Processes()) {
		if !slices.ContainsFunc(page.Processes, func(c choice) bool { return c.Value == p.ID }) {
			page.Processes = append(page.Processes, choice{p.ID, upperFirst(p.Title), p.ID == job.Process.ID})
		}
	}
	sheets := slices.Clone(job.Process.Sheets)
	for _, own := range s.opt.Shop.Sheets {
		sheets = append(sheets, own.Name)
	}
	if !slices.Contains(sheets, job.Sheet.Name) {
		sheets = append(sheets, job.Sheet.Name)
	}
	for _, name := range slices.Compact(sheets) {
		sheet, err := preflight.SheetByName(name, job.Process, s.opt.Shop.Sheets)
		if err != nil {
			continue
		}
		title := fmt.Sprintf("%s (%s x %s mm)", upperFirst(name), millimetres(sheet.Width.MM()), millimetres(sheet.Height.MM()))
		page.Sheets = append(page.Sheets, choice{name, title, name == job.Sheet.Name})
	}
	for _, f := range job.Process.Fabrics {
		page.Fabrics = append(page.Fabrics, choice{f.Name, upperFirst(strings.ReplaceAll(f.Name, "-", " ")), f.Name == job.Fabric})
	}
	drawnAs := cmp.Or(job.WhiteDrawnAs, job.Process.WhiteDrawnAs)
	page.DrawnAs = []choice{{"black", "Black", drawnAs == "black"}, {"white", "White", drawnAs == "white"}}
	page.DrawnNote = drawnNote(drawnAs, job.Process.WhiteDrawnAs, setup.First(s.opt.Asked.DrawnAs, s.opt.Shop.WhiteDrawnAs) == "")
	page.Places = []choice{{preflight.NoPlace, "Not said", job.Place == nil}}
	for _, p := range preflight.PrintPlaces(s.opt.Shop.Places) {
		title := fmt.Sprintf("%s (%s x %s mm)", upperFirst(p.Name), millimetres(p.Width.MM()), millimetres(p.Height.MM()))
		page.Places = append(page.Places, choice{p.Name, title, job.Place != nil && p.Name == job.Place.Name})
	}
	c := job.Garment.Colour
	page.Garments, page.Garment, page.GarmentHex = commonGarments, job.Garment.Name, fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
}

// drawnNote says that what stands for white goes with the process, unless something else was chosen or the shop has settled it.
func drawnNote(drawnAs, ofProcess string, follows bool) string {
	other := map[string]string{"black": "white", "white": "black"}[drawnAs]
	change := fmt.Sprintf("if the customer drew white things %s, choose %s: the print file is then made to suit the printer.", other, upperFirst(other))
	switch {
	case drawnAs != ofProcess:
		return fmt.Sprintf("The process itself takes %s; the print file is made to suit the printer.", upperFirst(ofProcess))
	case follows:
		return fmt.Sprintf("%s goes with the process and changes with it; %s", upperFirst(drawnAs), change)
	}
	return upperFirst(change)
}

// fill puts a judged artwork into the page.
func (s *Server) fill(page *artworkPage, v *view, w wish) {
	rep := v.report
	s.choices(page, v.job)
	page.Verdict = string(rep.Verdict)
	page.Word, page.Says = verdictWord(rep.Verdict), report.Says(rep.Verdict)
	page.Tally = report.Tally(rep.Counts)
	page.Assumed = rep.Artwork.PPIFrom == "assumed"
	page.Width, page.Height = w.Width, millimetres(rep.Artwork.HeightMM)
	if w.Width == "" && !page.Assumed {
		page.Width = millimetres(rep.Artwork.WidthMM)
		page.Taken = page.Width
	}
	for n := 1; n <= rep.Artwork.PageCount && rep.Artwork.PageCount > 1 && n <= 200; n++ {
		page.Pages = append(page.Pages, choice{fmt.Sprint(n), fmt.Sprintf("Page %d of %d", n, rep.Artwork.PageCount), n == w.Page})
	}
	page.Groups = s.groupsOf(rep)
	page.ThickenHelps = slices.ContainsFunc(rep.Findings, func(f preflight.Finding) bool { return f.Rule == "hairline" || f.Rule == "thin-gap" })
	page.Facts = plainFacts(report.Facts(rep))
	for _, u := range report.NotLooked(rep.Skipped, s.ruleTitle) {
		page.NotChecked = append(page.NotChecked, plainFacts([]report.Fact{u.Fact})...)
	}
	page.SizeNote, page.PlaceNote = rep.SizesInShort(), placeNote(rep)
	if rep.ShrinksDetail() {
		page.SizeNote += " Type it to see whether fine detail still holds."
	}
	page.Print, page.Cautions = rep.Instructions.Print, rep.Instructions.Cautions
	for _, step := range rep.Instructions.Press {
		page.Press = append(page.Press, report.Step(step))
	}
	page.Reply = report.Reply(rep)
	page.SheetQuery = template.URL(w.sheet().query())
	page.PrintQuery = page.SheetQuery
}

var levelWords = map[preflight.Level]string{preflight.LevelError: "Error", preflight.LevelWarning: "Warning", preflight.LevelNote: "Note"}

func (s *Server) groupsOf(rep *preflight.Report) (list []groupShown) {
	for _, g := range report.Groups(rep.Findings, rowsInAll) {
		list = append(list, s.groupOf(rep, g))
	}
	return list
}

func (s *Server) groupOf(rep *preflight.Report, g *report.Group) groupShown {
	out := groupShown{ID: g.Rule + "-" + string(g.Level), Level: string(g.Level), LevelWord: levelWords[g.Level], Title: upperFirst(g.Rule), Unlisted: g.Count - len(g.Worst)}
	if i := slices.IndexFunc(s.opt.Judging.Rules, func(r *preflight.Rule) bool { return r.ID == g.Rule }); i >= 0 {
		rule := s.opt.Judging.Rules[i]
		out.Title = upperFirst(rule.Title)
		if l, ok := rep.Job.Limits[rule.Limit.Name]; ok && rule.Limit.Name != "" {
			out.Limit = fmt.Sprintf("needs %s (%s)", report.Bound(rule, l), l.From)
		}
	}
	out.Places = "1 place"
	if g.Count > 1 {
		out.Places = fmt.Sprintf("%d places", g.Count)
	}
	for i, f := range g.Worst {
		row := rowShown{ID: f.ID, Level: string(f.Level), Message: plainly(f.Message), X: f.BoxPx.X, Y: f.BoxPx.Y, W: f.BoxPx.W, H: f.BoxPx.H, Point: f.PointPx}
		if q := f.Measure.Quantity; q == "width" || q == "diameter" {
			row.Wide = max(1, f.Measure.Value*rep.Artwork.PPIX/25.4)
		}
		if f.BoxPx.W < rep.Artwork.WidthPx || f.BoxPx.H < rep.Artwork.HeightPx {
			row.Where = placeWords(f.BoxMM)
		}
		if i < rowsAtFirst || len(g.Worst) == rowsAtFirst+1 {
			out.Rows = append(out.Rows, row)
		} else {
			out.More = append(out.More, row)
		}
		if remedy := plainly(f.Remedy); remedy != "" && !slices.Contains(out.Remedies, remedy) {
			out.Remedies = append(out.Remedies, remedy)
		}
	}
	return out
}

func viewerOf(v *view, w wish) viewerShown {
	size := v.look.Size()
	out := viewerShown{W: size.X, H: size.Y, Query: template.URL(w.query()), PerMM: v.report.Artwork.PPIX / 25.4}
	for out.Levels < mostLevels && max(size.X, size.Y)>>out.Levels > tilePx/4 {
		out.Levels++
	}
	for i, l := range layers {
		if v.has(l.id) {
			out.Layers = append(out.Layers, choice{l.id, l.title, i == 0})
		}
	}
	return out
}

// sheetOf shows what was made of an artwork for the printer.
func sheetOf(v *view, art *preflight.Report, w wish) *sheetShown {
	p := v.print
	out := &sheetShown{
		Lines: p.lines, Verdict: string(p.verdict), Word: verdictWord(p.verdict), Says: report.Says(p.verdict),
		Tally: report.Tally(v.report.Counts), Mended: w.Thicken, Changed: w.Thicken || w.KnockOut, Mirror: p.mirror,
		Lost: lostWhite(art), Assumed: art.Artwork.PPIFrom == "assumed",
	}
	for _, rep := range p.news {
		for _, g := range report.Groups(rep.Findings, rowsAtFirst) {
			out.News = append(out.News, newsWords(g))
		}
	}
	return out
}

// newsWords tell of what is new on the sheet: the worst of a kind, and how many more there are.
func newsWords(g *report.Group) string {
	worst := g.Worst[0]
	text := placeWords(worst.BoxMM) + ": " + plainly(worst.Message)
	if g.Count > 1 {
		text += fmt.Sprintf(" And %d more like it, listed under What was found on the sheet.", g.Count-1)
	}
	return text
}

// lostWhite counts the places of an artwork that a print file of it cannot show as missing, since nothing is left of them there.
func lostWhite(art *preflight.Report) string {
	n := 0
	for _, f := range art.Findings {
		if f.Rule == "lost-white" && f.Level == preflight.LevelError {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "1 place"
	}
	return fmt.Sprintf("%d places", n)
}

// placeWords tell a place by its upper left corner, as the report and the reply do.
func placeWords(b preflight.BoxMM) string {
	return fmt.Sprintf("%.1f mm from left, %.1f mm from top", b.X, b.Y)
}

// placeNote says how much of the place that was chosen the design takes up, or why that is not known.
func placeNote(rep *preflight.Report) string {
	p, b := rep.Job.Place, rep.Artwork.PrintedBoxMM
	switch {
	case p == nil:
		return ""
	case rep.Artwork.PPIFrom == "assumed":
		return "Not compared with this place: the file does not tell its size. Type the printed width first."
	case slices.ContainsFunc(rep.Findings, func(f preflight.Finding) bool { return f.Rule == "off-place" }):
		return fmt.Sprintf("What prints is %.0f x %.0f mm: larger than this place takes.", b.W, b.H)
	}
	return fmt.Sprintf("What prints is %.0f x %.0f mm: it fits this place.", b.W, b.H)
}

// typedProcess is how a process is named on the command line.
var typedProcess = regexp.MustCompile(` \(--process [^ )]*\)`)

// plainFacts words facts for the page, where a process is chosen by its title.
func plainFacts(list []report.Fact) []report.Fact {
	for i := range list {
		list[i].Text = typedProcess.ReplaceAllString(plainly(list[i].Text), "")
	}
	return list
}

// ruleTitle says what a rule looks for.
func (s *Server) ruleTitle(id string) string {
	if i := slices.IndexFunc(s.opt.Judging.Rules, func(r *preflight.Rule) bool { return r.ID == id }); i >= 0 {
		return s.opt.Judging.Rules[i].Title
	}
	return id
}

// onPage turns what the command says of its flags into what the page has instead.
var onPage = strings.NewReplacer(
	"Say --width, --height or --ppi", "Type the printed width",
	"write it as 0.35mm, 0.014in or 1pt", "type millimetres, as 120, or write 12cm or 4.5in",
	"say --width, --height or --ppi", "type the printed width",
	"say it with --width", "type it into the field",
	"as the flag --width says", "as the field says",
	"or say --background drop", "or tick “Take a flat background out”",
	"or say --white-drawn-as white", "or choose White in “What shall print white is drawn”",
	"or raise --max-pixels", "or start peelcheck serve with a larger --max-pixels",
	"check --width and --height", "check the printed width",
	"without the flag", "with that choice taken back",
)

// plainly words for the page what was worded for the command line.
func plainly(text string) string { return onPage.Replace(text) }

// withoutName is what an error says of a file whose name stands above it.
func withoutName(err error, name string) string {
	return strings.TrimPrefix(err.Error(), name+": ")
}

// sentence makes a message one.
func sentence(text string) string {
	text = upperFirst(text)
	if strings.HasSuffix(text, ".") || strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// millimetres writes a length to a tenth, without a zero that says nothing.
func millimetres(mm float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", mm), ".0") }
