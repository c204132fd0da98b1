package pdfcolour

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// ErrInseparable is matched by the error of Image for a picture that may be whole but is packed in a way that cannot be unpacked here,
// as JPEG 2000.
var ErrInseparable = errors.New("inseparable")

// mostSide bounds the width and the height of a picture in samples.
const mostSide = 1 << 20

func inseparable(packing string) error {
	return &raster.Fault{
		Reason: fmt.Sprintf("a picture is packed as %s and cannot be taken apart into its printing colours", packing),
		Remedy: "export the design to PDF with pictures packed as ZIP or JPEG",
		Err:    ErrInseparable,
	}
}

// Image rewrites an image XObject, or an inline image of which sd holds the dictionary and the data, so that its samples are the planes
// of g: DeviceGray for one, DeviceRGB for three. A stencil mask is given back as it is.
//
// Soft masks and stencils hold no colour and must be copied as they are. Mask and SMask of the result may be streams rather than
// references to them: the writer makes them objects of their own. A picture that cannot be read is a *raster.Fault.
func (r *Reader) Image(sd types.StreamDict, resources types.Dict, g Group) (types.StreamDict, error) {
	if err := r.checkGroup(g); err != nil {
		return types.StreamDict{}, err
	}
	im := &image{StreamDict: sd, r: r, group: g}
	im.Dict = expandInline(sd.Dict)
	if stencil, _ := r.in.Deref(im.Dict["ImageMask"]).(types.Boolean); bool(stencil) {
		return im.StreamDict, nil
	}
	if err := im.read(resources); err != nil {
		return types.StreamDict{}, err
	}
	im.key = r.in.Array(im.Dict["Mask"])
	if im.softMask() != nil { // which takes the place of any other (Table 89)
		im.key = nil
		delete(im.Dict, "Mask")
	}
	switch {
	case im.key == nil && !im.paints():
		return im.blank(), nil
	case im.table():
		return im.recoloured(), nil
	}
	return im.converted()
}

func (r *Reader) checkGroup(g Group) error {
	if len(g) != 1 && len(g) != 3 {
		return fmt.Errorf("pdfcolour: a group of %d planes, want 1 or 3", len(g))
	}
	for _, plane := range g {
		if plane < 0 || plane >= len(r.planes) {
			return fmt.Errorf("pdfcolour: plane %d of %d", plane, len(r.planes))
		}
	}
	return nil
}

// inlineKeys and inlineSpaces are the abbreviations of inline images (Tables 93 and 94).
var (
	inlineKeys = map[string]string{
		"BPC": "BitsPerComponent", "CS": "ColorSpace", "D": "Decode", "DP": "DecodeParms", "F": "Filter",
		"H": "Height", "IM": "ImageMask", "I": "Interpolate", "W": "Width", "L": "Length",
	}
	inlineSpaces = map[types.Name]types.Name{"G": "DeviceGray", "RGB": "DeviceRGB", "CMYK": "DeviceCMYK", "I": "Indexed"}
)

// expandInline copies d, writing the abbreviations of an inline image in full.
func expandInline(d types.Dict) types.Dict {
	out := types.Dict{"Type": types.Name("XObject"), "Subtype": types.Name("Image")}
	_, short := d["W"]
	if !short && d["Subtype"] != nil {
		return maps.Clone(d)
	}
	for key, o := range d {
		if full, ok := inlineKeys[key]; ok {
			key = full
		}
		out[key] = o
	}
	out["ColorSpace"] = expandSpace(out["ColorSpace"])
	out["Filter"] = expandFilter(out["Filter"])
	return out
}

func expandFilter(o types.Object) types.Object {
	switch o := o.(type) {
	case types.Name:
		if full, ok := filterNames[string(o)]; ok {
			return types.Name(full)
		}
	case types.Array:
		out := slices.Clone(o)
		for i := range out {
			out[i] = expandFilter(out[i])
		}
		return out
	}
	return o
}

func expandSpace(o types.Object) types.Object {
	switch o := o.(type) {
	case types.Name:
		if full, ok := inlineSpaces[o]; ok {
			return full
		}
	case types.Array:
		out := slices.Clone(o)
		for i := range out[:min(2, len(out))] {
			out[i] = expandSpace(out[i])
		}
		return out
	}
	return o
}

// image is an image being rewritten.
type image struct {
	types.StreamDict // with its dictionary in full
	r                *Reader
	group            Group

	space         space
	width, height int
	bits          int
	decode        []float64   // pairs of least and most for each component
	packing       string      // last filter
	key           types.Array // colour key mask, nil if there is none
}

func (im *image) read(resources types.Dict) error {
	r := im.r
	if steps := r.filters(im.Dict); len(steps) > 0 {
		im.packing = steps[len(steps)-1].name
	}
	if im.packing == "JPXDecode" {
		return inseparable("JPEG 2000")
	}
	var okW, okH, okBits bool
	im.width, okW = r.integer(im.Dict["Width"], 1, mostSide)
	im.height, okH = r.integer(im.Dict["Height"], 1, mostSide)
	im.bits, okBits = r.integer(im.Dict["BitsPerComponent"], 1, 16)
	switch im.packing {
	case "CCITTFaxDecode", "JBIG2Decode":
		im.bits, okBits = 1, true
	case "DCTDecode":
		im.bits, okBits = 8, true
	}
	if !okW || !okH || !okBits || !slices.Contains([]int{1, 2, 4, 8, 16}, im.bits) {
		return fault("a picture does not say its size, or a size that makes no sense")
	}
	var err error
	if im.space, err = r.space(im.Dict["ColorSpace"], resources); err != nil {
		return err
	}
	n := im.space.Components()
	if n == 0 {
		return fault("a picture is painted with a pattern")
	}
	if n*im.width > mostDecoded/im.height {
		return fault("a picture of %d x %d points is too large", im.width, im.height)
	}
	im.decode = im.defaultDecode()
	if d := r.numbers(im.Dict["Decode"]); len(d) >= 2*n {
		im.decode = d[:2*n]
	}
	return nil
}

func (im *image) defaultDecode() []float64 {
	if rng := im.space.ranges(); rng != nil {
		return rng
	}
	most := 1.0
	if isIndexed(im.space) {
		most = float64(int(1)<<im.bits - 1)
	}
	return slices.Repeat([]float64{0, most}, im.space.Components())
}

// paints reports whether the image's space addresses a plane of the group.
func (im *image) paints() bool {
	return slices.ContainsFunc(im.group, func(plane int) bool { return im.space.sets()[plane] })
}

// table reports whether the image can be rewritten by its colour space alone: one component of up to 8 bits, into which no matte colour
// (11.6.5.3) is mixed. A JPEG may have other components than the dictionary says, which picture finds out.
func (im *image) table() bool {
	return im.space.Components() == 1 && im.bits <= 8 && im.matte() == nil && im.packing != "DCTDecode" && !im.isShort()
}

// isShort reports whether data for samples is missing, which the renderer would fill up with one bits, whatever they mean.
func (im *image) isShort() bool {
	if len(im.Raw) == 0 {
		return false
	}
	if short, ok := im.r.short[&im.Raw[0]]; ok {
		return short
	}
	size := (im.width*im.bits + 7) / 8 * im.height
	data, rest, err := im.r.decodePart(im.StreamDict, size)
	short := err == nil && len(rest) == 0 && len(data) > 0 && len(data) < size
	im.r.short[&im.Raw[0]] = short
	return short
}

// drop removes what no longer holds of a rewritten image, or concerns no printing; and masks of its masks, which may lead back to it.
func (im *image) drop(keys ...string) types.Dict {
	for _, key := range []string{"SMask", "Mask"} {
		if sd, ok := im.r.in.Deref(im.Dict[key]).(types.StreamDict); ok && (sd.Dict["SMask"] != nil || sd.Dict["Mask"] != nil || sd.Dict["Matte"] != nil) {
			im.Dict[key] = bare(sd)
			if sd.Dict["SMask"] != nil || sd.Dict["Mask"] != nil {
				im.r.note("a picture's mask has a mask of its own, or is its own mask, which is left aside")
			}
		}
	}
	for _, key := range append(keys, "Decode", "Alternates", "OPI", "Metadata", "StructParent", "Intent") {
		delete(im.Dict, key)
	}
	return im.Dict
}

func (im *image) device() types.Name {
	if len(im.group) == 1 {
		return "DeviceGray"
	}
	return "DeviceRGB"
}

// blank is a picture without ink: a single sample, under the masks of the image.
func (im *image) blank() types.StreamDict {
	return im.stream(slices.Repeat([]byte{255}, len(im.group)), 1, 1)
}

// stream is the image with samples of 8 bits, unpacked: the renderer reads it from memory, and packing takes longer than all the rest.
func (im *image) stream(data []byte, width, height int) types.StreamDict {
	d := im.drop("Filter", "DecodeParms")
	d["Width"], d["Height"], d["BitsPerComponent"] = types.Integer(width), types.Integer(height), types.Integer(8)
	d["ColorSpace"] = im.device()
	d["Length"] = types.Integer(len(data))
	return types.StreamDict{Dict: d, Raw: data}
}

// recoloured is the image with its data as it was and a table of shares for its colour space. Samples stay what they were, so a colour
// key still holds.
func (im *image) recoloured() types.StreamDict {
	count := 1 << im.bits
	table := make([]byte, 0, count*len(im.group))
	shares := make([]float64, len(im.r.planes))
	for v := range count {
		im.space.shares(shares, []float64{interpolate(float64(v), 0, float64(count-1), im.decode[0], im.decode[1])})
		for _, plane := range im.group {
			table = append(table, tone(shares[plane]))
		}
	}
	d := im.drop()
	d["ColorSpace"] = types.Array{types.Name("Indexed"), im.device(), types.Integer(count - 1), types.NewHexLiteral(table)}
	d["BitsPerComponent"] = types.Integer(im.bits)
	return im.StreamDict
}

// tone is a share of ink as a sample of 8 bits: 255 is none, 0 full.
func tone(share float64) byte { return byte(255*(1-clamp01(share)) + 0.5) }

func (im *image) converted() (types.StreamDict, error) {
	p, err := im.picture()
	if err != nil {
		return types.StreamDict{}, err
	}
	if p.outside != nil {
		im.Dict["Mask"] = stencil(p)
	}
	return im.stream(im.convert(p), p.width, p.height), nil
}

// stencil is an explicit mask (8.9.6.3) that leaves out the samples of a colour key.
func stencil(p *picture) types.StreamDict {
	return types.StreamDict{Raw: p.outside, Dict: types.Dict{
		"Type": types.Name("XObject"), "Subtype": types.Name("Image"), "ImageMask": types.Boolean(true),
		"Width": types.Integer(p.width), "Height": types.Integer(p.height), "BitsPerComponent": types.Integer(1),
		"Length": types.Integer(len(p.outside)),
	}}
}

// softMask is the image's soft mask, nil if there is none.
func (im *image) softMask() *types.StreamDict {
	sd, ok := im.r.in.Deref(im.Dict["SMask"]).(types.StreamDict)
	if !ok {
		return nil
	}
	return &sd
}

// matte is the colour that is mixed into the samples where the soft mask is not opaque (11.6.5.3); nil if there is none.
func (im *image) matte() []float64 {
	sd := im.softMask()
	if sd == nil {
		return nil
	}
	m := im.r.numbers(sd.Dict["Matte"])
	if len(m) != im.space.Components() {
		return nil
	}
	return m
}

// bare is a mask without a matte colour, which is taken out of the samples, and without masks of its own, which it must not have.
func bare(sd types.StreamDict) types.StreamDict {
	sd.Dict = maps.Clone(sd.Dict)
	for _, key := range []string{"Matte", "SMask", "Mask"} {
		delete(sd.Dict, key)
	}
	return sd
}
