package proof

import (
	"cmp"
	"fmt"
	"image"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// Columns of the list, from the content's left; wide tags push the first two to the right.
const (
	levelX   = 84
	messageX = 196
	measureX = 900
	listRowY = 34 // least height of a line with a tag

	maxReasons = 3 // why rules could not look
	wordsLines = 5 // of a row of words alone: all titles that wait for a size, and what to do about it in a watched folder
)

type listRow struct {
	cluster  *cluster // nil for a line of words alone
	message  []string
	measures []string
	lead     string // bold, before the words
	h        int
}

// layoutList sets the findings by their numbers, each rule's remedy after its last one of a level.
func (p *page) layoutList() block {
	p.pushed = 0
	for _, cl := range p.clusters {
		p.pushed = max(p.pushed, p.set.tagWidth(cl.tag)+9-levelX)
	}
	rows := p.findingRows()
	if p.unlisted > 0 {
		rows = append(rows, p.wordsRow(p.unlistedWords(), ""))
	}
	if len(p.rep.Findings) == 0 {
		rows = append(rows, p.wordsRow("No rule found a fault.", ""))
	}
	for i, s := range skippedWords(p.rep.Skipped) {
		if i == maxReasons {
			rows = append(rows, p.wordsRow("The report has more that was not examined.", ""))
			break
		}
		rows = append(rows, p.wordsRow(s, "Not examined: "))
	}
	h := panelTitleH
	for _, r := range rows {
		h += r.h
	}
	return block{h, func(c *canvas, y int) {
		w := c.write(edge, y, titleType, text, "What was found")
		if len(p.clusters) > 0 {
			c.write(edge+w+titleGap, y+titleDrop, smallType, textDim, "numbered as in the report; places near one another share the number of the worst")
		}
		y += panelTitleH
		for _, r := range rows {
			p.paintRow(c, y, r)
			y += r.h
		}
	}}
}

func (p *page) unlistedWords() string {
	words := fmt.Sprintf("And %d more in the report", p.unlisted)
	if shown := closeUpWords(p.closeUp(), func(i int) bool { return p.clusterOf(i) == nil }, p.rep.Findings); shown != "" {
		words += "; " + shown
	}
	return words + "."
}

func (p *page) findingRows() []listRow {
	var rows []listRow
	toMend := false
	told := map[string]int{} // by rule, the number whose remedy it was
	for i, cl := range p.clusters {
		rows = append(rows, p.findingRow(cl))
		toMend = toMend || cl.accepted == ""
		last := i+1 == len(p.clusters) || p.clusters[i+1].rule != cl.rule
		if !last {
			continue
		}
		if toMend && cl.worst.Remedy != "" {
			rows = append(rows, p.remedyRow(cl, told[cl.rule]))
			told[cl.rule] = cl.tag
		}
		toMend = false
	}
	return rows
}

func (p *page) findingRow(cl *cluster) listRow {
	r := listRow{cluster: cl}
	m, room := cl.worst.Measure, contentW-messageX-p.pushed
	if got, limit := m.Words(), m.LimitWords(); limit != "" {
		r.measures = p.set.wrap(bodyType, got+", "+limit, contentW-measureX, 2)
		room = measureX - messageX - p.pushed - 18
	}
	r.message = p.set.wrap(bodyType, cl.message(p.rep.Findings, p.closeUp()), room, 3)
	lines := max(len(r.message), len(r.measures))
	r.h = max(listRowY, lines*leading(bodyType)+6)
	return r
}

// remedyRow says what to do, or after which number it was said.
func (p *page) remedyRow(cl *cluster, told int) listRow {
	remedy := fmt.Sprintf("as for %d above.", told)
	if told == 0 {
		i := slices.IndexFunc(p.clusters, func(o *cluster) bool { return o.rule == cl.rule })
		remedy = p.clusters[i].worst.Remedy
	}
	r := p.wordsRow(remedy, "What to do: ")
	r.h += 6
	return r
}

// wordsRow sets a line of words alone, wrapped, its first line after a bold lead.
func (p *page) wordsRow(s, lead string) listRow {
	room := contentW - messageX - p.pushed - p.set.width(bodyBold, lead)
	r := listRow{lead: lead, message: p.set.wrap(bodyType, s, room, wordsLines)}
	r.h = max(1, len(r.message))*leading(bodyType) + 3
	return r
}

func (p *page) paintRow(c *canvas, y int, r listRow) {
	if r.cluster == nil {
		x := edge + messageX + p.pushed
		if len(p.clusters) == 0 {
			x = edge
		}
		if r.lead != "" {
			x += c.write(x, y, bodyBold, text, r.lead)
		}
		c.writeLines(x, y, bodyType, text, r.message)
		return
	}
	w := p.set.tagWidth(r.cluster.tag)
	c.drawTag(image.Rect(edge+2, y+2, edge+2+w, y+2+tagH), r.cluster)
	ty := y + 2 + (tagH-leading(bodyType))/2
	c.write(edge+levelX+p.pushed, ty, bodyBold, text, r.cluster.word())
	c.writeLines(edge+messageX+p.pushed, ty, bodyType, text, r.message)
	c.writeLines(edge+measureX, ty, bodyType, text, r.measures)
}

// skippedWords says what could not be looked for, one sentence for each reason.
func skippedWords(skipped []preflight.Skipped) []string {
	var reasons []string
	byReason := map[string][]string{}
	for _, s := range skipped {
		if byReason[s.Reason] == nil {
			reasons = append(reasons, s.Reason)
		}
		byReason[s.Reason] = append(byReason[s.Reason], cmp.Or(s.Title, s.Rule))
	}
	out := make([]string, len(reasons))
	for i, r := range reasons {
		out[i] = fmt.Sprintf("%s, because %s.", strings.Join(byReason[r], "; "), r)
	}
	return out
}
