package lettering_test

import (
	"fmt"
	"hash/fnv"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"peelcheck/raster/lettering"
	"peelcheck/raster/lettering/internal/likeness"
	"peelcheck/raster/lettering/internal/typecase"
)

// kind is what a typeface is like.
type typeface struct{ kind, name, file string }

// heldOut are typefaces that neither the weights nor any constant was made from, by Debian's packages of their names.
var heldOut = []typeface{
	{"sans", "Open Sans", "open-sans/OpenSans-Regular.ttf"},
	{"sans", "Cabin", "cabin/Cabin-Regular.otf"},
	{"sans", "Karla", "karla/Karla-Regular.otf"},
	{"sans", "Play", "play/Play-Regular.otf"},
	{"serif", "EB Garamond", "ebgaramond/EBGaramond12-Regular.otf"},
	{"serif", "Old Standard", "fonts-oldstandard/OldStandard-Regular.ttf"},
	{"serif", "GFS Bodoni Classic", "bodoni-classic/GFSBodoniClassic.otf"},
	{"serif", "Essays 1743", "essays1743/Essays1743.ttf"},
	{"slab", "Roboto Slab", "roboto/slab/RobotoSlab-Regular.otf"},
	{"slab", "Courier Prime", "courier-prime/Courier Prime.otf"},
	{"mono", "Inconsolata", "inconsolata/Inconsolata.otf"},
	{"mono", "JetBrains Mono", "jetbrains-mono/JetBrainsMono-Regular.ttf"},
	{"mono", "Fantasque Sans Mono", "fantasque-sans/NoLoopK/OTF/FantasqueSansMono-Regular.otf"},
	{"condensed", "Bebas Neue", "bebas-neue/BebasNeue-Regular.otf"},
	{"condensed", "Open Sans Condensed", "open-sans/OpenSans-CondBold.ttf"},
	{"bold", "League Spartan Bold", "league-spartan/LeagueSpartan-Bold.otf"},
	{"bold", "Lato Black", "lato/Lato-Black.ttf"},
	{"bold", "Caladea Bold", "crosextra/Caladea-Bold.ttf"},
	{"light", "Manrope ExtraLight", "manrope/Manrope-ExtraLight.ttf"},
	{"light", "Dosis Light", "dosis/Dosis-Light.otf"},
	{"light", "Lato Light", "lato/Lato-Light.ttf"},
	{"italic", "Vollkorn Italic", "vollkorn/Vollkorn-Italic.ttf"},
	{"italic", "EB Garamond Italic", "ebgaramond/EBGaramond12-Italic.otf"},
	{"italic", "Libris ADF Italic", "adf/LibrisADFStd-Italic.otf"},
	{"rounded", "Quicksand", "quicksand/Quicksand-Medium.ttf"},
	{"rounded", "National Park", "national-park/NationalPark-Regular.otf"},
	{"display", "Cherry Bomb", "cherrybomb/CherryBomb-Regular.otf"},
	{"display", "Okolaks", "okolaks/okolaksBold.ttf"},
	{"display", "Le Murmure", "le-murmure/le-murmure.otf"},
	{"casual", "Comic Neue", "comic-neue/ComicNeue-Bold.otf"},
	{"handwriting", "Breip", "breip/Breip.ttf"},
	{"handwriting", "dkg", "fifthhorseman/dkg.ttf"},
	{"handwriting", "Humor Sans", "humor-sans/Humor-Sans.ttf"},
	{"handwriting", "Kristi", "kristi/Kristi.ttf"},
	{"handwriting", "Dancing Script", "dancingscript/DancingScript-Regular.otf"},
	{"handwriting", "Kaushan Script", "kaushanscript/KaushanScript-Regular.otf"},
	{"handwriting", "Lobster", "lobster/lobster.otf"},
	{"handwriting", "Leckerli One", "leckerli-one/LeckerliOne-Regular.ttf"},
}

// tuning are the typefaces that the constants were settled with; the weights were not made from them either.
var tuning = []typeface{
	{"serif", "Accanthis ADF", "adf/AccanthisADFStd-Regular.otf"},
	{"serif", "Baskervald ADF", "adf/BaskervaldADFStd.otf"},
	{"serif", "Berenis ADF", "adf/BerenisADFPro-Regular.otf"},
	{"sans", "Gillius ADF", "adf/GilliusADF-Regular.otf"},
	{"bold", "Gillius ADF Bold", "adf/GilliusADF-Bold.otf"},
	{"condensed", "Gillius ADF Condensed", "adf/GilliusADF-Cond.otf"},
	{"display", "Ikarius ADF", "adf/IkariusADFStd-Regular.otf"},
	{"light", "Irianis ADF", "adf/IrianisADFStd-Regular.otf"},
	{"slab", "Mekanus ADF", "adf/MekanusADFStd-Regular.otf"},
	{"display", "Oldania ADF", "adf/OldaniaADFStd-Regular.otf"},
	{"serif", "Romande ADF", "adf/RomandeADFStd-Regular.otf"},
	{"sans", "Switzera ADF", "adf/SwitzeraADF-Regular.otf"},
	{"bold", "Switzera ADF Bold", "adf/SwitzeraADF-Bold.otf"},
	{"italic", "Tribun ADF", "adf/TribunADFStd-Italic.otf"},
	{"sans", "Universalis ADF", "adf/UniversalisADFStd-Regular.otf"},
	{"italic", "Universalis ADF Italic", "adf/UniversalisADFStd-Italic.otf"},
	{"sans", "Verana ADF", "adf/VeranaSans-Regular.otf"},
	{"mono", "osifont", "osifont/osifont.ttf"},
	{"display", "Staypuft", "staypuft/StayPuft.ttf"},
	{"handwriting", "Rufscript", "rufscript/Rufscript010.ttf"},
	{"handwriting", "Delphine", "sjfonts/Delphine.ttf"},
}

var heldOutWords = strings.Fields(`quay lamp mist river fern gable heron orchard wicket tallow birch ember willow parish
	cobble kettle harvest jetty lark nectar quartz ripple saddle thistle umber velvet wren yarrow zephyr anchor bramble candle drift
	elder flint gorse hazel inkwell juniper kestrel linnet meadow nettle oatcake plover quiver rushes sorrel teasel upland vesper
	walnut yeoman zinnia barley cinder dapple fiddle grebe hollow ivy jasper knoll lichen moorland 1847 2026 3592 4680 75th 16pm
	Open till midnight Bring your own lantern Volunteer Steward Bakers and brewers Tickets at the gate Welcome home`)

var tuningWords = strings.Fields(`moor walk dusk dark gate reed pond marsh night bridge crew warden stage music craft table
	bread honey market field stone cattle rover piper fox badger otter stoat hedge lane village church mill wheel barn garden
	evening morning summer winter autumn spring festival parade supper singer dancer drummer juggler painter printer weaver
	Quillmoor Lantern Walk 1924 2031 5760 83rd 19th Friends of the Library Come early stay late Join us every Friday`)

var palette = []color.NRGBA{
	{0, 0, 0, 255}, {255, 255, 255, 255}, {200, 30, 40, 255}, {250, 200, 0, 255}, {20, 60, 150, 255}, {20, 120, 70, 255},
	{240, 120, 20, 255}, {245, 235, 215, 255}, {120, 40, 130, 255}, {90, 90, 95, 255},
}

// contrast is how far apart two colours are in their most different channel; what is transparent is far from all.
func contrast(a, b color.NRGBA) int {
	if a.A != b.A {
		return 255
	}
	d := func(x, y uint8) int { return max(int(x)-int(y), int(y)-int(x)) }
	return max(d(a.R, b.R), d(a.G, b.G), d(a.B, b.B))
}

func differing(rng *rand.Rand, from ...color.NRGBA) color.NRGBA {
	for {
		c := palette[rng.IntN(len(palette))]
		if !slices.ContainsFunc(from, func(o color.NRGBA) bool { return contrast(c, o) < 90 }) {
			return c
		}
	}
}

// artwork draws lettering of one face at random; it has at least four letters.
func artwork(t testing.TB, face *typecase.Face, words []string, rng *rand.Rand) (*image.NRGBA, *typecase.Artwork) {
	t.Helper()
	a := &typecase.Artwork{
		Face: face, XHeightPx: 12 * math.Exp(rng.Float64()*math.Log(10)), Style: rng.IntN(typecase.StyleCount),
		Tracking: 0.02 + rng.Float64()*0.1, Leading: 1.5 + rng.Float64()*0.4, MarginPx: 20 + rng.IntN(200),
	}
	if rng.IntN(2) == 0 {
		a.Ground = palette[rng.IntN(len(palette))]
	}
	a.Ink = differing(rng, a.Ground)
	a.Second = differing(rng, a.Ground, a.Ink)
	if a.Style == typecase.Outlined || a.Style == typecase.Filled {
		a.LinePx = max(1.5, a.XHeightPx*(0.05+rng.Float64()*0.08))
		a.Tracking += 2.5 * a.LinePx / a.XHeightPx * face.XHeight
	}
	set := func(s string) string { return s }
	switch rng.IntN(3) {
	case 0:
		set = strings.ToUpper
	case 1:
		set = func(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
	}
	for range 1 + rng.IntN(3) {
		line := set(words[rng.IntN(len(words))])
		if rng.IntN(2) == 0 {
			line += " " + set(words[rng.IntN(len(words))])
		}
		a.Lines = append(a.Lines, line)
	}
	for lettersOf(a.Lines) < 4 {
		a.Lines[0] += " " + set(words[rng.IntN(len(words))])
	}
	pix, _, err := a.Draw()
	if err != nil {
		t.Fatal(err)
	}
	return pix, a
}

func lettersOf(lines []string) int { return len(strings.ReplaceAll(strings.Join(lines, ""), " ", "")) }

// score counts how artworks of a group were read.
type score struct{ n, mirroredRight, mirroredWrong, plainRight, plainWrong int }

func (s *score) add(plain, mirrored lettering.Reading) {
	s.n++
	switch plain.Reads() {
	case lettering.Mirrored:
		s.plainWrong++
	case lettering.Normally:
		s.plainRight++
	}
	switch mirrored.Reads() {
	case lettering.Mirrored:
		s.mirroredRight++
	case lettering.Normally:
		s.mirroredWrong++
	}
}

func (s *score) String() string {
	p := func(n int) string { return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(max(1, s.n))) }
	return fmt.Sprintf("%d | %s | %s | %s | %s", s.n, p(s.mirroredRight), p(s.mirroredWrong), p(s.plainRight), p(s.plainWrong))
}

// TestAccuracy reads artworks of typefaces both ways round. LETTERING is how many of each face (12 without it); LETTERING_SET=tuning
// takes the typefaces and words for tuning.
func TestAccuracy(t *testing.T) {
	faces, words, seed := heldOut, heldOutWords, uint64(1)
	if os.Getenv("LETTERING_SET") == "tuning" {
		faces, words, seed = tuning, tuningWords, 2
	}
	each := 12
	if n, err := strconv.Atoi(os.Getenv("LETTERING")); err == nil {
		each = n
	}
	var all, hand score
	by := map[string]*score{}
	count := func(key string, plain, mirrored lettering.Reading) {
		if by[key] == nil {
			by[key] = new(score)
		}
		by[key].add(plain, mirrored)
	}
	var took time.Duration
	reads := 0
	for _, f := range faces {
		face, err := openFace(f.file)
		if err != nil {
			t.Errorf("%s: %v (install Debian's package)", f.name, err)
			continue
		}
		for i := range each {
			h := fnv.New64()
			fmt.Fprint(h, f.name, i)
			rng := rand.New(rand.NewPCG(seed, h.Sum64()))
			pix, a := artwork(t, face, words, rng)
			quarters := rng.IntN(4)
			start := time.Now()
			plain := lettering.Read(typecase.Lay(pix, quarters, false), nil)
			took += time.Since(start)
			reads++
			mirrored := lettering.Read(typecase.Lay(typecase.Lay(pix, quarters, false), 0, true), nil)
			if os.Getenv("LETTERING_SHOW") != "" {
				t.Logf("SHOW\t%s\t%v\tstyle %d\tx %.0f\tturn %d\t%.2f\t%.2f\t%+v", f.name, a.Lines, a.Style, a.XHeightPx, quarters, plain.LogOdds, mirrored.LogOdds, plain)
				if dir := os.Getenv("LETTERING_SAVE"); dir != "" && plain.Reads() != lettering.Normally {
					save(t, filepath.Join(dir, fmt.Sprintf("%s-%d.png", f.name, i)), typecase.Lay(pix, quarters, false))
				}
			}
			if f.kind == "handwriting" {
				hand.add(plain, mirrored)
			} else {
				all.add(plain, mirrored)
				count("style "+[]string{"solid", "outlined", "outlined, filled", "on colour", "reversed out"}[a.Style], plain, mirrored)
				count(fmt.Sprintf("turn %d", 90*quarters), plain, mirrored)
				n := lettersOf(a.Lines)
				count("letters "+[]string{"04 to 05", "06 to 09", "10 or more"}[min(2, max(0, n-2)/4)], plain, mirrored)
				count("x-height "+[]string{"12 to 20", "20 to 40", "40 to 120"}[bin(a.XHeightPx)], plain, mirrored)
			}
			count(f.kind+": "+f.name, plain, mirrored)
		}
	}
	t.Logf("| what | artworks | mirrored, called mirrored | mirrored, called normal | plain, called normal | plain, called mirrored |")
	keys := make([]string, 0, len(by))
	for k := range by {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		t.Logf("| %s | %v |", k, by[k])
	}
	t.Logf("| **all but handwriting** | %v |", &all)
	t.Logf("| **handwriting** | %v |", &hand)
	t.Logf("%.1f ms an artwork", took.Seconds()*1000/float64(max(1, reads)))
}

func bin(x float64) int {
	switch {
	case x < 20:
		return 0
	case x < 40:
		return 1
	}
	return 2
}

// openFace opens a font of Debian's packages.
func openFace(file string) (*typecase.Face, error) {
	for _, kind := range []string{"truetype", "opentype"} {
		for _, under := range []string{kind, kind + "/adf", kind + "/fonts-adf"} {
			if f, err := typecase.Open(filepath.Join("/usr/share/fonts", under, file), likeness.Glyphs); err == nil {
				return f, nil
			} else if !os.IsNotExist(err) {
				return nil, err
			}
		}
	}
	return nil, os.ErrNotExist
}

func save(t *testing.T, name string, m image.Image) {
	t.Helper()
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}

// TestAccuracyDrawings reads the PNG pictures of the folder LETTERING_DRAWINGS, which hold no lettering.
func TestAccuracyDrawings(t *testing.T) {
	dir := os.Getenv("LETTERING_DRAWINGS")
	files, err := filepath.Glob(filepath.Join(dir, "*.png"))
	if err != nil {
		t.Fatal(err)
	}
	count := map[lettering.Direction]int{}
	var took, most time.Duration
	for _, name := range files {
		pix := openPNG(t, name)
		start := time.Now()
		r := lettering.Read(pix, nil)
		d := time.Since(start)
		took, most = took+d, max(most, d)
		count[r.Reads()]++
		if os.Getenv("LETTERING_SHOW") != "" && r.LogOdds != 0 {
			t.Logf("SHOW\t%s\t%.2f\t%+v", filepath.Base(name), r.LogOdds, r)
		}
	}
	t.Logf("%d drawings: %v; %.1f ms each, %v at most", len(files), count, took.Seconds()*1000/float64(max(1, len(files))), most)
}

func openPNG(t testing.TB, name string) *image.NRGBA {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewNRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out
}
