package proof

import (
	"fmt"
	"image"
	"path/filepath"
	"strings"

	"peelcheck/preflight"
)

var (
	verdictType = typeStyle{bold: true, px: 63}
	asksType    = typeStyle{bold: true, px: 26}
	fileType    = typeStyle{bold: true, px: 30}
	bodyType    = typeStyle{px: 20}
	bodyBold    = typeStyle{bold: true, px: 20}
	smallType   = typeStyle{px: 18}
	titleType   = typeStyle{bold: true, px: 24}
)

const (
	verdictR   = 42
	verdictGap = 21 // between the verdict's mark and its word
	asksGap    = 33 // and between that and what it asks
	fileGap    = 16 // above the file's name
	fileH      = 46
	labelGap   = 9
)

// fact is a labelled line of the head.
type fact struct {
	label  string
	lines  []string
	w      int // of the label
	swatch bool
}

const (
	swatchW  = 33
	factColW = contentW/2 - 15
)

// layoutHead sets the verdict, the file and the facts of the job, two to a row. The verdict can be painted apart from what lies below it.
func (p *page) layoutHead() (head block, verdict, below func(c *canvas, y int)) {
	word, asks := verdictWords(p.rep.Verdict, p.rep.Counts)
	asksX := 2*verdictR + verdictGap + p.set.width(verdictType, word) + asksGap
	asksLines := p.set.wrap(asksType, asks, contentW-asksX, 2)
	tallyLines := p.set.wrap(typeStyle{px: asksType.px}, tally(p.rep.Counts), contentW-asksX, 1)
	file := p.fileLine()
	facts := p.facts()
	const factsY = 2*verdictR + fileGap + fileH
	h := factsY
	rowY := make([]int, len(facts))
	for i := 0; i < len(facts); i += 2 {
		lines := len(facts[i].lines)
		rowY[i] = h
		if i+1 < len(facts) {
			rowY[i+1] = h
			lines = max(lines, len(facts[i+1].lines))
		}
		h += lines*leading(bodyType) + 3
	}
	verdict = func(c *canvas, y int) {
		c.verdictMark(p.rep.Verdict, edge+verdictR, float64(y+verdictR), verdictR)
		f := p.set.face(verdictType)
		c.write(edge+2*verdictR+verdictGap, y+verdictR-f.height/2, verdictType, text, word)
		n := len(asksLines) + len(tallyLines)
		ay := y + verdictR - n*leading(asksType)/2
		ay += c.writeLines(edge+asksX, ay, asksType, text, asksLines)
		c.writeLines(edge+asksX, ay, typeStyle{px: asksType.px}, text, tallyLines)
	}
	below = func(c *canvas, y int) {
		c.write(edge, y+2*verdictR+fileGap, fileType, text, file)
		for i, ft := range facts {
			p.paintFact(c, edge+i%2*(contentW/2), y+rowY[i], ft)
		}
		c.fill(image.Rect(edge, y+h, edge+contentW, y+h+2), rule)
	}
	return block{h, func(c *canvas, y int) { verdict(c, y); below(c, y) }}, verdict, below
}

func (p *page) paintFact(c *canvas, x, y int, f fact) {
	c.write(x, y, bodyType, textDim, f.label)
	x += f.w + labelGap
	if f.swatch {
		r := image.Rect(x, y+2, x+swatchW-9, y+leading(bodyType)-3)
		c.fill(r, p.garment)
		c.frame(r, 2, textDim)
		x += swatchW
	}
	c.writeLines(x, y, bodyBold, text, f.lines)
}

// fileLine is the file's name, shortened in the middle, and the page.
func (p *page) fileLine() string {
	a := p.rep.Artwork
	tail := ""
	if a.PageCount > 1 {
		tail = fmt.Sprintf("   page %d of %d", a.Page, a.PageCount)
	}
	if strings.Contains(drawable(p.baseName()), ellipsis) && !strings.Contains(p.baseName(), ellipsis) {
		tail += "   (the report has the whole name)"
	}
	return p.set.shorten(fileType, p.baseName(), contentW-p.set.width(fileType, tail)) + tail
}

// baseName is the file's name without its folders.
func (p *page) baseName() string {
	if p.rep.Artwork.File == "" {
		return ""
	}
	return filepath.Base(p.rep.Artwork.File)
}

func (p *page) facts() []fact {
	facts := p.jobFacts()
	if sizes := p.rep.SizesInShort(); sizes != "" {
		if p.rep.ShrinksDetail() {
			sizes += " Judge it again at that size."
		}
		facts = append(facts, p.fact("Size to print", sizes, false))
	}
	return facts
}

func (p *page) jobFacts() []fact {
	process := p.in.ProcessTitle
	if process == "" {
		process = p.rep.Job.Process
	}
	sheet := p.fact("Sheet", sheetWords(p.rep, p.scene.turned), false)
	garment := p.fact("Garment", garmentWords(p.rep.Job), true)
	facts := []fact{p.fact("Process", process, false)}
	if p.scene.printed.contains(p.scene.art) {
		return append(facts, p.fact("Printed size", p.sizeWords(), false), sheet, garment)
	}
	whole := p.scene.art.words()
	if p.scene.assumed {
		whole += " then"
	}
	return append(facts, p.fact("Printed part", p.sizeWords(), false), sheet,
		p.fact("Whole picture", whole+", with its empty edges", false), garment)
}

func (p *page) fact(label, value string, swatch bool) fact {
	f := fact{label: label, w: p.set.width(bodyType, label), swatch: swatch}
	room := factColW - f.w - labelGap
	if swatch {
		room -= swatchW
	}
	f.lines = p.set.wrap(bodyBold, value, room, 2)
	return f
}

// words is the rectangle's size.
func (r rectMM) words() string { return fmt.Sprintf("%.1f x %.1f mm", r.w(), r.h()) }

// sizeWords is the size of what prints; where none was told it says what was assumed.
func (p *page) sizeWords() string {
	size := p.scene.printed.words()
	if p.scene.assumed {
		return fmt.Sprintf("unknown; %s if %.0f pixels an inch", size, 25.4/p.scene.mmPerPx)
	}
	return size
}

func sheetWords(rep *preflight.Report, turned bool) string {
	sh := rep.Job.Sheet
	if !(sh.WidthMM > 0 && sh.HeightMM > 0) {
		return "none"
	}
	s := fmt.Sprintf("%s, %.0f x %.0f mm", sh.Name, sh.WidthMM, sh.HeightMM)
	if turned {
		s += ", shown turned"
	}
	return s
}

func garmentWords(j preflight.JobInfo) string {
	if j.Fabric == "" {
		return j.Garment
	}
	return j.Garment + ", " + j.Fabric
}

// layoutFoot sets the cautions and who drew the page.
func (p *page) layoutFoot() block {
	tool := p.set.shorten(smallType, p.rep.Tool.Name+" "+p.rep.Tool.Version, contentW/4)
	toolW := p.set.width(smallType, tool)
	lines := p.set.wrap(smallType, "A proof on a screen or on office paper does not show the exact colours. "+
		"Print the transfer at 100 %, never fitted to the page.", contentW-toolW-30, 3)
	return block{9 + len(lines)*leading(smallType), func(c *canvas, y int) {
		c.fill(image.Rect(edge, y, edge+contentW, y+2), rule)
		c.writeLines(edge, y+9, smallType, text, lines)
		c.write(edge+contentW-toolW, y+9, smallType, textDim, tool)
	}}
}
