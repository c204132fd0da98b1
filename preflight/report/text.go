package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// shownOfRule is how many places of one rule are listed before the rest are counted.
const shownOfRule = 5

// labelColumns is the width of the column of labels.
const labelColumns = 16

// TextOptions say how text is written.
type TextOptions struct {
	Colour bool              // use the terminal's colours
	Rules  []*preflight.Rule // titles and limits of the rules the reports name
	Many   bool              // of NewText: one line for what is ready, and what is not once more at the end
}

type textWriter struct {
	page
	opt     TextOptions
	rules   map[string]*preflight.Rule
	totals  totals
	faults  faults
	worst   worst
	lines   bool // the last artwork took one line
	tickets []*ticketGroup
}

// NewText returns a Writer for people: one block an artwork, then how to print and press, once for all artwork that shares it, and the
// totals last. But for lines about one artwork each, they are at most 100 columns wide.
func NewText(w io.Writer, opt TextOptions) Writer { return newTextWriter(w, opt) }

func newTextWriter(w io.Writer, opt TextOptions) *textWriter {
	t := &textWriter{page: page{w: w, colour: opt.Colour}, opt: opt, rules: map[string]*preflight.Rule{}}
	for _, r := range opt.Rules {
		t.rules[r.ID] = r
	}
	return t
}

func (t *textWriter) Add(rep *preflight.Report) error {
	t.totals.add(rep.Verdict)
	t.keepTicket(rep)
	if t.opt.Many {
		reasons := preflight.Reasons(rep)
		t.faults.add(reasons)
		t.worst.add(lineOf(rep, reasons, t.opt.Rules))
	}
	if t.opt.Many && rep.Verdict == preflight.Ready {
		t.ready(rep)
		t.lines = true
		return t.err
	}
	if t.lines {
		t.blank()
	}
	t.lines = false
	t.block(rep)
	return t.err
}

func (t *textWriter) block(rep *preflight.Report) {
	t.heading(rep)
	for _, f := range Facts(rep) {
		t.fact(f.Label, f.Text)
	}
	t.findings(rep)
	t.skipped(rep)
	t.blank()
}

// ready writes one line. What was not looked at is in it: silence would mean that nothing was found there.
func (t *textWriter) ready(rep *preflight.Report) {
	plainly := rep.Counts
	plainly.Accepted, plainly.Waived = 0, 0 // these are told with their reasons
	words := []string{Title(rep) + ": " + Says(rep.Verdict) + counts(plainly)}
	if aside := asideWords(rep); aside != "" {
		words = append(words, aside)
	}
	if n := len(rep.Artwork.Notes); n > 0 {
		words = append(words, plural(n, "note")+" on how it was judged in its report")
	}
	var unseen []string
	for _, s := range rep.Skipped {
		unseen = append(unseen, s.Rule)
	}
	if len(unseen) > 0 {
		words = append(words, "not checked: "+strings.Join(unseen, ", "))
	}
	word, st := verdictWord(rep.Verdict)
	t.raw(t.paint(word, st) + " " + strings.Join(words, "; ") + "\n")
}

func (t *textWriter) Fail(tr Trouble) error {
	t.totals.fail(tr)
	return nil
}

// Findings writes what was found in one artwork and which rules could not look, as NewText does.
func Findings(w io.Writer, rep *preflight.Report, opt TextOptions) error {
	t := newTextWriter(w, opt)
	t.findings(rep)
	t.skipped(rep)
	return t.err
}

func (t *textWriter) Close() error {
	if t.lines {
		t.blank()
	}
	for _, g := range t.tickets {
		t.instructions(g)
		t.blank()
	}
	if t.totals.judged()+len(t.totals.wrong) < 2 {
		return t.err
	}
	if t.opt.Many {
		t.worst.close(&t.page)
		t.faults.close(&t.page, t.opt.Rules)
	}
	t.totals.close(&t.page)
	return t.err
}

func (t *textWriter) heading(rep *preflight.Report) {
	word, st := verdictWord(rep.Verdict)
	t.para(word, st, 4, Title(rep)+": "+Says(rep.Verdict)+counts(rep.Counts))
}

func verdictWord(v preflight.Verdict) (string, style) {
	switch v {
	case preflight.Review:
		return "REVIEW", yellow
	case preflight.Hold:
		return "HOLD", red
	}
	return "READY", green
}

// Says is what a verdict asks of the person.
func Says(v preflight.Verdict) string {
	switch v {
	case preflight.Review:
		return "look at the warnings before printing"
	case preflight.Hold:
		return "do not print it yet"
	}
	return "nothing stands against printing it"
}

// Title names the artwork of a report, fit to print: its file and, in a document of several pages, its page.
func Title(rep *preflight.Report) string {
	name := Printable(rep.Artwork.File)
	if rep.Artwork.PageCount > 1 {
		return fmt.Sprintf("%s, page %d of %d", name, rep.Artwork.Page, rep.Artwork.PageCount)
	}
	return name
}

func counts(c preflight.Counts) string {
	if c == (preflight.Counts{}) {
		return ""
	}
	return " (" + Tally(c) + ")"
}

// Tally counts findings in words: "3 errors, 1 note", or "nothing found".
func Tally(c preflight.Counts) string {
	var parts []string
	for _, p := range []struct {
		n    int
		word string
	}{{c.Error, "error"}, {c.Warning, "warning"}, {c.Note, "note"}} {
		if p.n > 0 {
			parts = append(parts, plural(p.n, p.word))
		}
	}
	if n := c.Accepted - c.Waived; n > 0 {
		parts = append(parts, fmt.Sprintf("%d accepted", n))
	}
	if c.Waived > 0 {
		parts = append(parts, fmt.Sprintf("%d waived", c.Waived))
	}
	if parts == nil {
		return "nothing found"
	}
	return strings.Join(parts, ", ")
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func (t *textWriter) fact(label, text string) {
	t.para(fmt.Sprintf("  %-*s", labelColumns-2, label), plain, labelColumns, text)
}

// Fact is a labelled line about an artwork.
type Fact struct{ Label, Text string }

// Facts are what is known of an artwork and of its job, in words.
func Facts(rep *preflight.Report) []Fact {
	list := []Fact{{"Size", size(rep)}, {"Process", job(rep)}}
	for _, p := range rep.Planes {
		if p.Plane == preflight.White {
			list = append(list, Fact{"Prints white", white(rep, p)})
		}
	}
	if rep.Background.Found {
		list = append(list, Fact{"Background", background(rep.Background)})
	}
	list = append(list, Fact{"Sheet", placement(rep)})
	list = append(list, placeFacts(rep)...)
	list = append(list, sizeFacts(rep)...)
	if rep.Mirror.Reads == "mirrored" {
		list = append(list, Fact{"Reads", fmt.Sprintf("mirrored (%.0f %% sure)", 100*rep.Mirror.Confidence)})
	}
	for _, n := range rep.Artwork.Notes {
		list = append(list, Fact{"Note", n})
	}
	return list
}

func size(rep *preflight.Report) string {
	a := rep.Artwork
	px := fmt.Sprintf("%d x %d pixels", a.WidthPx, a.HeightPx)
	if a.PPIFrom == "assumed" {
		return fmt.Sprintf("not known: %s; taken as %.1f x %.1f mm, at %.0f pixels an inch. Say --width, --height or --ppi",
			px, a.WidthMM, a.HeightMM, a.PPIX)
	}
	ppi := fmt.Sprintf("%.0f pixels an inch", a.PPIX)
	if math.Abs(a.PPIX-a.PPIY) > 0.5 {
		ppi = fmt.Sprintf("%.0f pixels an inch across and %.0f down", a.PPIX, a.PPIY)
	}
	return fmt.Sprintf("%.1f x %.1f mm (%s at %s, %s)", a.WidthMM, a.HeightMM, px, ppi, knownFrom(a.PPIFrom)) + printedSize(a)
}

// printedSize is how large the part is that prints, with a semicolon before it, where it is not all of the artwork.
func printedSize(a preflight.ArtworkInfo) string {
	b := a.PrintedBoxMM
	if b.W > 0 && b.H > 0 && (a.WidthMM-b.W > 0.5 || a.HeightMM-b.H > 0.5) {
		return fmt.Sprintf("; what prints is %.1f x %.1f mm", b.W, b.H)
	}
	return ""
}

// knownFrom puts where the resolution came from into words.
func knownFrom(from string) string {
	switch from {
	case "pHYs", "JFIF", "EXIF", "TIFF tags":
		return "as the file says"
	case "page size":
		return "from the page's own size"
	}
	return "as " + from + " says"
}

func job(rep *preflight.Report) string { return jobWords(rep.Job, processWords(rep.Job)) }

// jobWords are the process as it is called, and what it is printed for.
func jobWords(j preflight.JobInfo, process string) string {
	text := process
	if j.WhiteDrawnAs != "" {
		text += fmt.Sprintf(", white is drawn %s", j.WhiteDrawnAs)
	}
	if j.Garment != "" {
		text += fmt.Sprintf("; %s garment", j.Garment)
	}
	if j.Fabric != "" {
		text += ", " + j.Fabric
	}
	return text
}

// processWords name a process as people do, and then as it is typed.
func processWords(j preflight.JobInfo) string {
	if j.ProcessTitle == "" {
		return j.Process
	}
	return j.ProcessTitle + " (--process " + j.Process + ")"
}

func white(rep *preflight.Report, p preflight.PlaneInfo) string {
	if p.ShareOfArtwork == 0 {
		return "nothing"
	}
	return fmt.Sprintf("%s mm², %s of the artwork, in %s", area(p.AreaMM2), percent(p.ShareOfArtwork), plural(rep.WhiteRegionsTotal, "piece"))
}

func percent(share float64) string {
	if share > 0 && share < 0.001 {
		return "under 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*share)
}

func area(mm2 float64) string {
	if mm2 < 10 {
		return fmt.Sprintf("%.2f", mm2)
	}
	return fmt.Sprintf("%.0f", mm2)
}

func background(b preflight.Background) string {
	what := "it counts as part of the artwork"
	switch {
	case b.Dropped:
		what = "judged as if it had been taken out"
	case b.LeftOut:
		what = "the checks of fine detail leave it out"
	}
	return fmt.Sprintf("flat %s over %s of the artwork; %s", b.Colour, percent(b.AreaShare), what)
}

// placement leaves the details to the placement's own notes, which say the copies, the turn or the scale that fits.
func placement(rep *preflight.Report) string {
	s, p := rep.Job.Sheet, rep.Placement
	text := fmt.Sprintf("%s (%.1f x %.1f mm): ", s.Name, s.WidthMM, s.HeightMM)
	switch {
	case p.Fits && p.TurnDeg == 0:
		text += "fits."
	case !p.Fits:
		text += fmt.Sprintf("does not fit the %.1f x %.1f mm that the printer reaches.", p.PrintableMM.W, p.PrintableMM.H)
	}
	return strings.Join(append([]string{text}, p.Notes...), " ")
}

// placeFacts say how much of the place that was named the design takes up, nothing where none was.
func placeFacts(rep *preflight.Report) []Fact {
	p, b := rep.Job.Place, rep.Artwork.PrintedBoxMM
	if p == nil {
		return nil
	}
	text := fmt.Sprintf("%s, %.0f x %.0f mm at most (%s)", p.Name, p.WidthMM, p.HeightMM, p.From)
	if rep.Artwork.PPIFrom != "assumed" && b.W > 0 && b.H > 0 {
		text += fmt.Sprintf("; the design takes %.0f %% of its width and %.0f %% of its height", 100*b.W/p.WidthMM, 100*b.H/p.HeightMM)
	}
	return []Fact{{"Place", text}}
}

// sizeFacts say which sizes suit all there is to suit, where another size is advised.
func sizeFacts(rep *preflight.Report) []Fact {
	if !rep.SizeAdvised() {
		return nil
	}
	text := rep.Sizes.Words
	if rep.ShrinksDetail() {
		text += " Judge it again at the size chosen: fine detail shrinks with it."
	}
	return []Fact{{"Size to print", text}}
}

// Group is all findings of one rule at one level, those that are accepted apart by their reason.
type Group struct {
	Rule     string
	Level    preflight.Level
	Accepted *preflight.Accepted // nil for those that count
	Count    int
	Worst    []*preflight.Finding // those that are shown: the furthest from their limit first, then in the order of the report
}

// Groups gathers findings by level and rule, worst level first and those that are accepted last. Where there are more than most of a
// kind, the worst of them are shown.
func Groups(findings []preflight.Finding, most int) []*Group {
	type key struct {
		level    preflight.Level
		rule     string
		accepted preflight.Accepted
	}
	var list []*Group
	at := map[key]*Group{}
	for i := range findings {
		f := &findings[i]
		k := key{level: f.Level, rule: f.Rule}
		if f.Accepted != nil {
			k.accepted = *f.Accepted
		}
		g := at[k]
		if g == nil {
			g = &Group{Rule: f.Rule, Level: f.Level, Accepted: f.Accepted}
			at[k] = g
			list = append(list, g)
		}
		g.add(f, most)
	}
	slices.SortStableFunc(list, func(a, b *Group) int { return cmp.Compare(b.rank(), a.rank()) })
	for _, g := range list {
		if g.Count > most+1 { // one more is shown rather than counted
			g.Worst = g.Worst[:most]
		}
	}
	return list
}

func (g *Group) rank() int {
	if g.Accepted != nil {
		return 0
	}
	return g.Level.Rank()
}

// holds reports whether the group is of findings so accepted, nil for those that count.
func (g *Group) holds(a *preflight.Accepted) bool {
	if a == nil || g.Accepted == nil {
		return a == g.Accepted
	}
	return *a == *g.Accepted
}

// add counts a finding and keeps it if it is among the worst so far.
func (g *Group) add(f *preflight.Finding, most int) {
	g.Count++
	at := len(g.Worst)
	for at > 0 && beyond(f.Measure) > beyond(g.Worst[at-1].Measure) {
		at--
	}
	if at > most {
		return
	}
	g.Worst = slices.Insert(g.Worst, at, f)
	if len(g.Worst) > most+1 {
		g.Worst = g.Worst[:most+1]
	}
}

func beyond(m preflight.Measure) float64 { return math.Abs(m.Value - m.Limit) }

func (t *textWriter) findings(rep *preflight.Report) {
	for _, g := range Groups(rep.Findings, shownOfRule) {
		t.group(rep, g)
	}
}

func (t *textWriter) group(rep *preflight.Report, g *Group) {
	label, st := string(g.Level), levelStyle(g.Level)
	if g.Accepted != nil {
		label, st = acceptedLabel(g.Accepted), plain
	}
	t.para("  "+label, st, 4, t.groupTitle(rep, g))
	for _, f := range g.Worst {
		t.para(fmt.Sprintf("    #%-4d ", f.ID), plain, 10, place(rep, f)+f.Message)
	}
	if rest := g.Count - len(g.Worst); rest > 0 {
		t.para("          ", plain, 10, fmt.Sprintf("and %d more", rest))
	}
	if g.Accepted != nil {
		return
	}
	for _, remedy := range remedies(g.Worst) {
		t.para("    Mend: ", bold, 10, remedy)
	}
}

func levelStyle(l preflight.Level) style {
	switch l {
	case preflight.LevelError:
		return red
	case preflight.LevelWarning:
		return yellow
	}
	return cyan
}

func (t *textWriter) groupTitle(rep *preflight.Report, g *Group) string {
	text := g.Rule
	rule := t.rules[g.Rule]
	var more []string
	if rule != nil {
		text = rule.Title
		more = append(more, "rule "+g.Rule)
	}
	if g.Accepted != nil {
		more = append(more, "else "+withArticle(g.Level), acceptedWords(g.Accepted))
	}
	if g.Count > 1 {
		more = append(more, plural(g.Count, "place"))
	}
	if rule != nil && rule.Limit.Name != "" {
		l := rep.Job.Limits[rule.Limit.Name]
		more = append(more, fmt.Sprintf("limit: %s, %s", Bound(rule, l), l.From))
	}
	if more == nil {
		return text
	}
	return text + " (" + strings.Join(more, "; ") + ")"
}

func withArticle(l preflight.Level) string {
	if l == preflight.LevelError {
		return "an error"
	}
	return "a " + string(l)
}

// acceptedLabel is the word for findings that do not count.
func acceptedLabel(a *preflight.Accepted) string {
	if a.By == preflight.AcceptedByWaiver {
		return "waived"
	}
	return "accepted"
}

// acceptedWords says why findings do not count.
func acceptedWords(a *preflight.Accepted) string {
	if a.Until != "" {
		return fmt.Sprintf("until %s: %s", a.Until, Printable(a.Reason))
	}
	return Printable(a.Reason)
}

// Bound words a rule's limit as a wish: "at least 0.35 mm", "at least 10 of 100 in colour difference".
func Bound(rule *preflight.Rule, l preflight.Limit) string {
	text := string(rule.Limit.Sense) + " " + Quantity(l)
	if l.Unit == "dE00" {
		text += " in colour difference"
	}
	return text
}

// Quantity writes a limit's value with its unit.
func Quantity(l preflight.Limit) string {
	switch l.Unit {
	case "share":
		return fmt.Sprintf("%.4g %%", 100*l.Value)
	case "ppi":
		return fmt.Sprintf("%.0f pixels an inch", l.Value)
	case "mm":
		return fmt.Sprintf("%.2f mm", l.Value)
	case "dE00":
		return fmt.Sprintf("%.0f of 100", l.Value)
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", l.Value, l.Unit))
}

func place(rep *preflight.Report, f *preflight.Finding) string {
	b := f.BoxPx
	if b.W >= rep.Artwork.WidthPx && b.H >= rep.Artwork.HeightPx {
		return ""
	}
	return fmt.Sprintf("%.2f mm from left, %.2f mm from top: ", f.BoxMM.X, f.BoxMM.Y)
}

func remedies(findings []*preflight.Finding) []string {
	var list []string
	for _, f := range findings {
		if f.Remedy != "" && !slices.Contains(list, f.Remedy) {
			list = append(list, f.Remedy)
		}
	}
	return list
}

func (t *textWriter) skipped(rep *preflight.Report) {
	for _, u := range NotLooked(rep.Skipped, t.title) {
		t.fact("Not checked", u.Label+": "+u.Text+" ("+u.rules()+")")
	}
}

// title is what a rule looks for, its ID where that is not known.
func (t *textWriter) title(id string) string {
	if r := t.rules[id]; r != nil {
		return r.Title
	}
	return id
}

// Unseen is what could not be looked for, in words, and the rules that would have.
type Unseen struct {
	Fact
	Rules []string
}

func (u Unseen) rules() string {
	if len(u.Rules) == 1 {
		return "rule " + u.Rules[0]
	}
	return "rules " + strings.Join(u.Rules, ", ")
}

// NotLooked gathers the rules that could not look by their reason; titleOf says what each looks for.
func NotLooked(list []preflight.Skipped, titleOf func(id string) string) []Unseen {
	var out []Unseen
	for _, s := range list {
		i := slices.IndexFunc(out, func(u Unseen) bool { return u.Text == s.Reason })
		if i < 0 {
			out = append(out, Unseen{Fact{titleOf(s.Rule), s.Reason}, []string{s.Rule}})
			continue
		}
		out[i].Label += "; " + titleOf(s.Rule)
		out[i].Rules = append(out[i].Rules, s.Rule)
	}
	return out
}
