package serving

import (
	"bytes"
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/pdfcpu/pdfcpu/pkg/api"
)

// papers in inches: ISO 216, and ANSI/ASME Y14.1.
var papers = map[string]struct{ w, h float64 }{"A4": {210 / 25.4, 297 / 25.4}, "Letter": {8.5, 11}}

// TestBrowserPrintsTicketOnOnePage prints the longest tickets, as pages and as text, on both kinds of paper.
func TestBrowserPrintsTicketOnOnePage(t *testing.T) {
	browser := findBrowser(t)
	_, at := start(t, Options{})
	list, _ := dropped(t, at, file(t, "hairline-reeds.png"), file(t, "off-sheet-banner.png"))
	b := openTab(t, browser, screens[0], at)
	for _, query := range []string{
		"process=film-underbase&fabric=polyester&place=full-front&view=sheet&thicken=1&knock-out=1",
		"process=toner-underbase&fabric=nylon-bag&place=full-front&copies=fill&view=sheet",
		"process=toner-white-for-black&fabric=nylon-bag&place=cap-front&view=sheet&thicken=1&knock-out=1",
	} {
		for _, l := range list {
			b.do(chromedp.Navigate(at + l.Href + "/ticket?" + query))
			b.wait("the ticket's pictures", "[...document.querySelectorAll('figure img')].every(i => i.complete && i.naturalWidth > 10)")
			b.onePage(l.Name + " " + query)
			text := fetch(t, at+l.Href+"/ticket.txt?"+query)
			text.want(t, 200, "Order ____", "Customer ____")
			b.do(chromedp.Navigate("data:text/plain;charset=utf-8," + url.PathEscape(text.body)))
			b.onePage(l.Name + " as text " + query)
		}
	}
}

// TestBrowserPrintsWhatIsTyped holds the ticket to print the order and the customer that were typed, and not what only a screen is for.
func TestBrowserPrintsWhatIsTyped(t *testing.T) {
	browser := findBrowser(t)
	_, at := start(t, Options{})
	list, _ := dropped(t, at, sent{"moth.png", moth(t)})
	b := openTab(t, browser, screens[0], at+list[0].Href+"/ticket")
	b.run("[...document.querySelectorAll('.handwritten input')].forEach((field, i) => { field.value = ['QLW-118', 'Marsh Walk Stewards'][i]; })")
	in := filepath.Join(t.TempDir(), "ticket.pdf")
	if err := os.WriteFile(in, b.printed("A4"), 0o600); err != nil {
		t.Fatal(err)
	}
	words, err := exec.CommandContext(context.WithoutCancel(b.ctx), "pdftotext", "-layout", in, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Order", "QLW-118", "Customer", "Marsh Walk Stewards"} {
		if !strings.Contains(string(words), want) {
			t.Errorf("the paper does not say %q:\n%s", want, words)
		}
	}
	if strings.Contains(string(words), "Type these") {
		t.Error("the paper has what is for the screen only")
	}
}

// onePage prints what is shown on each paper.
func (b *tab) onePage(what string) {
	b.t.Helper()
	for name := range papers {
		n, err := api.PageCount(bytes.NewReader(b.printed(name)), nil)
		if err != nil || n != 1 {
			b.t.Errorf("%s on %s: %d pages (%v)", what, name, n, err)
		}
	}
}

// printed is the PDF that the browser makes for a paper.
func (b *tab) printed(paper string) []byte {
	b.t.Helper()
	out, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: papers[paper].w, PaperHeight: papers[paper].h})
	if err != nil {
		b.t.Fatal(err)
	}
	return out.Data
}
