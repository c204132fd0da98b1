package printfile

import (
	"fmt"
	"io"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/preflight/internal/pdfobject"
)

// bandBytes is how much of a picture is asked for at once, at least one row.
const bandBytes = 1 << 20

// form collects what an artwork's form XObject draws and names on the way.
type form struct {
	content                      strings.Builder
	pictures, states, properties types.Dict
}

// artwork writes a form XObject as large as the artwork, in points, origin bottom left.
func (d *document) artwork(a *Artwork) (types.IndirectRef, error) {
	w, h := a.WidthMM*pdfobject.PointsPerMM, a.HeightMM*pdfobject.PointsPerMM
	f := &form{pictures: types.Dict{}, states: types.Dict{}, properties: types.Dict{}}
	translucent := false
	switch {
	case a.Tone != nil:
		f.picture("T", d.tone(a.Tone), w, h)
	case a.Colour != nil:
		translucent = a.Colour.Alpha != nil
		f.picture("C", d.colour(a.Colour), w, h)
	case a.Page != nil:
		var err error
		if translucent, err = d.drawPage(f, a.Page, w, h); err != nil {
			return types.IndirectRef{}, err
		}
	}
	if a.White != nil {
		d.drawWhite(f, a.White, !translucent, w, h)
	}
	dict := formDict(pdfobject.Box(w, h))
	dict["Resources"] = types.Dict{"XObject": f.pictures, "ExtGState": f.states, "Properties": f.properties}
	return d.AddFlate(dict, f.content.String()), d.Err()
}

func formDict(bbox types.Array) types.Dict {
	return types.Dict{"Type": types.Name("XObject"), "Subtype": types.Name("Form"), "FormType": types.Integer(1), "BBox": bbox}
}

// insetPt is how far, in points, pictures stay inside the edges of their form: renderers widen a picture to every pixel that it touches, and
// where an edge falls on a pixel's by less than the rounding of numbers, that would be one too many.
const insetPt = 0.0005

// picture draws an image XObject over the whole form.
func (f *form) picture(name string, ref types.IndirectRef, w, h float64) {
	f.pictures[name] = ref
	f.content.WriteString("q\n")
	pdfobject.Operator(&f.content, "cm", w-2*insetPt, 0, 0, h-2*insetPt, insetPt, insetPt)
	f.content.WriteString("/" + name + " Do\nQ\n")
}

// keepBeneath makes what follows leave the planes alone that lie beneath and that it does not paint itself. Multiplying does
// so for every kind of colour, with soft masks too: no ink times what is there is what is there (ISO 32000-1, 11.7.4.2).
// Overprint says the same to software that flattens nothing; where what lies beneath is half transparent it is left out,
// because renderers then lay on more ink than there was (Ghostscript 10.00 does, against 11.7.4.3).
func (f *form) keepBeneath(overprint bool) {
	state := types.Dict{"Type": types.Name("ExtGState"), "BM": types.Name("Multiply")}
	if overprint {
		state["OP"], state["op"] = types.Boolean(true), types.Boolean(true)
	}
	f.states["Keep"] = state
	f.content.WriteString("/Keep gs\n")
}

// drawWhite draws white after what is there, which it leaves alone.
func (d *document) drawWhite(f *form, white *Pixels, overprint bool, w, h float64) {
	f.properties["White"] = d.whiteLayer()
	f.content.WriteString("/OC /White BDC\nq\n")
	f.keepBeneath(overprint)
	f.picture("W", d.inkThroughMask(white, whiteSpace(), types.Array{types.Integer(1), types.Integer(1)}), w, h)
	f.content.WriteString("Q\nEMC\n")
}

// whiteLayer is the optional-content group that ISO 19593-1 marks as white: group White and no type (second-hand, from
// published object models; the standard's text was not read).
func (d *document) whiteLayer() types.IndirectRef {
	if d.white.ObjectNumber == 0 {
		d.white = d.Add(types.Dict{
			"Type":         types.Name("OCG"),
			"Name":         types.StringLiteral("White"),
			"GTS_Metadata": types.Dict{"GTS_ProcStepsGroup": types.Name("White")},
		})
		d.layers = append(d.layers, layer{d.white, true})
	}
	return d.white
}

// whiteSpace is the Separation (ISO 32000-1, 8.6.6.4) whose plane the printer's white station takes.
func whiteSpace() types.Object {
	none := types.Array{types.Integer(0), types.Integer(0), types.Integer(0), types.Integer(0)}
	tint := types.Dict{
		"FunctionType": types.Integer(2), "N": types.Integer(1),
		"Domain": types.Array{types.Integer(0), types.Integer(1)},
		"C0":     none, "C1": whiteOnScreen,
	}
	return types.Array{types.Name("Separation"), types.Name("White"), types.Name("DeviceCMYK"), tint}
}

func (d *document) tone(t *Tone) types.IndirectRef {
	if !t.Opaque {
		if t.CMYK {
			return d.inkThroughMask(&t.Ink, blackOfCMYK(), nil)
		}
		return d.inkThroughMask(&t.Ink, types.Name("DeviceGray"), types.Array{types.Integer(1), types.Integer(0)})
	}
	dict := imageDict(t.Ink.W, t.Ink.H, types.Name("DeviceGray"))
	if t.CMYK {
		dict["ColorSpace"] = blackOfCMYK()
	} else {
		dict["Decode"] = types.Array{types.Integer(1), types.Integer(0)}
	}
	return d.image(dict, &t.Ink, 1)
}

// blackOfCMYK is an Indexed space of 256 steps from 0 0 0 0 to 0 0 0 1 of DeviceCMYK: one byte a pixel instead of four.
func blackOfCMYK() types.Object {
	table := make([]byte, 4*256)
	for i := range 256 {
		table[4*i+3] = byte(i)
	}
	return types.Array{types.Name("Indexed"), types.Name("DeviceCMYK"), types.Integer(255), types.HexLiteral(fmt.Sprintf("%x", table))}
}

// inkThroughMask paints full ink of a space through the plane as a soft mask, so that nothing at all is painted where
// there is no ink. The picture itself is 255 throughout, in the sense of decode unless that is nil; it has as many pixels as the mask, for
// whoever asks a picture, not its mask, for its resolution.
func (d *document) inkThroughMask(ink *Pixels, space types.Object, decode types.Array) types.IndirectRef {
	dict := imageDict(ink.W, ink.H, space)
	if decode != nil {
		dict["Decode"] = decode
	}
	dict["SMask"] = d.mask(ink)
	full := Pixels{ink.W, ink.H, func(dst []byte, _, _ int) error {
		for i := range dst {
			dst[i] = 255
		}
		return nil
	}}
	return d.image(dict, &full, 1)
}

func (d *document) mask(alpha *Pixels) types.IndirectRef {
	return d.image(imageDict(alpha.W, alpha.H, types.Name("DeviceGray")), alpha, 1)
}

func (d *document) colour(c *Colour) types.IndirectRef {
	space, channels := types.Name("DeviceRGB"), 3
	if c.CMYK {
		space, channels = "DeviceCMYK", 4
	}
	dict := imageDict(c.Pixels.W, c.Pixels.H, space)
	if c.Alpha != nil {
		dict["SMask"] = d.mask(c.Alpha)
	}
	return d.image(dict, &c.Pixels, channels)
}

func imageDict(w, h int, space types.Object) types.Dict {
	return types.Dict{
		"Type": types.Name("XObject"), "Subtype": types.Name("Image"),
		"Width": types.Integer(w), "Height": types.Integer(h),
		"ColorSpace": space, "BitsPerComponent": types.Integer(8),
	}
}

func (d *document) image(dict types.Dict, p *Pixels, channels int) types.IndirectRef {
	ref := d.Reserve()
	d.FlateStream(ref, dict, func(w io.Writer) error { return p.copyTo(w, channels) })
	return ref
}

func (p *Pixels) copyTo(w io.Writer, channels int) error {
	row := p.W * channels
	rows := max(1, min(p.H, bandBytes/row))
	band := make([]byte, rows*row)
	for y := 0; y < p.H; y += rows {
		y1 := min(p.H, y+rows)
		part := band[:(y1-y)*row]
		if err := p.Read(part, y, y1); err != nil {
			return fmt.Errorf("rows %d to %d: %w", y, y1, err)
		}
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}
