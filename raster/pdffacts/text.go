package pdffacts

import (
	"math"
	"strings"
	"unicode"

	"peelcheck/raster"
	"peelcheck/raster/pdfcontent"
)

// textOperator handles those of clause 9.
func (r *run) textOperator(op string, args []pdfcontent.Token) {
	t := &r.text
	switch op {
	case "BT":
		t.matrix, t.line = identity, identity
	case "Tc":
		t.spacing = pdfcontent.Operand(args, 1, 0)
	case "Tw":
		t.wordSpacing = pdfcontent.Operand(args, 1, 0)
	case "Tz":
		t.scale = pdfcontent.Operand(args, 1, 0) / 100
	case "TL":
		t.leading = pdfcontent.Operand(args, 1, 0)
	case "Ts":
		t.rise = pdfcontent.Operand(args, 1, 0)
	case "Tr":
		t.render = int(pdfcontent.Operand(args, 1, 0))
	case "Tf":
		if len(args) >= 2 {
			t.font, t.size = r.font(r.find("Font", args[len(args)-2].Name())), pdfcontent.Operand(args, 1, 0)
		}
	case "TD":
		t.leading = -pdfcontent.Operand(args, 2, 1)
		fallthrough
	case "Td":
		t.move(pdfcontent.Operand(args, 2, 0), pdfcontent.Operand(args, 2, 1))
	case "Tm":
		t.line = matrixOf(args)
		t.matrix = t.line
	case "T*":
		t.move(0, -t.leading)
	case "Tj", "TJ", "'", "\"":
		r.show(op, args)
	}
}

// move begins a row.
func (t *textState) move(x, y float64) {
	t.line = matrix{1, 0, 0, 1, x, y}.after(t.line)
	t.matrix = t.line
}

func (r *run) show(op string, args []pdfcontent.Token) {
	t := &r.text
	if len(args) == 0 || t.font == nil {
		return
	}
	if op == "\"" && len(args) >= 3 {
		t.wordSpacing, t.spacing = pdfcontent.Operand(args, 3, 0), pdfcontent.Operand(args, 3, 1)
	}
	if op == "'" || op == "\"" {
		t.move(0, -t.leading)
	}
	row := rowOfText{run: r}
	if last := args[len(args)-1]; op == "TJ" && last.Kind == pdfcontent.List {
		s := pdfcontent.NewScanner(last.Raw[1:])
		for v := s.Next(); v.Kind != pdfcontent.Ended; v = s.Next() {
			switch v.Kind {
			case pdfcontent.Text:
				row.add(v.Bytes())
			case pdfcontent.Number:
				by := v.Value() / 1000 * t.size
				row.gap(-by)
				t.advance(-by * t.scale)
			}
		}
	} else {
		row.add(last.Bytes())
	}
	row.finish()
}

// advance moves along the row.
func (t *textState) advance(by float64) { t.matrix = matrix{1, 0, 0, 1, by, 0}.after(t.matrix) }

// rowOfText gathers what one operator shows.
type rowOfText struct {
	*run
	box     box
	text    strings.Builder
	letters int
	lower   bool
}

// add shows a string (9.4.4).
func (row *rowOfText) add(codes []byte) {
	t := &row.run.text
	f := t.font
	m := t.matrix.after(row.ctm)
	if !m.finite() {
		return
	}
	bottom, top := f.descent*t.size+t.rise, f.ascent*t.size+t.rise
	x := 0.0
	for len(codes) > 0 {
		code, n := f.next(codes)
		width := f.width(code) * t.size * t.scale
		meaning, known := f.meaning(code)
		if row.note(meaning, known); meaning != " " {
			row.box.join(m.rectangle(x, bottom, x+width, top))
		}
		step := width + t.spacing*t.scale
		if n == 1 && codes[0] == ' ' {
			step += t.wordSpacing * t.scale
		}
		x += step
		codes = codes[n:]
	}
	t.advance(x)
}

// note takes down what a code means.
func (row *rowOfText) note(meaning string, known bool) {
	const mostText = 2000
	if !known {
		row.letters++
		row.lower = true
		meaning = "?"
	}
	for _, c := range meaning {
		if known && (unicode.IsLetter(c) || unicode.IsDigit(c)) {
			row.letters++
		}
		row.lower = row.lower || unicode.IsLower(c)
	}
	if row.text.Len() < mostText {
		row.text.WriteString(meaning)
	}
}

// gap writes a space where letters are moved as far apart as words are.
func (row *rowOfText) gap(by float64) {
	const wordGap = 0.2
	if by > wordGap*math.Abs(row.run.text.size) && row.text.Len() > 0 {
		row.text.WriteByte(' ')
	}
}

func (row *rowOfText) finish() {
	t, r := &row.run.text, row.run
	if !row.box.any {
		return
	}
	unseen := t.render == 3 || t.render == 7 || r.clear[0] && t.render%4 == 0
	if !unseen {
		r.painted(row.box)
		if t.render%4 != 1 {
			r.overprinted(row.box, r.fill, r.overFill)
		}
	}
	b := r.visible(row.box)
	if !b.any || len(r.facts.Texts) >= mostFacts {
		return
	}
	m := t.matrix.after(r.ctm)
	along := math.Hypot(m.a, m.b)
	size := 0.0
	if along > 0 {
		size = math.Abs(m.determinant()) / along * math.Abs(t.size)
	}
	f := t.font
	r.facts.Texts = append(r.facts.Texts, raster.FactText{
		Box: b.fact(), Font: r.fontIndex(f), Text: strings.TrimSpace(row.text.String()), Letters: row.letters, Lower: row.lower,
		SizeMM: size, XHeightMM: f.xHeight * size, CapHeightMM: f.capHeight * size, StemMM: f.stem * math.Abs(t.size*t.scale) * along,
		// Places count downwards, so that letters the right way round have a negative determinant.
		Mirrored: m.determinant()*t.scale > 0, Unseen: unseen, TurnDeg: math.Atan2(m.b, m.a) * 180 / math.Pi,
	})
}

// joined puts rows together that follow one another in one font and size.
func joined(texts []raster.FactText) []raster.FactText {
	var out []raster.FactText
	for _, t := range texts {
		if n := len(out); n > 0 && continues(&out[n-1], &t) {
			last := &out[n-1]
			sum := boxOfFact(last.Box)
			if last.Text != "" && !sameWord(sum, boxOfFact(t.Box), &t) {
				last.Text += " "
			}
			sum.join(boxOfFact(t.Box))
			last.Box, last.Letters, last.Lower = sum.fact(), last.Letters+t.Letters, last.Lower || t.Lower
			last.Text += t.Text
			continue
		}
		out = append(out, t)
	}
	return out
}

func continues(a, b *raster.FactText) bool {
	const sameSize, nearby = 0.01, 1.5
	return a.Font == b.Font && a.Mirrored == b.Mirrored && a.Unseen == b.Unseen && math.Abs(a.SizeMM-b.SizeMM) <= sameSize*a.SizeMM &&
		near(boxOfFact(a.Box), boxOfFact(b.Box), nearby*a.SizeMM)
}

// sameWord reports whether t goes on where a row ends rather than in a row of its own.
func sameWord(a, b box, t *raster.FactText) bool {
	const wordGap = 0.15
	aside := math.Abs(a.y0 + a.y1 - b.y0 - b.y1)
	if sin := math.Abs(math.Sin(t.TurnDeg * math.Pi / 180)); sin > math.Sqrt2/2 {
		aside = math.Abs(a.x0 + a.x1 - b.x0 - b.x1)
	}
	return aside < t.SizeMM && near(a, b, wordGap*t.SizeMM)
}

func near(a, b box, by float64) bool { return a.grown(by).meet(b).any }

func boxOfFact(f raster.FactBox) box { return box{f.X, f.Y, f.X + f.W, f.Y + f.H, true} }
