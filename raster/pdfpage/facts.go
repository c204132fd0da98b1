package pdfpage

import (
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
	doc := d.factsOf()
	var facts *raster.Facts
	done := d.spent.inTime(n, func() {
		if read, err := doc.Page(n); err == nil {
			facts = read
		}
	})
	if !done {
		d.structure = &structure{} // it is still being read
		d.facts = nil
		return nil, tooLong(n, d.spent.limit)
	}
	return facts, nil
}

func (d *Document) factsOf() *pdffacts.Document {
	if d.facts == nil {
		d.facts = pdffacts.NewDocument(d.structure.ctx.XRefTable, d.pages)
	}
	return d.facts
}

// Prepared reports whether the file is a print file of our own, by what it says of itself; no page is read.
func (d *Document) Prepared() bool {
	d.readOnce()
	return d.structure.ctx != nil && d.factsOf().Prepared() != nil
}
