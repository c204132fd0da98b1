package pdfpage

import (
	"fmt"
	"time"

	"peelcheck/raster"
	"peelcheck/raster/pdffacts"
)

// Facts reads what the objects of page n (from 1) say of themselves; nil if the file's structure cannot be read, however well it is drawn.
func (d *Document) Facts(n int) (*raster.Facts, error) {
	if _, _, err := d.pageInches(n); err != nil {
		return nil, err
	}
	if d.structure.ctx == nil {
		return nil, nil
	}
	if d.facts == nil {
		d.facts = pdffacts.NewDocument(d.structure.ctx.XRefTable, d.pages)
	}
	doc, done := d.facts, make(chan *raster.Facts, 1)
	go func() {
		facts, err := doc.Page(n)
		if err != nil {
			facts = nil
		}
		done <- facts
	}()
	select {
	case facts := <-done:
		return facts, nil
	case <-time.After(d.limit):
		d.structure = &structure{} // it is still being read
		d.facts = nil
		return nil, &raster.Fault{Reason: fmt.Sprintf("page %d has too much on it to be looked at in %s", n, d.limit), Remedy: "simplify it, or export it as a picture"}
	}
}
