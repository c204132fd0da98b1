package pdfcolour

import (
	"encoding/hex"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// space is a Space as the rest of the package sees it.
type space interface {
	Space
	// shares writes one share for each plane; c is long enough.
	shares(dst, c []float64)
	// ranges are pairs of least and most for each component, as images are decoded to by default; nil means 0 to 1.
	ranges() []float64
	// sets says which planes the space addresses.
	sets() []bool
}

// paint is Space.Paint for any space.
func paint(s space, c []float64) Paint {
	in := make([]float64, max(len(c), s.Components()))
	copy(in, c)
	for i, v := range in {
		if !isFinite(v) {
			in[i] = 0
		}
	}
	p := Paint{Share: make([]float64, len(s.sets())), Sets: s.sets()}
	s.shares(p.Share, in)
	if n, ok := s.(interface{ nothing() bool }); ok {
		p.Nothing = n.nothing()
	}
	return p
}

// Space reads a colour space: a name (of a device space, Pattern, or in the resources' ColorSpace), an array, or a reference to either.
// What cannot be read is a *raster.Fault.
func (r *Reader) Space(o types.Object, resources types.Dict) (Space, error) {
	return r.space(o, resources)
}

func (r *Reader) space(o types.Object, resources types.Dict) (space, error) {
	s, err := r.readSpace(o, r.in.Dict(resources["ColorSpace"]), 0)
	if err == nil && r.intoWhite {
		s = r.inWhite(s)
	}
	return s, err
}

// readSpace reads from the ColorSpace resources named, which also hold what the device spaces are to be taken for (8.6.5.6).
func (r *Reader) readSpace(o types.Object, named types.Dict, depth int) (space, error) {
	if depth > mostNesting {
		return nil, fault("a colour space refers to itself")
	}
	if ref, ok := o.(types.IndirectRef); ok && !hasDefaults(named) {
		if s, ok := r.spaces[int(ref.ObjectNumber)]; ok {
			return s, nil
		}
		s, err := r.readSpace(r.in.Deref(o), named, depth+1)
		if err == nil {
			r.spaces[int(ref.ObjectNumber)] = s
		}
		return s, err
	}
	switch o := r.in.Deref(o).(type) {
	case types.Name:
		return r.namedSpace(string(o), named, depth)
	case types.Array:
		return r.arraySpace(o, named, depth)
	case types.StreamDict: // ICC profile without its array, seen in damaged files
		return r.iccSpace(types.Array{types.Name("ICCBased"), o}, named, depth)
	}
	return nil, fault("a colour space is missing or of no known form")
}

// deviceComponents are the spaces that are taken for device spaces; CalCMYK was never defined beyond its name (8.6.5.1).
var deviceComponents = map[string]int{
	"DeviceGray": 1, "DeviceRGB": 3, "DeviceCMYK": 4,
	"CalGray": 1, "CalRGB": 3, "CalCMYK": 4,
}

var defaults = map[string]string{"DeviceGray": "DefaultGray", "DeviceRGB": "DefaultRGB", "DeviceCMYK": "DefaultCMYK"}

func hasDefaults(named types.Dict) bool {
	for _, name := range defaults {
		if _, ok := named[name]; ok {
			return true
		}
	}
	return false
}

func (r *Reader) namedSpace(name string, named types.Dict, depth int) (space, error) {
	switch name {
	case "DeviceGray", "DeviceRGB", "DeviceCMYK":
		return r.deviceOrDefault(name, named, depth), nil
	case "CalGray", "CalRGB", "CalCMYK": // without parameters, as old files have them
		return r.device(deviceComponents[name]), nil
	case "Pattern":
		return &noSpace{r.noPlanes()}, nil
	}
	if o, ok := named[name]; ok {
		if r.in.Name(o) == name {
			return nil, fault("the colour space %q refers to itself", name)
		}
		return r.readSpace(o, named, depth+1)
	}
	return nil, fault("the colour space %q is not in the file", name)
}

// deviceOrDefault takes a device space for its default one if there is one that fits; one that cannot be read is left aside.
func (r *Reader) deviceOrDefault(name string, named types.Dict, depth int) space {
	device := r.device(deviceComponents[name])
	o, ok := named[defaults[name]]
	if !ok {
		return device
	}
	others := maps.Clone(named)
	for _, d := range defaults { // a default space is not itself taken for another
		delete(others, d)
	}
	s, err := r.readSpace(o, others, depth+1)
	if err != nil || s.Components() != device.Components() {
		return device
	}
	return s
}

func (r *Reader) arraySpace(a types.Array, named types.Dict, depth int) (space, error) {
	if len(a) == 0 {
		return nil, fault("a colour space is an empty list")
	}
	family := r.in.Name(a[0])
	if len(a) == 1 {
		return r.namedSpace(family, named, depth+1)
	}
	switch family {
	case "CalGray", "CalRGB", "CalCMYK", "DeviceGray", "DeviceRGB", "DeviceCMYK":
		return r.namedSpace(family, named, depth+1)
	case "Lab":
		return r.labSpace(r.in.Dict(a[1]))
	case "ICCBased":
		return r.iccSpace(a, named, depth)
	case "Indexed":
		return r.indexedSpace(a, named, depth)
	case "Separation", "DeviceN":
		return r.colorantSpace(a, named, depth)
	case "Pattern":
		return r.readSpace(a[1], named, depth+1)
	}
	return nil, fault("the kind of colour space %q is not known", family)
}

func (r *Reader) noPlanes() []bool { return make([]bool, len(r.planes)) }

// deviceSpace is grey, RGB or CMYK without colour management, with the ranges that an ICC profile may have.
type deviceSpace struct {
	n       int
	process [4]int
	curves  Curves
	set     []bool
	rng     []float64
}

func (r *Reader) device(n int) *deviceSpace {
	return &deviceSpace{n: n, process: r.process, curves: r.curves, set: r.processSet()}
}

func (r *Reader) processSet() []bool {
	set := r.noPlanes()
	for _, plane := range r.process {
		if plane >= 0 {
			set[plane] = true
		}
	}
	return set
}

func (s *deviceSpace) Components() int         { return s.n }
func (s *deviceSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *deviceSpace) ranges() []float64       { return s.rng }
func (s *deviceSpace) sets() []bool            { return s.set }

func (s *deviceSpace) Initial() []float64 {
	c := make([]float64, s.n)
	if s.n == 4 && s.rng == nil {
		c[3] = 1
	}
	for i := range c {
		if s.rng != nil {
			c[i] = clamp(c[i], s.rng[2*i], s.rng[2*i+1])
		}
	}
	return c
}

func (s *deviceSpace) shares(dst, c []float64) {
	var in [4]float64
	for i := range s.n {
		in[i] = clamp01(c[i])
		if s.rng != nil {
			in[i] = clamp01(interpolate(c[i], s.rng[2*i], s.rng[2*i+1], 0, 1))
		}
	}
	cmyk := in
	switch s.n {
	case 1:
		cmyk = [4]float64{3: 1 - in[0]}
	case 3:
		cmyk = s.curves.cmyk(in[0], in[1], in[2])
	}
	if s.folds() {
		for i := range 3 {
			cmyk[i] = min(1, cmyk[i]+cmyk[3])
		}
	}
	clear(dst)
	for i, plane := range s.process {
		if plane >= 0 {
			dst[plane] = cmyk[i]
		}
	}
}

// folds reports whether black goes into cyan, magenta and yellow, because it has no plane and they do (ISO 32000-1, 10.3.5).
func (s *deviceSpace) folds() bool {
	p := s.process
	return p[3] < 0 && p[0] >= 0 && p[1] >= 0 && p[2] >= 0
}

// cmyk is ISO 32000-1, 10.3.4.
func (curves Curves) cmyk(red, green, blue float64) [4]float64 {
	c, m, y := 1-red, 1-green, 1-blue
	k := min(c, m, y)
	under := curves.UCR(k)
	return [4]float64{clamp01(c - under), clamp01(m - under), clamp01(y - under), clamp01(curves.BG(k))}
}

// iccSpace takes a profile by its number of components; the profile itself is not read, so that a damaged one does no harm.
func (r *Reader) iccSpace(a types.Array, named types.Dict, depth int) (space, error) {
	d := r.in.Dict(a[1])
	var alternate space
	if o, ok := d["Alternate"]; ok {
		alternate, _ = r.readSpace(o, named, depth+1)
	}
	n, ok := r.integer(d["N"], 1, 4)
	if !ok || n == 2 {
		if alternate != nil && alternate.Components() > 0 {
			return alternate, nil
		}
		return nil, fault("a colour profile does not say how many components its colours have")
	}
	if lab, ok := alternate.(*labSpace); ok && n == 3 {
		return lab, nil
	}
	if !r.isProfile(a[1], n) {
		r.note("a colour profile is damaged; its colours are taken as plain grey, RGB or CMYK, by how many components they have")
	}
	s := r.device(n)
	if rng := r.pairs(d["Range"]); len(rng) == 2*n && !isUnit(rng) {
		s.rng = rng
	}
	return s, nil
}

// isProfile reports whether a stream begins as an ICC profile for n components does (ISO 15076-1, 7.2: colour space in bytes 16 to 19,
// "acsp" in bytes 36 to 39).
func (r *Reader) isProfile(o types.Object, n int) bool {
	const header = 128
	sd, ok := r.in.Deref(o).(types.StreamDict)
	if !ok {
		return false
	}
	data, err := r.decode(sd, header)
	if err != nil || len(data) < header || string(data[36:40]) != "acsp" {
		return false
	}
	return map[string]int{"GRAY": 1, "RGB ": 3, "Lab ": 3, "CMYK": 4}[string(data[16:20])] == n
}

func isUnit(rng []float64) bool {
	for i, v := range rng {
		if v != float64(i%2) {
			return false
		}
	}
	return true
}

// indexedSpace holds the shares of each entry of its table.
type indexedSpace struct {
	most  int
	table []float64 // planes side by side
	base  space
	set   []bool
}

func (r *Reader) indexedSpace(a types.Array, named types.Dict, depth int) (space, error) {
	if len(a) < 4 {
		return nil, fault("a colour table is incomplete")
	}
	base, err := r.readSpace(a[1], named, depth+1)
	if err != nil {
		return nil, err
	}
	most, ok := r.integer(a[2], 0, 255)
	n := base.Components()
	if _, nested := base.(*indexedSpace); !ok || n == 0 || nested {
		return nil, fault("a colour table does not say how many colours it has, or of what kind")
	}
	lookup, err := r.bytes(a[3], (most+1)*n)
	if err != nil {
		return nil, err
	}
	s := &indexedSpace{most: most, set: base.sets(), base: base, table: make([]float64, (most+1)*len(r.planes))}
	rng := base.ranges()
	c := make([]float64, n)
	for i := range most + 1 {
		for j := range c {
			c[j] = 0
			if at := i*n + j; at < len(lookup) { // a table that is too short is read as if filled up with zeros
				c[j] = float64(lookup[at]) / 255
			}
			if rng != nil {
				c[j] = rng[2*j] + c[j]*(rng[2*j+1]-rng[2*j])
			}
		}
		base.shares(s.table[i*len(r.planes):(i+1)*len(r.planes)], c)
	}
	return s, nil
}

// bytes reads a string or a stream, of which no more than most bytes are wanted.
func (r *Reader) bytes(o types.Object, most int) ([]byte, error) {
	switch o := r.in.Deref(o).(type) {
	case types.StringLiteral:
		b, err := types.Unescape(string(o))
		if err != nil {
			return nil, fault("a text that holds colours cannot be read")
		}
		return b, nil
	case types.HexLiteral:
		digits := strings.Map(func(c rune) rune {
			if c < 256 && isSpace(byte(c)) {
				return -1
			}
			return c
		}, string(o))
		b, err := hex.DecodeString(digits + strings.Repeat("0", len(digits)%2))
		if err != nil {
			return nil, fault("a text that holds colours cannot be read")
		}
		return b, nil
	case types.StreamDict:
		return r.decode(o, most)
	}
	return nil, fault("a colour table is missing")
}

func (s *indexedSpace) Components() int         { return 1 }
func (s *indexedSpace) Initial() []float64      { return []float64{0} }
func (s *indexedSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *indexedSpace) ranges() []float64       { return nil }
func (s *indexedSpace) sets() []bool            { return s.set }

func (s *indexedSpace) shares(dst, c []float64) {
	i := int(math.Round(clamp(c[0], 0, float64(s.most))))
	copy(dst, s.table[i*len(dst):])
}

// noSpace is that of patterns which have their own colours.
type noSpace struct{ set []bool }

func (s *noSpace) Components() int         { return 0 }
func (s *noSpace) Initial() []float64      { return nil }
func (s *noSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *noSpace) ranges() []float64       { return nil }
func (s *noSpace) sets() []bool            { return s.set }
func (s *noSpace) shares(dst, _ []float64) { clear(dst) }

// colorantSpace is a Separation or DeviceN space (8.6.6.4, 8.6.6.5).
//
// Colorants that are planes are painted as such. If some of a DeviceN are not, these (and None) go through the tint transform with the
// others at 0: the standard would send all of them, and a white that the file names would be lost with its neighbour.
type colorantSpace struct {
	plane     []int // by component: index of a plane, or one of the negative ones below
	set       []bool
	alternate space // nil if no component needs it
	transform function
	mixed     []string // colorants that have no plane
	strongest bool     // of components of the same plane one counts, not their sum
}

const (
	planeNone      = -1 - iota // paints nothing
	planeAll                   // paints every plane
	planeUnwanted              // a process colorant of which no plane is wanted
	planeAlternate             // goes through the tint transform
)

func (r *Reader) colorantSpace(a types.Array, named types.Dict, depth int) (space, error) {
	if len(a) < 4 {
		return nil, fault("a spot colour is incomplete")
	}
	names, err := r.colorantNames(a[1])
	if err != nil {
		return nil, err
	}
	s := &colorantSpace{set: r.noPlanes(), strongest: r.intoWhite}
	for _, name := range names {
		plane := r.colorantPlane(name)
		s.plane = append(s.plane, plane)
		if plane >= 0 {
			s.set[plane] = true
		}
		if plane == planeAll {
			s.set = slices.Repeat([]bool{true}, len(r.planes))
		}
	}
	if !slices.Contains(s.plane, planeAlternate) {
		return s, nil
	}
	if s.alternate, err = r.readSpace(a[2], named, depth+1); err != nil {
		return nil, err
	}
	if s.alternate.Components() == 0 {
		return nil, fault("the spot colour %q has a pattern for its alternate", names[0])
	}
	if s.transform, err = r.functionOf(a[3], len(names), s.alternate.Components()); err != nil {
		return nil, err
	}
	for i, set := range s.alternate.sets() {
		s.set[i] = s.set[i] || set
	}
	for i, plane := range s.plane {
		if plane == planeAlternate {
			s.mixed = append(s.mixed, names[i])
		}
	}
	return s, nil
}

// colorantNames reads the name of a Separation or the names of a DeviceN.
func (r *Reader) colorantNames(o types.Object) ([]string, error) {
	if name := r.in.Name(o); name != "" {
		return []string{name}, nil
	}
	list := r.in.Array(o)
	if len(list) == 0 || len(list) > maxComponents {
		return nil, fault("a colour space of %d spot colours, where 1 to %d are allowed", len(list), maxComponents)
	}
	names := make([]string, len(list))
	for i, o := range list {
		name := r.in.Name(o)
		if name == "" {
			return nil, fault("a spot colour has no name")
		}
		names[i] = name
	}
	return names, nil
}

func (r *Reader) colorantPlane(name string) int {
	plane, process := r.index(name)
	if r.intoWhite && !process && name != "None" {
		plane = slices.Index(r.planes, whiteName)
	}
	switch {
	case plane >= 0:
		return plane
	case name == "None":
		return planeNone
	case name == "All":
		return planeAll
	case process:
		return planeUnwanted
	}
	return planeAlternate
}

func (s *colorantSpace) Components() int         { return len(s.plane) }
func (s *colorantSpace) Initial() []float64      { return slices.Repeat([]float64{1}, len(s.plane)) }
func (s *colorantSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *colorantSpace) ranges() []float64       { return nil }
func (s *colorantSpace) sets() []bool            { return s.set }

func (s *colorantSpace) nothing() bool {
	return !slices.ContainsFunc(s.plane, func(p int) bool { return p != planeNone })
}

// scratches are the inputs and outputs of tint transforms, kept from one colour of a picture to the next.
var scratches = sync.Pool{New: func() any { return &[2][maxComponents]float64{} }}

func (s *colorantSpace) shares(dst, c []float64) {
	if s.alternate == nil {
		clear(dst)
	} else {
		scratch := scratches.Get().(*[2][maxComponents]float64)
		defer scratches.Put(scratch)
		in, out := &scratch[0], &scratch[1]
		clear(in[:])
		for i, plane := range s.plane {
			if plane == planeAlternate || plane == planeNone {
				in[i] = clamp01(c[i])
			}
		}
		s.transform.eval(out[:], in[:])
		s.alternate.shares(dst, out[:])
	}
	for i, plane := range s.plane {
		switch {
		case plane >= 0 && s.strongest:
			dst[plane] = max(dst[plane], clamp01(c[i]))
		case plane >= 0:
			dst[plane] = math.Min(1, dst[plane]+clamp01(c[i]))
		case plane == planeAll:
			for j := range dst {
				dst[j] = clamp01(c[i])
			}
		}
	}
}
