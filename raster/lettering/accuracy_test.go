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

// TestAccuracy reads 20 artworks of each typeface held out, both ways round. LETTERING_SET=families, validation or tuning takes those
// typefaces, LETTERING another number of artworks; NPM is the folder of installed npm packages with those of families.
func TestAccuracy(t *testing.T) {
	t.Parallel()
	faces, words, seed, each := chosen(t)
	by := table{}
	var took time.Duration
	for _, f := range faces {
		face, err := openFace(f.file)
		if err != nil {
			t.Errorf("%s: %v (install its package)", f.name, err)
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
			if plain.Reads() == lettering.Mirrored || !isHeldOut() && plain.Reads() != lettering.Normally {
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
func chosen(t *testing.T) (faces []typeface, words []string, seed uint64, each int) {
	t.Helper()
	switch set := os.Getenv("LETTERING_SET"); set {
	case "":
		faces, words, seed = heldOut, heldOutWords, 3
	case "validation":
		faces, words, seed = validation, heldOutWords, 1
	case "tuning":
		faces, words, seed = tuning, tuningWords, 2
	case "families":
		faces, words, seed = families, heldOutWords, 4
	default:
		t.Fatalf("LETTERING_SET must be families, validation or tuning, not %s", set)
	}
	each = 20
	if n := os.Getenv("LETTERING"); n != "" {
		var err error
		if each, err = strconv.Atoi(n); err != nil || each < 1 {
			t.Fatalf("LETTERING must be a number of artworks, not %s", n)
		}
	}
	return faces, words, seed, each
}

// TestAccuracyAslant reads artworks as TestAccuracy does, of a quarter as many, once on a slope of 3 to 15 degrees and once on an arc of 20 to
// 60 degrees. Neither is what lettering is read for, but at most 1 % of the plain ones may be called mirrored.
func TestAccuracyAslant(t *testing.T) {
	t.Parallel()
	faces, words, seed, each := chosen(t)
	by := table{}
	for _, f := range faces {
		face, err := openFace(f.file)
		if err != nil {
			t.Errorf("%s: %v (install its package)", f.name, err)
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

// leastFound is the least share of mirrored artworks to be called so, in per cent: the goal of 97 less what the number of artworks explains, which
// is 1.645 standard deviations, 0.9 with 900 of them.
const leastFound = 96

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

// openFace opens a font of Debian's packages, or of npm's.
func openFace(file string) (*typecase.Face, error) {
	if strings.HasPrefix(file, "@") {
		return typecase.Open(filepath.Join(os.Getenv("NPM"), file), likeness.Glyphs)
	}
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
	if isHeldOut() {
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

func isHeldOut() bool { return os.Getenv("LETTERING_SET") == "" }
