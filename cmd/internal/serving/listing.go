package serving

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// The list of all artwork, and the pages of one document.

// listed is a line of the list of uploads.
type listed struct {
	ID, Name, Verdict, Word, Says, Size string       // Verdict names the shape
	Query                               template.URL // of the page that the verdict is from
	worst                               outcome
}

type homePage struct {
	Title, Keep string
	List        []listed
	Tally       []tallied
	Order       string
	Orders      []choice
	Unfinished  bool // some of it is still being judged
}

// tallied is how many files have a verdict.
type tallied struct {
	Verdict, Word string
	N             int
}

// orders are those of the list, the usual one first.
var orders = []choice{{Value: "worst", Title: "Worst first"}, {Value: "newest", Title: "Newest first"}, {Value: "name", Title: "By name"}}

// orderOf is the order that a list is asked in.
func orderOf(asked string) string {
	if slices.ContainsFunc(orders, func(c choice) bool { return c.Value == asked }) {
		return asked
	}
	return orders[0].Value
}

func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	page := homePage{Title: "Artwork", Keep: keepWords(s.opt.Keep), Order: orderOf(r.URL.Query().Get("order"))}
	for _, o := range orders {
		o.Chosen = o.Value == page.Order
		page.Orders = append(page.Orders, o)
	}
	for _, u := range s.store.all() {
		sum := u.summary()
		page.List = append(page.List, lineOf(u, sum))
		page.Unfinished = page.Unfinished || sum.unfinished
	}
	page.Tally = tallyOf(page.List)
	switch page.Order {
	case "worst":
		slices.SortStableFunc(page.List, func(a, b listed) int { return cmp.Or(a.worst.worse(b.worst), byName(a, b)) })
	case "name":
		slices.SortStableFunc(page.List, byName)
	}
	s.show(w, http.StatusOK, "home.html", page)
}

func byName(a, b listed) int {
	return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
}

// word is an outcome as it is shown.
func (o outcome) word() string {
	switch {
	case o.verdict != "":
		return verdictWord(o.verdict)
	case o.trouble != "":
		return "NOT JUDGED"
	}
	return "NOT JUDGED YET"
}

func lineOf(u *upload, sum summary) listed {
	line := listed{ID: u.id, Name: u.name, Size: byteWords(u.bytes), worst: sum.outcome}
	line.Verdict, line.Word = sum.state()
	switch {
	case sum.verdict != "":
		line.Says = report.Tally(sum.counts)
	case sum.trouble != "":
		line.Says = sum.trouble
	default:
		line.Says = "its turn has not come yet; open it to judge it now"
	}
	if sum.pages > 1 {
		if sum.verdict != preflight.Ready {
			line.Says = fmt.Sprintf("page %d: %s", sum.page, line.Says)
		} else if line.Word != "READY" {
			line.Says = "nothing found so far"
		}
		line.Says += "; " + pagesWords(sum)
		line.Query = template.URL(u.lastAsked().ofPage(sum.page).query())
	}
	return line
}

// lastAsked is the job that the pages were judged for last.
func (d *document) lastAsked() wish {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.asked
}

// verdictsWorstFirst are the words of outcomes.
var verdictsWorstFirst = []struct{ verdict, word string }{{"hold", "HOLD"}, {"none", "NOT JUDGED"}, {"review", "REVIEW"}, {"ready", "READY"},
	{"waiting", "STILL BEING JUDGED"}, {"waiting", "NOT ALL JUDGED"}, {"waiting", "NOT JUDGED YET"}}

// pagesWords count the pages of a document by what became of them: "12 pages: 1 HOLD, 11 READY".
func pagesWords(sum summary) string {
	var parts []string
	for _, v := range verdictsWorstFirst {
		if n := sum.count[v.word]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, v.word))
		}
	}
	text := fmt.Sprintf("%d pages: %s", sum.pages, strings.Join(parts, ", "))
	if sum.left > 0 {
		text += fmt.Sprintf(", %d still to be judged", sum.left)
	}
	if rest := sum.pages - sum.done - sum.left; rest > 0 {
		text += fmt.Sprintf("; %d are judged when you open them", rest)
	}
	return text
}

func tallyOf(list []listed) (out []tallied) {
	for _, v := range verdictsWorstFirst {
		n := 0
		for _, l := range list {
			if l.Word == v.word {
				n++
			}
		}
		if n > 0 {
			out = append(out, tallied{v.verdict, v.word, n})
		}
	}
	return out
}

// documentShown is the way to the pages of a document.
type documentShown struct {
	ID, Word, Says string
	Judged         bool         // the word is that of its worst page
	From           template.URL // of the page that is looked at
	Pages          []pageShown
	Before, Next   *pageShown
	Unfinished     bool
}

type pageShown struct {
	N             int
	Verdict, Word string
	Query         template.URL
	Chosen        bool
}

// documentOf is nil for a file of one page.
func documentOf(u *upload, w wish) *documentShown {
	sum := u.summary()
	if sum.pages <= 1 {
		return nil
	}
	out := &documentShown{ID: u.id, From: template.URL(w.query()), Says: pagesWords(sum), Unfinished: sum.unfinished}
	_, out.Word = sum.state()
	out.Judged = out.Word == sum.outcome.word()
	for n := 1; n <= sum.pages; n++ {
		o := u.of(w, n)
		p := pageShown{N: n, Verdict: shapeOf(o), Word: o.word(), Query: template.URL(w.ofPage(n).query()), Chosen: n == w.Page}
		switch n {
		case w.Page - 1:
			out.Before = &p
		case w.Page + 1:
			out.Next = &p
		}
		if n <= mostPages || p.Chosen {
			out.Pages = append(out.Pages, p)
		}
	}
	return out
}

func shapeOf(o outcome) string {
	for _, v := range verdictsWorstFirst {
		if v.word == o.word() {
			return v.verdict
		}
	}
	return "none"
}

// pagesOf answers with the way to the pages alone, which changes while they are judged.
func (s *Server) pagesOf(w http.ResponseWriter, r *http.Request, u *upload) {
	if d := documentOf(u, readWish(r.URL.Query())); d != nil {
		s.show(w, http.StatusOK, "pages", d)
		return
	}
	s.nothingHere(w, r)
}
