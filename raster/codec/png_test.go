package codec

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"peelcheck/raster"
)

// pngMake is the make-up of a PNG file, to be spoilt before it is put together.
type pngMake struct {
	width, height     int
	depth, colourType byte
	interlaced        bool
	plte, trns        []byte // nil for none
	level             int    // of compression
	idat              int    // bytes in each IDAT chunk
}

// allMakes are all kinds of PNG that the standard allows (PNG, third edition, 11.2.1, table 9), with and without tRNS.
func allMakes(rng *rand.Rand) []pngMake {
	var all []pngMake
	depths := map[byte][]byte{pngGrey: {1, 2, 4, 8, 16}, pngRGB: {8, 16}, pngIndexed: {1, 2, 4, 8}, pngGreyAlpha: {8, 16}, pngRGBA: {8, 16}}
	for colourType, depths := range depths {
		for _, depth := range depths {
			for _, withClear := range []bool{false, true} {
				m := pngMake{depth: depth, colourType: colourType}
				switch {
				case colourType == pngIndexed:
					m.plte = make([]byte, 3<<depth)
					randomBytes(rng, m.plte)
					if withClear {
						m.trns = make([]byte, 1+rng.IntN(1<<depth))
						randomBytes(rng, m.trns)
						m.trns[0] = 0
					}
				case withClear && colourType == pngGrey:
					m.trns = []byte{0, 1}
				case withClear && colourType == pngRGB:
					m.trns = []byte{0, 1, 0, 2, 0, 3}
				case withClear:
					continue
				}
				all = append(all, m)
			}
		}
	}
	return all
}

func (m pngMake) String() string {
	return fmt.Sprintf("%d x %d, type %d of %d bits, tRNS %v", m.width, m.height, m.colourType, m.depth, m.trns)
}

// samples makes filtered rows of noise, few values and stretches of zeros, with filters in any order.
func (m pngMake) samples(rng *rand.Rand) []byte {
	rowBytes := (m.width*pngBitsPerPixel(m.depth, m.colourType) + 7) / 8
	var raw []byte
	for range m.height {
		row := make([]byte, rowBytes)
		for from := 0; from < rowBytes; {
			to := min(rowBytes, from+1+rng.IntN(600))
			switch rng.IntN(4) {
			case 0:
				randomBytes(rng, row[from:to])
			case 1:
				for i := from; i < to; i++ {
					row[i] = uint8(rng.Uint32() & 3)
				}
			}
			from = to
		}
		raw = append(append(raw, uint8(rng.IntN(5))), row...)
	}
	return raw
}

func (m pngMake) header() []byte {
	h := be.AppendUint32(be.AppendUint32(nil, uint32(m.width)), uint32(m.height))
	h = append(h, m.depth, m.colourType, 0, 0, 0)
	if m.interlaced {
		h[12] = 1
	}
	return h
}

// chunks are the chunks of the file with the given zlib data.
func (m pngMake) chunks(z []byte) [][]byte {
	c := [][]byte{pngChunk("IHDR", m.header())}
	if m.plte != nil {
		c = append(c, pngChunk("PLTE", m.plte))
	}
	if m.trns != nil {
		c = append(c, pngChunk("tRNS", m.trns))
	}
	for len(z) > 0 {
		n := min(len(z), max(1, m.idat))
		c = append(c, pngChunk("IDAT", z[:n]))
		z = z[n:]
	}
	return append(c, pngChunk("IEND", nil))
}

func pngFile(chunks ...[]byte) []byte {
	return append([]byte("\x89PNG\r\n\x1a\n"), bytes.Join(chunks, nil)...)
}

func (m pngMake) file(t testing.TB, rng *rand.Rand) []byte {
	return pngFile(m.chunks(deflated(t, m.samples(rng), m.level))...)
}

// byImagePNG opens a file and reads its pixels by image/png.
func byImagePNG(data []byte) (*image.NRGBA, bool, error) {
	if _, err := Open(data, Options{}); err != nil {
		return nil, false, err
	}
	var m image.Image
	err := guard(func() (err error) {
		m, err = decodePNG(data)
		return err
	})
	if err != nil {
		return nil, false, faultOf("png", err)
	}
	p, alpha := toNRGBA(m)
	return p, alpha, nil
}

// asImagePNG fails unless a file is read like image/png does, or refused in the same words.
func asImagePNG(t *testing.T, data []byte) error {
	t.Helper()
	want, alpha, wantErr := byImagePNG(data)
	got, err := page(data)
	if err != nil || wantErr != nil {
		if err == nil || wantErr == nil {
			t.Fatalf("error %v, by image/png %v", err, wantErr)
		}
		f, w := isFault(t, err), isFault(t, wantErr)
		if f.Reason != w.Reason || f.Remedy != w.Remedy || f.Error() != w.Error() {
			t.Fatalf("refused as %q (%v), by image/png as %q (%v)", f.Reason, f.Err, w.Reason, w.Err)
		}
		return err
	}
	if d := visibleDifference(got.Pix, want); d != "" {
		t.Fatal(d)
	}
	if got.HasAlpha != alpha {
		t.Errorf("alpha %v, want %v", got.HasAlpha, alpha)
	}
	if got.Drawn != nil {
		isDrawn(t, got)
	}
	return nil
}

// isDrawn checks Drawn, and that nothing was written where it is clear.
func isDrawn(t *testing.T, p *raster.Picture) {
	t.Helper()
	size := p.Pix.Rect.Size()
	if p.Drawn.W != (size.X+63)/64 || p.Drawn.H != size.Y {
		t.Fatalf("drawn is %d x %d for a picture of %v", p.Drawn.W, p.Drawn.H, size)
	}
	for y := range size.Y {
		for s := range p.Drawn.W {
			any := false
			for x := 64 * s; x < min(64*s+64, size.X); x++ {
				c := p.Pix.NRGBAAt(x, y)
				any = any || c.A != 0
				if c.A == 0 && c != (color.NRGBA{}) {
					t.Fatalf("at (%d,%d) %v, want nothing", x, y, c)
				}
			}
			if p.Drawn.At(s, y) != any {
				t.Fatalf("row %d, pixels from %d on: drawn %v, want %v", y, 64*s, !any, any)
			}
		}
	}
}

// Pictures of all kinds, sizes and filters are read like image/png reads them; that reader is independent of ours.
func TestPNGAgainstImagePNG(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, m := range allMakes(rng) {
		for _, width := range []int{1, 2, 7, 9, 63, 64, 65, 128, 300, 2000} {
			m.width, m.height, m.level, m.idat = width, 1+rng.IntN(40), rng.IntN(12)-2, 1+rng.IntN(20000)
			data := m.file(t, rng)
			if err := asImagePNG(t, data); err != nil {
				t.Fatalf("%v: %v", m, err)
			}
			p := mustPage(t, data)
			if streamed := p.Drawn != nil; streamed != (m.depth <= 8) {
				t.Errorf("%v: streamed %v", m, streamed)
			}
		}
	}
}

func TestPNGInterlaced(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, m := range allMakes(rng) {
		m.width, m.height, m.interlaced, m.idat = 3, 1, true, 1<<20 // of whose seven passes three have pixels (PNG, third edition, 8.2)
		var raw []byte
		for range 3 {
			raw = append(raw, 0)
			raw = append(raw, make([]byte, (pngBitsPerPixel(m.depth, m.colourType)+7)/8)...)
		}
		if err := asImagePNG(t, pngFile(m.chunks(deflated(t, raw, 6))...)); err != nil {
			t.Errorf("%v: %v", m, err)
		}
	}
}

// Broken files are refused in the words for what image/png says about them.
func TestPNGBroken(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	rgba := pngMake{width: 70, height: 30, depth: 8, colourType: pngRGBA, level: 6, idat: 500}
	indexed := pngMake{width: 70, height: 30, depth: 8, colourType: pngIndexed, level: 6, idat: 500, plte: []byte{1, 2, 3, 4, 5, 6}, trns: []byte{0, 9}}
	two := make([]byte, 30*71) // samples 0 and 1 only
	for i := range two {
		if i%71 > 0 {
			two[i] = uint8(rng.IntN(2))
		}
	}
	raw := rgba.samples(rng)
	z, zi := deflated(t, raw, 6), deflated(t, two, 6)
	c, ci := rgba.chunks(z), indexed.chunks(zi)
	last := len(c) - 2
	without := func(c [][]byte, i int) [][]byte { return append(append([][]byte{}, c[:i]...), c[i+1:]...) }
	with := func(c [][]byte, i int, chunk []byte) [][]byte {
		return append(append(append([][]byte{}, c[:i]...), chunk), c[i:]...)
	}
	spoilt := func(c [][]byte, i, at int) [][]byte {
		c = append([][]byte{}, c...)
		c[i] = bytes.Clone(c[i])
		c[i][(at+len(c[i]))%len(c[i])] ^= 0x10
		return c
	}
	remade := func(m pngMake, raw []byte) [][]byte { return m.chunks(deflated(t, raw, 6)) }
	badFilter := bytes.Clone(raw)
	badFilter[20*(1+4*70)] = 5
	beyond := bytes.Clone(two)
	beyond[1000] = 2
	badSum := bytes.Clone(z)
	badSum[len(badSum)-1] ^= 1
	grey := pngMake{width: 70, height: 30, depth: 1, colourType: pngGrey, idat: 500}
	greyAlpha := pngMake{width: 70, height: 30, depth: 8, colourType: pngGreyAlpha, idat: 500}
	few := indexed
	few.depth, few.plte = 1, make([]byte, 9)
	manyAlphas, noColours, moreAlphas := indexed, indexed, indexed
	manyAlphas.trns, noColours.plte, moreAlphas.trns = make([]byte, 257), []byte{}, []byte{1, 2, 3}
	oneAlpha := grey
	oneAlpha.trns = []byte{1}
	onRGBA := rgba
	onRGBA.trns = []byte{0, 1}
	longest := be.AppendUint32(nil, 1<<31)
	for name, chunks := range map[string][][]byte{
		"checksum of IDAT":           spoilt(c, 1, -1),
		"checksum of the last IDAT":  spoilt(c, last, -1),
		"checksum of IEND":           spoilt(c, last+1, -1),
		"checksum of PLTE":           spoilt(ci, 1, -1),
		"checksum of tRNS":           spoilt(ci, 2, -1),
		"data":                       spoilt(c, 3, 100),
		"zlib header":                rgba.chunks(append([]byte{0x79}, z[1:]...)),
		"zlib checksum":              rgba.chunks(badSum),
		"zlib data cut":              rgba.chunks(z[:len(z)/2]),
		"zlib data without checksum": rgba.chunks(z[:len(z)-2]),
		"filter":                     remade(rgba, badFilter),
		"row missing":                remade(rgba, raw[:len(raw)-1-4*70]),
		"byte missing":               remade(rgba, raw[:len(raw)-1]),
		"byte more":                  remade(rgba, append(bytes.Clone(raw), 0)),
		"rows more":                  remade(rgba, append(bytes.Clone(raw), raw...)),
		"no data":                    {c[0], c[last+1]},
		"empty IDAT":                 {c[0], pngChunk("IDAT", nil), c[last+1]},
		"rubbish in IDAT":            with(c, last+1, pngChunk("IDAT", make([]byte, 5))),
		"much rubbish in one IDAT":   pngMake{width: 70, height: 30, depth: 8, colourType: pngRGBA, idat: 1 << 20}.chunks(append(bytes.Clone(z), make([]byte, 9000)...)),
		"little rubbish in one IDAT": pngMake{width: 70, height: 30, depth: 8, colourType: pngRGBA, idat: 1 << 20}.chunks(append(bytes.Clone(z), make([]byte, 9)...)),
		"chunk between IDATs":        with(c, 3, pngChunk("tEXt", []byte("a"))),
		"IDAT missing":               without(c, 2),
		"no IEND":                    c[:last+1],
		"IEND with content":          with(c, last+1, pngChunk("IEND", []byte{1})),
		"header twice":               with(c, 1, c[0]),
		"header after":               with(c, last+1, c[0]),
		"PLTE after":                 with(ci, len(ci)-1, ci[1]),
		"tRNS after":                 with(ci, len(ci)-1, ci[2]),
		"PLTE twice":                 with(ci, 1, ci[1]),
		"tRNS twice":                 with(ci, 2, ci[2]),
		"no PLTE":                    without(ci, 1),
		"PLTE after tRNS":            {ci[0], ci[2], ci[1], ci[3], ci[len(ci)-1]},
		"PLTE in RGBA":               with(c, 1, ci[1]),
		"PLTE and tRNS in RGBA":      with(with(c, 1, ci[2]), 1, ci[1]),
		"PLTE in grey":               with(remade(grey, make([]byte, 30*10)), 1, ci[1]),
		"PLTE in grey and alpha":     with(remade(greyAlpha, make([]byte, 30*141)), 1, ci[1]),
		"tRNS in RGBA":               onRGBA.chunks(z),
		"tRNS of one byte":           remade(oneAlpha, make([]byte, 30*10)),
		"tRNS of 257 bytes":          manyAlphas.chunks(zi),
		"tRNS longer than PLTE":      moreAlphas.chunks(zi),
		"PLTE empty":                 noColours.chunks(zi),
		"PLTE longer than samples":   remade(few, make([]byte, 30*10)),
		"PLTE of four bytes":         with(without(ci, 1), 1, pngChunk("PLTE", make([]byte, 4))),
		"colour beyond the palette":  remade(indexed, beyond),
		"chunk too long":             with(c, 1, append(longest, "tEXt"...)),
		"IDAT too long":              with(c, 1, append(longest, "IDAT"...)),
		"chunk cut short":            append(append([][]byte{}, c[:1]...), pngChunk("tEXt", make([]byte, 50))[:20]),
		"PLTE cut short":             {ci[0], ci[1][:10]},
		"tRNS cut short":             {ci[0], ci[1], ci[2][:9]},
		"IDAT cut short":             {c[0], c[1][:100]},
		"length cut short":           {c[0], c[1], c[2][:3]},
	} {
		t.Run(name, func(t *testing.T) {
			sound := strings.HasPrefix(name, "little rubbish") || name == "rubbish in IDAT" || name == "PLTE in RGBA"
			if err := asImagePNG(t, pngFile(chunks...)); (err == nil) != sound {
				t.Errorf("error %v", err)
			}
		})
	}
}

// Rows come before the whole picture does, and what is wrong at its end is told at its end.
func TestPNGRowsArrive(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	m := pngMake{width: 3000, height: 500, depth: 8, colourType: pngRGBA, level: 1, idat: 1 << 16}
	data := m.file(t, rng)
	doc, err := Open(data, Options{})
	if err != nil {
		t.Fatal(err)
	}
	whole := mustPage(t, data)
	pic, err := doc.Page(1, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Close(); err != nil { // which the rows survive
		t.Fatal(err)
	}
	for y := range m.height {
		if err := pic.Await(y + 1); err != nil {
			t.Fatal(err)
		}
		row := pic.Pix.Pix[y*pic.Pix.Stride : (y+1)*pic.Pix.Stride]
		if !bytes.Equal(row, whole.Pix.Pix[y*pic.Pix.Stride:(y+1)*pic.Pix.Stride]) || !reflect.DeepEqual(pic.Drawn.Row(y), whole.Drawn.Row(y)) {
			t.Fatalf("row %d changed after it had arrived", y)
		}
	}
	cut := data[:len(data)-20]
	doc, err = Open(cut, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if pic, err = doc.Page(1, 0); err != nil {
		t.Fatalf("refused before the pixels: %v", err)
	}
	if f := isFault(t, pic.Complete()); !strings.Contains(f.Reason, "in the middle") {
		t.Errorf("fault %q", f.Reason)
	}
}

type brokenConverter struct{ sound }

func (brokenConverter) convert(dst, _ []byte) (any, all bool) {
	if len(dst) > 4 {
		panic("index out of range")
	}
	return true, true
}

func TestPNGPanicIsFault(t *testing.T) {
	m := pngMake{width: 300, height: 200, depth: 8, colourType: pngRGBA, idat: 1 << 16}
	r, err := newPNGReader(m.file(t, rand.New(rand.NewPCG(9, 10))))
	if err != nil {
		t.Fatal(err)
	}
	pic := &raster.Picture{}
	r.stream(pic, brokenConverter{})
	if f := isFault(t, pic.Complete()); !errors.Is(f, errInternal) {
		t.Errorf("fault %v", f)
	}
}

// sealed gives all whole chunks a right checksum.
func sealed(data []byte) []byte {
	data = bytes.Clone(data)
	for at := 8; at+12 <= len(data); {
		n := int(be.Uint32(data[at:]))
		if n > len(data)-at-12 {
			break
		}
		be.PutUint32(data[at+8+n:], crc32.ChecksumIEEE(data[at+4:at+8+n]))
		at += 12 + n
	}
	return data
}

func FuzzPNGAgainstImagePNG(f *testing.F) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, m := range allMakes(rng) {
		m.width, m.height, m.level, m.idat = 1+rng.IntN(90), 1+rng.IntN(8), rng.IntN(12)-2, 1+rng.IntN(300)
		f.Add(m.file(f, rng))
	}
	var small bytes.Buffer
	if err := png.Encode(&small, painted(70, 9, true)); err != nil {
		f.Fatal(err)
	}
	f.Add(small.Bytes())
	for _, data := range seeds(f)["png"] {
		f.Add(data)
	}
	const maxPixels = 1 << 18
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, data := range [][]byte{data, sealed(data)} {
			if _, err := Open(data, Options{MaxPixels: maxPixels}); err == nil {
				_ = asImagePNG(t, data)
			}
		}
	})
}

func deflated(t testing.TB, raw []byte, level int) []byte {
	t.Helper()
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, level)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := z.Write(raw); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
