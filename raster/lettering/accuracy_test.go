package lettering_test

import (
	"fmt"
	"hash/fnv"
	"image"
	"image/color"
	"maps"
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
	"peelcheck/raster/lettering/internal/clipart"
	"peelcheck/raster/lettering/internal/likeness"
	"peelcheck/raster/lettering/internal/typecase"
)

// typeface is a font of a Debian package, whose path begins below the folder of its format. Those that CI installs are read always.
type typeface struct {
	kind, name, file string
	always           bool
}

// heldOut are typefaces of families that neither the weights nor any constant was made from, nor from their kin. Those not of packages of
// their names are of texlive-fonts-extra.
var heldOut = []typeface{
	{"sans", "Source Sans", "adobe/sourcesanspro/SourceSansPro-Regular.otf", false},
	{"sans", "Montserrat", "public/montserrat/Montserrat-Regular.otf", false},
	{"sans", "Libre Franklin", "impallari/librefranklin/LibreFranklin-Medium.otf", false},
	{"sans", "Atkinson Hyperlegible", "public/atkinson/Atkinson-Hyperlegible-Regular-102.otf", false},
	{"sans", "M+ 1", "mplus/Mplus1-Regular.otf", false},
	{"sans", "Caliban", "fonts-georgewilliams/Caliban.ttf", true},
	{"sans", "Dustismo", "dustin/Dustismo.ttf", true},
	{"sans", "Beteckna", "beteckna/BetecknaGS.ttf", true},
	{"serif", "Alegreya", "huerta/alegreya/Alegreya-Regular.otf", false},
	{"serif", "Libre Caslon", "impallari/librecaslon/LibreCaslonText-Regular.otf", false},
	{"serif", "Playfair Display", "public/playfair/PlayfairDisplay-Regular.otf", false},
	{"serif", "Spectral", "production/spectral/Spectral-Medium.ttf", false},
	{"serif", "Yrsa", "fonts-yrsa-rasa/Yrsa-Regular.ttf", true},
	{"serif", "Dustismo Roman", "dustin/Dustismo_Roman.ttf", true},
	{"serif", "Berenika", "klaudia-berenika/Berenika.ttf", true},
	{"slab", "Arvo", "public/arvo/Arvo-Regular.ttf", false},
	{"slab", "Bitter", "huerta/bitter/Bitter-Bold.ttf", false},
	{"slab", "GNU Typewriter", "gnutypewriter/GNUTypewriter.ttf", true},
	{"mono", "Plex Mono", "ibm/plex/IBMPlexMono-Regular.otf", false},
	{"mono", "Source Code", "adobe/sourcecodepro/SourceCodePro-Regular.otf", false},
	{"mono", "GW Monospace", "fonts-georgewilliams/GWMonospaceBold.ttf", true},
	{"mono", "3270", "3270/3270-Regular.ttf", true},
	{"mono", "OCR-A", "ocr-a/OCRA.ttf", true},
	{"condensed", "Yanone Kaffeesatz", "yanone-kaffeesatz/YanoneKaffeesatz-Regular.otf", true},
	{"condensed", "Gemunu Libre", "gemunu-libre/GemunuLibre-SemiBold.otf", true},
	{"condensed", "Cuprum", "public/cuprum/Cuprum-Regular.ttf", false},
	{"condensed", "Smiley Sans Oblique", "smiley-sans/SmileySans-Oblique.ttf", true},
	{"bold", "Raleway Black", "impallari/raleway/Raleway-Black.otf", false},
	{"bold", "Merriweather Black", "sorkin/merriweather/Merriweather-Black.otf", false},
	{"bold", "Overlock Black", "tipo/overlock/Overlock-Black-OTF.otf", false},
	{"bold", "Caslon Bold", "fonts-georgewilliams/CaslonBold.ttf", true},
	{"light", "Josefin Sans Light", "public/josefin/JosefinSans-Light.ttf", false},
	{"light", "Source Sans ExtraLight", "adobe/sourcesanspro/SourceSansPro-ExtraLight.otf", false},
	{"light", "Poiret One", "public/poiretone/PoiretOne-Regular.ttf", false},
	{"italic", "Alegreya Italic", "huerta/alegreya/Alegreya-Italic.otf", false},
	{"italic", "Libre Baskerville Italic", "impallari/librebaskerville/LibreBaskerville-Italic.ttf", false},
	{"italic", "Yrsa Italic", "fonts-yrsa-rasa/Yrsa-Italic.ttf", true},
	{"italic", "Caslon Italic", "fonts-georgewilliams/CaslonItalic.ttf", true},
	{"rounded", "Nunito", "public/nunito/Nunito-SemiBold.otf", false},
	{"rounded", "Jua", "woowa-bm/BMJUA_ttf.ttf", true},
	{"display", "Lemonada Bold", "lemonada/Lemonada-Bold.otf", true},
	{"display", "Do Hyeon", "woowa-bm/BMDOHYEON_ttf.ttf", true},
	{"display", "Hanna", "woowa-bm/BMHANNAPro.ttf", true},
	{"display", "Train One", "train/TrainOne-Regular.ttf", true},
	{"display", "F500", "f500/f500.ttf", true},
	{"display", "Engadget", "engadget/Engadget.ttf", true},
	{"display", "Ubuntu Title", "ubuntu-title/Ubuntu-Title.ttf", true},
	{"display", "Cupola", "fonts-georgewilliams/Cupola.ttf", true},
	{"display", "Junkyard", "dustin/Junkyard.ttf", true},
	{"display", "Alfa Slab One", "public/alfaslabone/AlphaSlabOne-Regular.otf", false},
	{"display", "Cyklop", "public/cyklop/cyklop-regular.otf", false},
	{"display", "Almendra Bold", "public/almendra/Almendra-Bold.ttf", false},
	{"display", "Cinzel Decorative", "ndiscovered/cinzel/CinzelDecorative-Bold.ttf", false},
	{"display", "Baloo 2 ExtraBold", "public/ektype-tanka/Baloo2-ExtraBold.ttf", false},
	{"handwriting", "Domestic Manners", "dustin/Domestic_Manners.ttf", true},
	{"handwriting", "Penguin Attack", "dustin/PenguinAttack.ttf", true},
	{"handwriting", "El Abogado Loco", "dustin/El_Abogado_Loco.ttf", true},
	{"handwriting", "Summersby", "summersby/summersby.ttf", true},
	{"handwriting", "Yeon Sung", "woowa-bm/BMYEONSUNG_ttf.ttf", true},
	{"handwriting", "Kirang Haerang", "woowa-bm/BMKIRANGHAERANG-TTF.ttf", true},
	{"handwriting", "Eunjin", "alee/Eunjin.ttf", true},
	{"handwriting", "Écolier", "ecolier-court/Ecolier-court.ttf", true},
	{"handwriting", "Miama", "public/miama/miama.otf", false},
}

// tuning are the typefaces that the constants were settled with; the weights were not made from them either.
var tuning = []typeface{
	{"serif", "Accanthis ADF", "adf/AccanthisADFStd-Regular.otf", false},
	{"serif", "Berenis ADF", "adf/BerenisADFPro-Regular.otf", false},
	{"sans", "Gillius ADF", "adf/GilliusADF-Regular.otf", false},
	{"bold", "Gillius ADF Bold", "adf/GilliusADF-Bold.otf", false},
	{"condensed", "Gillius ADF Condensed", "adf/GilliusADF-Cond.otf", false},
	{"display", "Ikarius ADF", "adf/IkariusADFStd-Regular.otf", false},
	{"slab", "Mekanus ADF", "adf/MekanusADFStd-Regular.otf", false},
	{"serif", "Romande ADF", "adf/RomandeADFStd-Regular.otf", false},
	{"sans", "Switzera ADF", "adf/SwitzeraADF-Regular.otf", false},
	{"bold", "Switzera ADF Bold", "adf/SwitzeraADF-Bold.otf", false},
	{"italic", "Tribun ADF", "adf/TribunADFStd-Italic.otf", false},
	{"sans", "Universalis ADF", "adf/UniversalisADFStd-Regular.otf", false},
	{"italic", "Universalis ADF Italic", "adf/UniversalisADFStd-Italic.otf", false},
	{"sans", "Verana ADF", "adf/VeranaSans-Regular.otf", false},
	{"mono", "osifont", "osifont/osifont.ttf", false},
	{"display", "Staypuft", "staypuft/StayPuft.ttf", false},
	{"bold", "QT Ancient Olive Bold", "public/qualitype/QTAncientOlive-Bold.otf", false},
	{"display", "QT Blimpo", "public/qualitype/QTBlimpo.otf", false},
	{"bold", "QT Bodini Poster", "public/qualitype/QTBodiniPoster.otf", false},
	{"display", "QT Boulevard", "public/qualitype/QTBoulevard.otf", false},
	{"casual", "QT Casual", "public/qualitype/QTCasual.otf", false},
	{"display", "QT Chicagoland", "public/qualitype/QTChicagoland.otf", false},
	{"bold", "QT Doghaus Heavy", "public/qualitype/QTDoghausHeavy.otf", false},
	{"bold", "QT Eurotype Bold", "public/qualitype/QTEurotype-Bold.otf", false},
	{"display", "QT Floraline", "public/qualitype/QTFloraline.otf", false},
	{"serif", "QT Friz Quad", "public/qualitype/QTFrizQuad.otf", false},
	{"bold", "QT Future Poster", "public/qualitype/QTFuturePoster.otf", false},
	{"light", "QT Graph Lite", "public/qualitype/QTGraphLite.otf", false},
	{"condensed", "QT Helvet Condensed Black", "public/qualitype/QTHelvetCnd-Black.otf", false},
	{"display", "QT Hoboken", "public/qualitype/QTHoboken.otf", false},
	{"bold", "QT Kooper", "public/qualitype/QTKooper.otf", false},
	{"italic", "QT Korrin Italic", "public/qualitype/QTKorrin-Italic.otf", false},
	{"display", "QT Lautrec", "public/qualitype/QTLautrecType.otf", false},
	{"casual", "QT Magic Marker", "public/qualitype/QTMagicMarker.otf", false},
	{"display", "QT OK Corral", "public/qualitype/QTOKCorral.otf", false},
	{"italic", "QT Optimum Italic", "public/qualitype/QTOptimum-Italic.otf", false},
	{"display", "QT Peignoir", "public/qualitype/QTPeignoir.otf", false},
	{"slab", "QT Pristine", "public/qualitype/QTPristine.otf", false},
	{"display", "QT San Diego", "public/qualitype/QTSanDiego.otf", false},
	{"sans", "QT Techtone", "public/qualitype/QTTechtone.otf", false},
	{"rounded", "QT Vaga Round", "public/qualitype/QTVagaRound.otf", false},
	{"display", "QT West End", "public/qualitype/QTWestEnd.otf", false},
	{"display", "QT USA Uncial", "public/qualitype/QTUSA-Uncial.otf", false},
	{"light", "Iwona Light", "nowacki/iwona/IwonaLight-Regular.otf", false},
	{"condensed", "Antykwa Toruńska Condensed", "public/antt/AntykwaTorunskaCond-Regular.otf", false},
	{"light", "Fetamont Light", "public/fetamont/ffml10.otf", false},
	{"display", "Modak", "public/ektype-tanka/Modak.ttf", false},
	{"display", "Punk Nova", "public/punknova/punknova-bold.otf", false},
	{"display", "Forum", "public/forum/Forum-Regular.otf", false},
	{"sans", "Hind Madurai", "public/hindmadurai/HindMadurai-Regular.otf", false},
	{"light", "Cormorant Garamond Light", "catharsis/cormorantgaramond/CormorantGaramond-Light.ttf", false},
	{"bold", "Eczar ExtraBold", "public/eczar/Eczar-ExtraBold.otf", false},
	{"italic", "Cormorant Garamond Italic", "catharsis/cormorantgaramond/CormorantGaramond-Italic.ttf", false},
	{"handwriting", "QT Artiston", "public/qualitype/QTArtiston.otf", false},
	{"handwriting", "QT Handwriting", "public/qualitype/QTHandwriting.otf", false},
	{"handwriting", "QT Impromptu", "public/qualitype/QTImpromptu.otf", false},
	{"handwriting", "Rufscript", "rufscript/Rufscript010.ttf", false},
	{"handwriting", "Delphine", "sjfonts/Delphine.ttf", false},
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

// artwork draws lettering of one face at random.
func artwork(t testing.TB, face *typecase.Face, words []string, rng *rand.Rand) (*image.NRGBA, *typecase.Artwork) {
	t.Helper()
	a := randomArtwork(face, words, rng)
	pix, _, err := a.Draw()
	if err != nil {
		t.Fatal(err)
	}
	return pix, a
}

// randomArtwork is lettering of one face with at least four letters.
func randomArtwork(face *typecase.Face, words []string, rng *rand.Rand) *typecase.Artwork {
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
	return a
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

// table is how artworks of groups were read, by the group's name.
type table map[string]*score

func (t table) add(group string, plain, mirrored lettering.Reading) {
	if t[group] == nil {
		t[group] = new(score)
	}
	t[group].add(plain, mirrored)
}

// TestAccuracy reads artworks of typefaces both ways round. LETTERING is how many of each face, of all faces; without it 20 of those that
// CI installs are read. LETTERING_SET=tuning takes the typefaces and words for tuning.
func TestAccuracy(t *testing.T) {
	faces, words, seed, each := chosen()
	by := table{}
	var took time.Duration
	for _, f := range faces {
		face, err := openFace(f.file)
		if err != nil {
			t.Errorf("%s: %v (install its Debian package)", f.name, err)
			continue
		}
		for i := range each {
			h := fnv.New64()
			fmt.Fprint(h, f.name, i)
			rng := rand.New(rand.NewPCG(seed, h.Sum64()))
			pix, a := artwork(t, face, words, rng)
			quarters := rng.IntN(4)
			pix = typecase.Lay(pix, quarters, false)
			start := time.Now()
			plain := lettering.Read(pix, nil)
			took += time.Since(start)
			mirrored := lettering.Read(typecase.Lay(pix, 0, true), nil)
			by.add(f.kind+": "+f.name, plain, mirrored)
			if plain.Reads() == lettering.Mirrored || isTuning() && plain.Reads() != lettering.Normally {
				t.Logf("%s, %q, style %d, x %.0f px, turn %d: %+v", f.name, a.Lines, a.Style, a.XHeightPx, quarters, plain)
			}
			if f.kind == "handwriting" {
				by.add("~handwriting", plain, mirrored)
				continue
			}
			by.add("~all but handwriting", plain, mirrored)
			by.add("by style: "+[]string{"solid", "outlined", "outlined, bodies of a colour", "on colour", "reversed out"}[a.Style], plain, mirrored)
			by.add(fmt.Sprintf("by turn: %d degrees", 90*quarters), plain, mirrored)
			by.add("by letters: "+[]string{"4 and 5", "6 to 9", "more"}[min(2, (lettersOf(a.Lines)-2)/4)], plain, mirrored)
			by.add("by x-height: "+[]string{"12 to 20 px", "20 to 40 px", "40 to 120 px"}[bin(a.XHeightPx)], plain, mirrored)
			by.add("by certainty: "+certainty(plain), plain, mirrored)
		}
	}
	t.Log("| what | artworks | mirrored: called so | mirrored: called normal | plain: called so | plain: called mirrored |")
	for _, k := range slices.Sorted(maps.Keys(by)) {
		t.Logf("| %s | %v |", strings.TrimPrefix(k, "~"), by[k])
	}
	t.Logf("%.1f ms an artwork", took.Seconds()*1000/float64(max(1, each*len(faces))))
	all := by["~all but handwriting"]
	if all == nil || all.mirroredRight*100 < all.n*leastFound || all.plainWrong*200 > all.n {
		t.Errorf("fewer than %d %% of the mirrored artworks were called so, or more than 0.5 %% of the plain ones mirrored: %+v", leastFound, all)
	}
}

// chosen returns the typefaces, words, seed and artworks a typeface that the environment asks for.
func chosen() (faces []typeface, words []string, seed uint64, each int) {
	faces, words, seed = heldOut, heldOutWords, 1
	if isTuning() {
		faces, words, seed = tuning, tuningWords, 2
	}
	each, err := strconv.Atoi(os.Getenv("LETTERING"))
	if err != nil {
		each = 20
		faces = slices.DeleteFunc(slices.Clone(faces), func(f typeface) bool { return !f.always })
	}
	return faces, words, seed, each
}

// TestAccuracyAslant reads artworks as TestAccuracy does, of a quarter as many, once on a slope of 3 to 15 degrees and once on an arc of 20 to
// 60 degrees. Neither is what lettering is read for, but at most 1 % of the plain ones may be called mirrored.
func TestAccuracyAslant(t *testing.T) {
	faces, words, seed, each := chosen()
	by := table{}
	for _, f := range faces {
		face, err := openFace(f.file)
		if err != nil {
			t.Errorf("%s: %v (install its Debian package)", f.name, err)
			continue
		}
		group := "all but handwriting"
		if f.kind == "handwriting" {
			group = f.kind
		}
		for i := range max(1, each/4) {
			h := fnv.New64()
			fmt.Fprint(h, "aslant", f.name, i)
			rng := rand.New(rand.NewPCG(seed, h.Sum64()))
			a := randomArtwork(face, words, rng)
			a.Slope = (3 + 12*rng.Float64()) * math.Pi / 180
			if rng.IntN(2) == 0 {
				a.Slope = -a.Slope
			}
			read := func(what string, pix *image.NRGBA) {
				pix = typecase.Lay(pix, rng.IntN(4), false)
				plain, mirrored := lettering.Read(pix, nil), lettering.Read(typecase.Lay(pix, 0, true), nil)
				by.add(what+", "+group, plain, mirrored)
				if plain.Reads() == lettering.Mirrored {
					t.Logf("%s, %s, %q, style %d, x %.0f px: %+v", what, f.name, a.Lines, a.Style, a.XHeightPx, plain)
				}
			}
			for _, what := range []string{"on a slope", "on an arc"} {
				pix, _, err := a.Draw()
				if err != nil {
					t.Fatal(err)
				}
				if what == "on an arc" {
					pix = onArc(pix, (20+40*rng.Float64())*math.Pi/180)
				}
				read(what, pix)
				a.Slope = 0
			}
		}
	}
	wrong, n := 0, 0
	for _, k := range slices.Sorted(maps.Keys(by)) {
		t.Logf("| %s | %v |", k, by[k])
		if !strings.HasSuffix(k, "handwriting") || strings.HasSuffix(k, "all but handwriting") {
			wrong, n = wrong+by[k].plainWrong, n+by[k].n
		}
	}
	if n == 0 || wrong*100 > n {
		t.Errorf("%d of %d plain artworks called mirrored: more than 1 %%", wrong, n)
	}
}

// onArc bends a picture upwards so that its middle row spans an angle. Pixels are taken from the nearest place.
func onArc(pix *image.NRGBA, span float64) *image.NRGBA {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	radius := float64(w) / span
	outer := radius + float64(h)/2
	half := int(outer*math.Sin(min(span, math.Pi)/2)) + 1
	inner := radius - float64(h)/2
	low := outer - min(inner*math.Cos(span/2), inner)
	out := image.NewNRGBA(image.Rect(0, 0, 2*half, int(low)+1))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			dx, dy := float64(x-half)+0.5, outer-float64(y)-0.5
			from := image.Pt(int(math.Floor(float64(w)/2+math.Atan2(dx, dy)*radius)), int(math.Floor(outer-math.Hypot(dx, dy))))
			from.X, from.Y = min(w-1, max(0, from.X)), min(h-1, max(0, from.Y)) // the ground goes on
			copy(out.Pix[out.PixOffset(x, y):][:4], pix.Pix[pix.PixOffset(from.X, from.Y):][:4])
		}
	}
	return out
}

// leastFound is the least share of mirrored artworks to be called so, in per cent. The few typefaces of a run without LETTERING hold the
// hardest ones (docs/accuracy.md).
const leastFound = 94

// certainty is how much evidence there was.
func certainty(r lettering.Reading) string {
	switch e := math.Abs(r.LogOdds); {
	case r.Reads() == lettering.Unknown:
		return "unknown"
	case e < 5:
		return "under 0.993"
	}
	return "at least 0.993"
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
		for _, under := range []string{"fonts/" + kind, "fonts/" + kind + "/adf", "fonts/" + kind + "/fonts-adf", "texlive/texmf-dist/fonts/" + kind} {
			if f, err := typecase.Open(filepath.Join("/usr/share", under, file), likeness.Glyphs); err == nil {
				return f, nil
			} else if !os.IsNotExist(err) {
				return nil, err
			}
		}
	}
	return nil, os.ErrNotExist
}

// plainSymbols are the first words of the names of symbols that are pictures: no letters, digits or marks of a trade.
var plainSymbols = strings.Fields(`account airballoon airplane alarm anchor arrow baby barley basket battery beach bell bike binoculars bone bookmark
	bowling briefcase broom brush bug bus cake camcorder camera candycane cannabis car carrot cart castle cat chair chart check chevron church city
	cloud coffee cookie cow crown cube cup cursor diamond door drag drawing dumbbell earth eject elevator emoticon engine eye eyedropper factory fan
	feather ferry filmstrip fingerprint fire fish flag flash flashlight flower folder food football fridge gas gauge gavel ghost gift glass guitar
	hanger headphones headset heart home hops key label lamp laptop lead leaf lightbulb lock magnet magnify map medal microphone microscope monitor
	moon mouse music nature needle nfc oar oil owl palette panda paw pen pencil pig pill pine pizza play puzzle radar radio ray road robot rocket
	rotate run sailing satellite scale seat seal shield ship shopping shovel silverware skull sleep snowflake snowman sofa spray stairs star steering
	stethoscope store stove subway sword tab table tag target temperature tent timer tooth traffic train tree trophy truck tshirt umbrella vector
	video violin volume walk wallet water weather white wifi wrench`)

// TestAccuracySymbols reads the symbols of a font of Debian's package fonts-materialdesignicons-webfont, alone and five in a row, which is as like
// a word as symbols come.
func TestAccuracySymbols(t *testing.T) {
	face, all, err := typecase.OpenSymbols("/usr/share/fonts/truetype/materialdesignicons-webfont/materialdesignicons-webfont.ttf")
	if err != nil {
		t.Fatalf("%v (install Debian's package)", err)
	}
	var symbols []rune
	for _, s := range all {
		first, _, _ := strings.Cut(s.Name, "-")
		if slices.Contains(plainSymbols, first) {
			symbols = append(symbols, s.Rune)
		}
	}
	read := func(text string) lettering.Direction {
		a := typecase.Artwork{Face: face, Lines: []string{text}, XHeightPx: 40, Tracking: 0.1, MarginPx: 20, Ink: palette[0]}
		pix, _, err := a.Draw()
		if err != nil {
			t.Fatal(err)
		}
		r := lettering.Read(pix, nil)
		if r.Reads() == lettering.Mirrored {
			t.Logf("%x: %+v", []rune(text), r)
		}
		return r.Reads()
	}
	alone, rows := map[lettering.Direction]int{}, map[lettering.Direction]int{}
	for i, s := range symbols {
		alone[read(string(s))]++
		if i+5 <= len(symbols) {
			rows[read(string(symbols[i:i+5]))]++
		}
	}
	t.Logf("%d symbols alone: %v; five in a row: %v", len(symbols), alone, rows)
	if n := len(symbols); n < 500 || alone[lettering.Mirrored]*200 > n || rows[lettering.Mirrored]*200 > n {
		t.Errorf("%d symbols, %d of them alone and %d rows called mirrored: more than 0.5 %%", n, alone[lettering.Mirrored], rows[lettering.Mirrored])
	}
}

// BenchmarkDrawings reads the drawings held out of an unpacked npm package openmoji, whose folder OPENMOJI names; LETTERING_SET=tuning takes
// those for tuning. It fails if more than 0.5 % are called mirrored.
func BenchmarkDrawings(b *testing.B) {
	list, heldOut, err := clipart.List(os.Getenv("OPENMOJI"))
	if err != nil {
		b.Fatalf("OPENMOJI must name the folder of the package openmoji: %v", err)
	}
	if !isTuning() {
		list = heldOut
	}
	count := map[lettering.Direction]int{}
	var took, most time.Duration
	for b.Loop() {
		clear(count)
		for _, name := range list {
			pix, err := clipart.Draw(name, 618)
			if err != nil {
				b.Fatal(err)
			}
			start := time.Now()
			r := lettering.Read(pix, nil)
			d := time.Since(start)
			took, most = took+d, max(most, d)
			count[r.Reads()]++
			if r.Reads() != lettering.Unknown {
				b.Logf("%s: %s, %+v", filepath.Base(name), r.Reads(), r)
			}
		}
	}
	n := float64(len(list))
	b.ReportMetric(n, "drawings")
	b.ReportMetric(float64(count[lettering.Mirrored]), "mirrored")
	b.ReportMetric(float64(count[lettering.Normally]), "normally")
	b.ReportMetric(1000*took.Seconds()/n/float64(b.N), "ms-each")
	b.ReportMetric(1000*most.Seconds(), "ms-at-most")
	if len(list) == 0 || float64(count[lettering.Mirrored]) > n/200 {
		b.Errorf("%d of %d drawings called mirrored: more than 0.5 %%", count[lettering.Mirrored], len(list))
	}
}

func isTuning() bool { return os.Getenv("LETTERING_SET") == "tuning" }
