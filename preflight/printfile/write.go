package printfile

import (
	"fmt"
	"io"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/preflight/internal/pdfobject"
	"peelcheck/raster"
)

// whiteOnScreen is how full white looks where it cannot be printed, as DeviceCMYK: a pale cyan, to be told from bare paper.
var whiteOnScreen = types.Array{types.Float(0.1), types.Integer(0), types.Integer(0), types.Integer(0)}

// Write writes f to w. The same File gives the same bytes. Pictures are read and compressed band by band; where an artwork is
// placed many times it is written once. On an error what was written is of no use.
func Write(w io.Writer, f *File) error {
	if err := f.check(); err != nil {
		return fmt.Errorf("printfile: %w", err)
	}
	d := &document{Writer: pdfobject.NewWriter(w)}
	if err := d.write(f); err != nil {
		return fmt.Errorf("printfile: %w", err)
	}
	return nil
}

// document is a file being written.
type document struct {
	*pdfobject.Writer
	white  types.IndirectRef // the white layer, 0 0 R until an artwork needs it
	layers []layer
}

// layer is an optional-content group and whether it is switched on.
type layer struct {
	group types.IndirectRef
	on    bool
}

func (d *document) write(f *File) error {
	forms := make([]types.IndirectRef, len(f.Artworks))
	for i := range f.Artworks {
		var err error
		if forms[i], err = d.artwork(&f.Artworks[i]); err != nil {
			return fmt.Errorf("artwork %q: %w", f.Artworks[i].Name, err)
		}
	}
	pages := d.Reserve()
	kids := make(types.Array, len(f.Sheets))
	for i, places := range f.Sheets {
		kids[i] = d.page(f, places, forms, pages)
	}
	d.Object(pages, types.Dict{"Type": types.Name("Pages"), "Kids": kids, "Count": types.Integer(len(kids))})
	catalog := types.Dict{
		"Type":  types.Name("Catalog"),
		"Pages": pages,
		// Printed at 100 %: viewers must not offer to fit the page (ISO 32000-1, Table 150).
		"ViewerPreferences": types.Dict{"PrintScaling": types.Name("None")},
	}
	if len(d.layers) > 0 {
		catalog["OCProperties"] = d.layerProperties()
	}
	info := types.Dict{"Producer": types.StringLiteral("peelcheck")}
	if f.Title != "" {
		info["Title"] = pdfobject.TextString(f.Title)
	}
	if f.Process != "" {
		info[raster.PreparedKey], info[raster.MirroredKey] = pdfobject.TextString(f.Process), types.Boolean(f.Mirror)
	}
	if !f.Created.IsZero() {
		info["CreationDate"] = types.StringLiteral(types.DateString(f.Created))
	}
	return d.Finish(d.Add(catalog), d.Add(info))
}

func (d *document) layerProperties() types.Dict {
	var all, on, off types.Array
	for _, l := range d.layers {
		all = append(all, l.group)
		if l.on {
			on = append(on, l.group)
		} else {
			off = append(off, l.group)
		}
	}
	return types.Dict{"OCGs": all, "D": types.Dict{"ON": on, "OFF": off, "Order": all}}
}

func (d *document) page(f *File, places []Placement, forms []types.IndirectRef, parent types.IndirectRef) types.IndirectRef {
	var content strings.Builder
	if f.Mirror {
		pdfobject.Operator(&content, "cm", -1, 0, 0, 1, f.SheetWidthMM*pdfobject.PointsPerMM, 0)
	}
	used := types.Dict{}
	for _, p := range places {
		name := fmt.Sprintf("A%d", p.Artwork)
		used[name] = forms[p.Artwork]
		content.WriteString("q\n")
		pdfobject.Operator(&content, "cm", p.matrix(&f.Artworks[p.Artwork], f.SheetHeightMM)...)
		content.WriteString("/" + name + " Do\nQ\n")
	}
	return d.Add(types.Dict{
		"Type":      types.Name("Page"),
		"Parent":    parent,
		"MediaBox":  pdfobject.Box(f.SheetWidthMM*pdfobject.PointsPerMM, f.SheetHeightMM*pdfobject.PointsPerMM),
		"Resources": types.Dict{"XObject": used},
		"Contents":  d.AddFlate(types.Dict{}, content.String()),
	})
}

// matrix takes an artwork's own points, origin bottom left, to those of the sheet.
func (p Placement) matrix(a *Artwork, sheetHeightMM float64) []float64 {
	left, top := p.XMM*pdfobject.PointsPerMM, (sheetHeightMM-p.YMM)*pdfobject.PointsPerMM
	if p.TurnDeg == 90 {
		return []float64{0, -1, 1, 0, left, top}
	}
	return []float64{1, 0, 0, 1, left, top - a.HeightMM*pdfobject.PointsPerMM}
}
