package report_test

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

func htmlPage(t *testing.T, page report.HTMLPage) string {
	t.Helper()
	var out bytes.Buffer
	if err := report.HTML(&out, page); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestHTMLGolden(t *testing.T) {
	golden(t, "sample.html", htmlPage(t, report.HTMLPage{Report: sample(), Rules: sampleRules, Proof: []byte("PNG"), Numbers: []int{1, 9}}))
}

// parsed reads a page as XML, which it is apart from void elements and the doctype: every element is closed and nested as it should be.
func parsed(t *testing.T, page string) node {
	t.Helper()
	page = strings.TrimPrefix(page, "<!DOCTYPE html>\n")
	page = regexp.MustCompile(`<(meta|img)([^>]*)>`).ReplaceAllString(page, "<$1$2/>")
	d := xml.NewDecoder(strings.NewReader(page))
	var root node
	if err := d.Decode(&root); err != nil {
		t.Fatal(err)
	}
	return root
}

func walk(n node, do func(node)) {
	do(n)
	for _, c := range n.Children {
		walk(c, do)
	}
}

// TestHTMLNeedsNothingElse looks for anything that would be fetched or run, in real pages and in one of hostile names.
func TestHTMLNeedsNothingElse(t *testing.T) {
	hostile := sample()
	hostile.Artwork.File = `x/"><script>alert(1)</script><img src=//a.b onerror=c>.png`
	hostile.Findings[0].Message = `</td><script src="//a.b/c.js"></script>`
	hostile.Skipped[0].Reason = `<style>@import "//a.b"</style>`
	pages := map[string]*preflight.Report{"hostile": hostile}
	for name, rep := range judged(t) {
		pages[name] = rep
	}
	for name, rep := range pages {
		text := htmlPage(t, report.HTMLPage{Report: rep, Rules: rules.All(), Proof: []byte("PNG")})
		images := 0
		walk(parsed(t, text), func(n node) {
			switch n.XMLName.Local {
			case "script", "link", "iframe", "object", "embed", "form", "a", "base":
				t.Errorf("%s: element %s", name, n.XMLName.Local)
			case "img":
				images++
				if want := "data:image/png;base64," + base64.StdEncoding.EncodeToString([]byte("PNG")); n.attr("src") != want {
					t.Errorf("%s: picture from %q", name, n.attr("src"))
				}
			case "style":
				if strings.Contains(n.Text, "url(") || strings.Contains(n.Text, "@import") {
					t.Errorf("%s: the style fetches something", name)
				}
			}
			for _, a := range n.Attrs {
				if strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "href" {
					t.Errorf("%s: attribute %s", name, a.Name.Local)
				}
			}
		})
		if images != 1 {
			t.Errorf("%s: %d pictures, want the proof", name, images)
		}
	}
}

// TestHTMLIsAccessible holds pages to what a program can tell of WCAG 2.1: language (3.1.1), title (2.4.2), headings without a level left
// out (1.3.1), headers of tables (1.3.1), text for pictures (1.1.1), regions that scroll reached by keyboard (2.1.1).
func TestHTMLIsAccessible(t *testing.T) {
	for name, rep := range judged(t) {
		root := parsed(t, htmlPage(t, report.HTMLPage{Report: rep, Rules: rules.All(), Proof: []byte("PNG")}))
		if root.attr("lang") != "en-GB" {
			t.Errorf("%s: language %q", name, root.attr("lang"))
		}
		level, ids := 0, map[string]bool{}
		walk(root, func(n node) {
			if id := n.attr("id"); id != "" {
				if ids[id] {
					t.Errorf("%s: id %s twice", name, id)
				}
				ids[id] = true
			}
			switch e := n.XMLName.Local; e {
			case "title":
				if !strings.Contains(n.Text, "lantern.png") {
					t.Errorf("%s: title %q", name, n.Text)
				}
			case "h1", "h2", "h3", "h4":
				if at := int(e[1] - '0'); at > level+1 {
					t.Errorf("%s: %s after level %d", name, e, level)
				} else {
					level = at
				}
			case "img":
				if len(n.attr("alt")) < 20 {
					t.Errorf("%s: a picture with the text %q", name, n.attr("alt"))
				}
			case "th":
				if s := n.attr("scope"); s != "col" && s != "row" {
					t.Errorf("%s: table header of scope %q", name, s)
				}
			case "div":
				if n.attr("class") == "wide" && (n.attr("tabindex") != "0" || n.attr("role") != "region" || n.attr("aria-label") == "") {
					t.Errorf("%s: a part that scrolls cannot be reached by keyboard", name)
				}
			case "svg":
				if n.attr("aria-hidden") != "true" {
					t.Errorf("%s: a mark without words is not hidden", name)
				}
			}
		})
		if root.count("h1") != 1 {
			t.Errorf("%s: %d first headings", name, root.count("h1"))
		}
	}
}

// TestHTMLListsFindings reads the numbers of the list back: all findings where they are few, those of the proof and the worst where not.
func TestHTMLListsFindings(t *testing.T) {
	numbers := func(text string) []string {
		var list []string
		for _, m := range regexp.MustCompile(`<th scope="row" class="number">(\d+)</th>`).FindAllStringSubmatch(text, -1) {
			list = append(list, m[1])
		}
		return list
	}
	rep := sample()
	if got := numbers(htmlPage(t, report.HTMLPage{Report: rep})); !slices.Equal(got, []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}) {
		t.Errorf("listed %v", got)
	}
	for i := range 500 {
		f := rep.Findings[1]
		f.ID, f.Measure.Value = 10+i, 0.34
		rep.Findings = append(rep.Findings, f)
	}
	text := htmlPage(t, report.HTMLPage{Report: rep, Numbers: []int{1, 450, 509}})
	got := numbers(text)
	if len(got) != 201 || !strings.Contains(text, "And 308 more of this rule; the report for programs (JSON) lists all 508.") {
		t.Errorf("%d listed", len(got))
	}
	for _, want := range []string{"1", "2", "9", "450", "509"} {
		if !slices.Contains(got, want) {
			t.Errorf("number %s is not listed", want)
		}
	}
}

// TestHTMLContrast works out the contrast of the page's colours by WCAG 2.1's formula (relative luminance, contrast ratio): at least 4.5 for
// text (1.4.3) and 3 for lines that carry meaning and the marks' outlines (1.4.11), in both schemes.
func TestHTMLContrast(t *testing.T) {
	text := htmlPage(t, report.HTMLPage{Report: sample()})
	variables := func(block string) map[string]string {
		m := map[string]string{}
		for _, v := range regexp.MustCompile(`--(\w+): (#[0-9a-f]{6})`).FindAllStringSubmatch(block, -1) {
			m[v[1]] = v[2]
		}
		return m
	}
	light, rest, ok := strings.Cut(text[strings.Index(text, ":root"):], "@media")
	if !ok {
		t.Fatal("no second scheme")
	}
	schemes := map[string]map[string]string{"light": variables(light), "dark": variables(light)}
	dark, _, _ := strings.Cut(rest, "* {")
	for k, v := range variables(dark) {
		schemes["dark"][k] = v
	}
	if schemes["light"]["ground"] == schemes["dark"]["ground"] || len(schemes["light"]) < 8 {
		t.Fatalf("schemes %v", schemes)
	}
	for name, s := range schemes {
		for _, pair := range []struct {
			on, ground string
			least      float64
		}{
			{"text", "ground", 4.5}, {"text", "raised", 4.5}, {"quiet", "ground", 4.5}, {"link", "ground", 4.5}, {"edge", "ground", 3},
		} {
			if got := contrast(t, s[pair.on], s[pair.ground]); got < pair.least {
				t.Errorf("%s: %s on %s has a contrast of %.2f, want at least %.1f", name, pair.on, pair.ground, got, pair.least)
			}
		}
	}
	// WCAG's own extremes.
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white is %v", got)
	}
}

func contrast(t *testing.T, a, b string) float64 {
	luminance := func(hex string) float64 {
		var sum float64
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			v, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
			if err != nil {
				t.Fatal(fmt.Errorf("colour %q: %w", hex, err))
			}
			c := float64(v) / 255
			if c <= 0.03928 {
				sum += weight * c / 12.92
			} else {
				sum += weight * math.Pow((c+0.055)/1.055, 2.4)
			}
		}
		return sum
	}
	p, q := luminance(a), luminance(b)
	return (max(p, q) + 0.05) / (min(p, q) + 0.05)
}

// A page is sent to customers: it does not tell where the shop keeps its files.
func TestHTMLKeepsFoldersToItself(t *testing.T) {
	rep := sample()
	rep.Artwork.File = "/home/shop/orders/lantern.png"
	if text := htmlPage(t, report.HTMLPage{Report: rep}); strings.Contains(text, "orders") || !strings.Contains(text, "<h1>lantern.png, page 2 of 3</h1>") {
		t.Error("the folder is told, or the name is not")
	}
}
