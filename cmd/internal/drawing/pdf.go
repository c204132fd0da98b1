package drawing

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
)

// CMYK is a colour for print, each part 0 to 1.
type CMYK [4]float64

// PDFPage is a page of vector artwork, measured in millimetres like a Canvas.
type PDFPage struct {
	w, h    float64
	content bytes.Buffer
	spots   []spot
}

// spot is an ink with a name and the mixture that stands in for it.
type spot struct {
	name string
	mix  CMYK
}

const ptPerMM = 72 / 25.4

// NewPDFPage returns an empty page of the size in millimetres.
func NewPDFPage(wMM, hMM float64) *PDFPage { return &PDFPage{w: wMM, h: hMM} }

// Fill paints the path by the non-zero winding number rule (ISO 32000-1, 8.5.3.3.2).
func (p *PDFPage) Fill(path Path, col CMYK) {
	p.colour(col, "k")
	p.paint(path)
}

// FillSpot paints the path with an ink of its own, for which mix stands in where the printer lacks it (ISO 32000-1, 8.6.6.4).
func (p *PDFPage) FillSpot(path Path, name string, mix CMYK) {
	at := slices.Index(p.spots, spot{name, mix})
	if at < 0 {
		at = len(p.spots)
		p.spots = append(p.spots, spot{name, mix})
	}
	fmt.Fprintf(&p.content, "/Spot%d cs 1 scn\n", at)
	p.paint(path)
}

func (p *PDFPage) paint(path Path) {
	for _, c := range path.contours {
		p.point(c.start)
		p.content.WriteString("m\n")
		for _, s := range c.segments {
			if s.curve {
				p.point(s.a)
				p.point(s.b)
			}
			p.point(s.to)
			p.content.WriteString(map[bool]string{true: "c\n", false: "l\n"}[s.curve])
		}
		p.content.WriteString("h\n")
	}
	p.content.WriteString("f\n")
}

// Stroke draws a line widthPt points wide, with round ends and corners.
func (p *PDFPage) Stroke(l Line, widthPt float64, col CMYK) {
	p.colour(col, "K")
	fmt.Fprintf(&p.content, "%s w 1 J 1 j\n", short(widthPt))
	for i, q := range l.Points {
		p.point(q)
		p.content.WriteString(map[bool]string{true: "m\n", false: "l\n"}[i == 0])
	}
	p.content.WriteString(map[bool]string{true: "s\n", false: "S\n"}[l.Closed])
}

func (p *PDFPage) colour(col CMYK, operator string) {
	for _, v := range col {
		p.content.WriteString(short(v) + " ")
	}
	p.content.WriteString(operator + "\n")
}

func (p *PDFPage) point(q Point) {
	p.content.WriteString(short(q.X*ptPerMM) + " " + short((p.h-q.Y)*ptPerMM) + " ")
}

// resources are the page's colour spaces, one for each spot.
func (p *PDFPage) resources() string {
	if len(p.spots) == 0 {
		return "<< >>"
	}
	out := "<< /ColorSpace << "
	for i, s := range p.spots {
		out += fmt.Sprintf("/Spot%d [/Separation %s /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [%s %s %s %s] /N 1 >>] ",
			i, pdfName(s.name), short(s.mix[0]), short(s.mix[1]), short(s.mix[2]), short(s.mix[3]))
	}
	return out + ">> >>"
}

// pdfName writes a name; all but letters and digits go in as #hh (ISO 32000-1, 7.3.5).
func pdfName(name string) string {
	out := "/"
	for _, c := range []byte(name) {
		if c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' {
			out += string(rune(c))
		} else {
			out += fmt.Sprintf("#%02X", c)
		}
	}
	return out
}

// short writes a number with at most three decimals: a thousandth of a point is far finer than any printer.
func short(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// WritePDF writes a document of the pages, uncompressed, with a cross-reference table (ISO 32000-1, 7.5).
func WritePDF(w io.Writer, pages ...*PDFPage) error {
	var out bytes.Buffer
	var at []int
	object := func(body string) {
		at = append(at, out.Len())
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", len(at), body)
	}
	out.WriteString("%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
	object("<< /Type /Catalog /Pages 2 0 R >>")
	kids := ""
	for i := range pages {
		kids += fmt.Sprintf("%d 0 R ", 3+2*i)
	}
	object(fmt.Sprintf("<< /Type /Pages /Count %d /Kids [ %s] >>", len(pages), kids))
	for i, p := range pages {
		object(fmt.Sprintf("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %s %s] /Resources %s /Contents %d 0 R >>",
			short(p.w*ptPerMM), short(p.h*ptPerMM), p.resources(), 4+2*i))
		object(fmt.Sprintf("<< /Length %d >>\nstream\n%sendstream", p.content.Len(), p.content.String()))
	}
	xref := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, offset := range at {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, xref)
	_, err := w.Write(out.Bytes())
	return err
}
