package proof

import (
	"fmt"
	"image"
	"io"
	"math"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/preflight"
	"peelcheck/preflight/internal/pdfobject"
)

// The first page of a proof at true size is the artwork with this much around it, for rulers, numbers and words; more below where
// numbers need it.
const PDFMarginMM = 25

const (
	pdfPxPerMM = pageW / 210.0 // words and numbers are as large as on the proof, printed on A4
	pdfMostPPI = 300           // of the picture; finer is not seen on paper
	pdfMostPx  = 60_000_000    // of the picture, which is made coarser rather than exceed it
	pdfBandPx  = 1 << 20       // drawn at once
	pdfLayer   = "Findings"
	a4WidthMM  = 210
	a4HeightMM = 297
)

// WritePDF writes a proof at true size: a page with the artwork as it will look on the garment, and one with the list. What marks the
// findings is a layer called Findings, which can be switched off. comments are lines at the head of the file, by which it is known again.
func WritePDF(w io.Writer, in Input, comments ...string) error {
	p := newPage(in)
	defer setters.Put(p.set)
	out := pdfobject.NewWriter(w, comments...)
	d := &pdfProof{page: p, out: out, fonts: newPDFFonts(out), pages: out.Reserve()}
	if err := d.write(); err != nil {
		return fmt.Errorf("proof: %w", err)
	}
	return nil
}

// WritePDFJudged writes the proof at true size of an artwork that has been judged for a job.
func WritePDFJudged(w io.Writer, seen *preflight.Appearance, job *preflight.Job, rep *preflight.Report, comments ...string) error {
	return WritePDF(w, Input{Report: rep, Preview: seen.Preview, Garment: job.Garment.Colour, ProcessTitle: job.Process.Title}, comments...)
}

type pdfProof struct {
	page  *page
	out   *pdfobject.Writer
	fonts *pdfFonts
	pages types.IndirectRef
	layer types.IndirectRef
	off   types.IndirectRef // what shows while the layer is off
}

func (d *pdfProof) write() error {
	d.layer = d.out.Add(types.Dict{"Type": types.Name("OCG"), "Name": types.StringLiteral(pdfLayer)})
	d.off = d.out.Add(types.Dict{"Type": types.Name("OCMD"), "OCGs": types.Array{d.layer}, "P": types.Name("AllOff")}) // ISO 32000-1, 8.11.2.2
	kids := types.Array{d.artworkPage(), d.listPage()}
	if err := d.fonts.write(d.out); err != nil {
		return err
	}
	d.out.Object(d.pages, types.Dict{"Type": types.Name("Pages"), "Kids": kids, "Count": types.Integer(len(kids))})
	layers := types.Array{d.layer}
	catalog := d.out.Add(types.Dict{
		"Type": types.Name("Catalog"), "Pages": d.pages, "Lang": types.StringLiteral("en-GB"),
		"OCProperties": types.Dict{"OCGs": layers, "D": types.Dict{"ON": layers, "OFF": types.Array{}, "Order": layers}},
		// Printed at 100 %, and the layer offered at once (ISO 32000-1, Tables 28 and 150).
		"ViewerPreferences": types.Dict{"PrintScaling": types.Name("None"), "DisplayDocTitle": types.Boolean(true)},
		"PageMode":          types.Name("UseOC"),
	})
	info := d.out.Add(types.Dict{"Producer": types.StringLiteral("peelcheck"), "Title": pdfobject.TextString("Proof of " + clean(d.page.fileLine()))})
	return d.out.Finish(catalog, info)
}

// vectorCanvas is a canvas of w x h pixels whose content becomes a PDF page's.
func (d *pdfProof) vectorCanvas(w, h int) *canvas {
	c := newCanvas(w, h, d.page.set)
	c.vector = &vectorPage{fonts: d.fonts}
	return c
}

// inLayer makes what paint draws on a canvas a part of the layer; whenOff shows it only while the layer is off.
func inLayer(c *canvas, paint func()) { inContent(c, "Layer", paint) }
func whenOff(c *canvas, paint func()) { inContent(c, "Off", paint) }

func inContent(c *canvas, property string, paint func()) {
	c.vector.WriteString("/OC /" + property + " BDC\n")
	paint()
	c.vector.WriteString("EMC\n")
}

// offWords stand in place of the verdict while the layer is off: nothing is marked then, and a verdict would be about nothing.
const offWords = "The verdict and what was found are in the layer Findings, which is switched off here."

// artworkPage lays the artwork out at true size, with rulers, and the findings over it.
func (d *pdfProof) artworkPage() types.IndirectRef {
	p := d.page
	art := p.scene.art
	margin := int(math.Round(PDFMarginMM * pdfPxPerMM))
	v := view{world: art, at: image.Pt(margin, margin), pxPerMM: pdfPxPerMM}
	b := v.bounds()
	p.pictures.rows = rowsBelow(len(p.clusters), b)
	artMM := p.printedSize()
	wMM, hMM := artMM.W+2*PDFMarginMM, artMM.H+2*PDFMarginMM+extraBelowMM(p.pictures.rows)
	c := d.vectorCanvas(b.Max.X+margin, int(math.Ceil(hMM*pdfPxPerMM)))
	p.paintTrueSizeHead(c)
	c.frame(b.Inset(-2), 1, rule)
	p.drawn = p.drawnIn(b)
	inLayer(c, func() { p.paintPlace(c, v, c.bounds) })
	p.paintRulers(c, v) // over the place, whose dashes would strike the numbers out
	inLayer(c, func() { p.paintFindings(c, v) })

	var content strings.Builder
	content.WriteString("q\n")
	pt := func(mm float64) float64 { return mm * pdfobject.PointsPerMM }
	pdfobject.Operator(&content, "cm", pt(artMM.W), 0, 0, pt(artMM.H), pt(PDFMarginMM), pt(hMM-PDFMarginMM-artMM.H))
	content.WriteString("/Art Do\nQ\n")
	return d.add(wMM, hMM, content.String(), c, types.Dict{"Art": d.picture()})
}

// printedSize is the artwork's, as the report gives it.
func (p *page) printedSize() preflight.SizeMM {
	if a := p.rep.Artwork; a.WidthMM > 0 && a.HeightMM > 0 {
		return preflight.SizeMM{W: a.WidthMM, H: a.HeightMM}
	}
	return preflight.SizeMM{W: p.scene.art.w(), H: p.scene.art.h()}
}

// rowsBelow is how many rows of numbers lie below a picture with n of them around it.
func rowsBelow(n int, picture image.Rectangle) int {
	left, across := max(0, n-slotsBeside(picture.Dy())), slotsAcross(picture.Dx())
	return (left + across - 1) / across
}

// extraBelowMM is how much more room than the margin that many rows of numbers take.
func extraBelowMM(rows int) float64 {
	fit := int(math.Floor(PDFMarginMM*pdfPxPerMM)) / gutterRow
	return float64(max(0, rows-fit)*gutterRow) / pdfPxPerMM
}

// paintTrueSizeHead says above the artwork what it is and how to print the page; the verdict is in the layer, as all that was found.
func (p *page) paintTrueSizeHead(c *canvas) {
	room := c.bounds.Dx() - 2*edge
	word, _ := verdictWords(p.rep.Verdict, p.rep.Counts)
	word = ": " + word
	name := p.baseName()
	if a := p.rep.Artwork; a.PageCount > 1 {
		name += fmt.Sprintf(", page %d of %d", a.Page, a.PageCount)
	}
	y := edge / 2
	lines := p.set.wrap(bodyBold, name, room-p.set.width(bodyBold, ": REVIEW"), 1) // the widest word: the name is the same beside each
	inLayer(c, func() { c.write(edge+p.set.width(bodyBold, strings.Join(lines, "")), y, bodyBold, text, word) })
	y += c.writeLines(edge, y, bodyBold, text, lines)
	art := p.printedSize()
	size := fmt.Sprintf("True size, %.1f x %.1f mm, if printed at 100 %%.", art.W, art.H)
	if p.scene.assumed {
		size = fmt.Sprintf("The size is not known; shown as %.1f x %.1f mm.", art.W, art.H)
	}
	c.writeLines(edge, y, smallType, textDim, p.set.wrap(smallType, size+" Garment: "+garmentWords(p.rep.Job)+".", room, 2))
}

// drawnIn maps where the artwork shows when it fills b.
func (p *page) drawnIn(b image.Rectangle) *coverMap {
	c := newCanvas(b.Max.X, b.Max.Y, p.set)
	c.add(b, func(dst *image.RGBA, r image.Rectangle) {
		look, _ := p.in.Preview(b.Size(), r.Sub(b.Min))
		for y := range r.Dy() {
			copy(rowOf(dst, r, r.Min.Y+y), look.Pix[y*look.Stride:])
		}
	})
	return c.drawnMap(b, p.garment)
}

// listPage says on A4 what the job is and, in the layer, what was found.
func (d *pdfProof) listPage() types.IndirectRef {
	p := d.page
	h := int(math.Floor(a4HeightMM * pdfPxPerMM))
	c := d.vectorCanvas(pageW, h)
	inLayer(c, func() { p.verdict(c, edge) })
	whenOff(c, func() { c.writeLines(edge, edge, asksType, textDim, p.set.wrap(asksType, offWords, contentW, 3)) })
	p.job(c, edge)
	inLayer(c, func() { p.list.paint(c, edge+p.head.h+blockGap) })
	p.foot.paint(c, h-edge-p.foot.h)
	return d.add(a4WidthMM, a4HeightMM, "", c, types.Dict{})
}

// add writes a page: content in points, and over it what a canvas holds.
func (d *pdfProof) add(wMM, hMM float64, content string, c *canvas, pictures types.Dict) types.IndirectRef {
	w, h := wMM*pdfobject.PointsPerMM, hMM*pdfobject.PointsPerMM
	var b strings.Builder
	b.WriteString(content + "q\n")
	const pt = pdfobject.PointsPerMM / pdfPxPerMM
	pdfobject.Operator(&b, "cm", pt, 0, 0, -pt, 0, h)
	b.WriteString(c.vector.String() + "Q\n")
	return d.out.Add(types.Dict{
		"Type": types.Name("Page"), "Parent": d.pages, "MediaBox": pdfobject.Box(w, h),
		"Resources": types.Dict{"XObject": pictures, "Font": d.fonts.resources(), "Properties": types.Dict{"Layer": d.layer, "Off": d.off}},
		"Contents":  d.out.AddFlate(types.Dict{}, b.String()),
	})
}

// picture writes the artwork as it will look, band by band: in its own pixels, or fewer where those are finer than paper shows.
func (d *pdfProof) picture() types.IndirectRef {
	p := d.page
	a := p.rep.Artwork
	scale := min(1, pdfMostPPI/25.4*p.scene.mmPerPx, math.Sqrt(pdfMostPx/(float64(a.WidthPx)*float64(a.HeightPx))))
	size := image.Pt(max(1, int(math.Round(float64(a.WidthPx)*scale))), max(1, int(math.Round(float64(a.HeightPx)*scale))))
	ref := d.out.Reserve()
	d.out.FlateStream(ref, types.Dict{
		"Type": types.Name("XObject"), "Subtype": types.Name("Image"), "Width": types.Integer(size.X), "Height": types.Integer(size.Y),
		"ColorSpace": types.Name("DeviceRGB"), "BitsPerComponent": types.Integer(8),
	}, func(w io.Writer) error {
		rows := max(1, pdfBandPx/size.X)
		rgb := make([]byte, 0, 3*size.X)
		for y := 0; y < size.Y; y += rows {
			look, _ := p.in.Preview(size, image.Rect(0, y, size.X, min(size.Y, y+rows)))
			for r := range look.Rect.Dy() {
				rgb = rgb[:0]
				for row := look.Pix[r*look.Stride:][:4*size.X]; len(row) > 0; row = row[4:] {
					rgb = append(rgb, row[0], row[1], row[2])
				}
				if _, err := w.Write(rgb); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return ref
}
