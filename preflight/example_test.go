package preflight_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log"
	"strings"

	"peelcheck/preflight"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
	"peelcheck/raster/codec"
)

// lanternPNG is a lantern for the example: 30 x 30 mm at 254 pixels an inch, black, with a wire of 0.2 mm.
func lanternPNG() []byte {
	m := image.NewNRGBA(image.Rect(0, 0, 300, 300))
	fill := func(r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.SetNRGBA(x, y, color.NRGBA{0, 0, 0, 255})
			}
		}
	}
	fill(image.Rect(100, 150, 200, 270))
	fill(image.Rect(149, 30, 151, 150))
	var out bytes.Buffer
	if err := png.Encode(&out, m); err != nil {
		log.Fatal(err)
	}
	return out.Bytes()
}

// jobFor is the default job of a process on a black garment.
func jobFor(id string) (preflight.Job, error) {
	p, err := preflight.ProcessByID(id)
	if err != nil {
		return preflight.Job{}, err
	}
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		return preflight.Job{}, err
	}
	sheet, err := preflight.SheetByName(p.DefaultSheet(), p, nil)
	if err != nil {
		return preflight.Job{}, err
	}
	garment, err := preflight.ParseGarment("black")
	return preflight.Job{
		Process: p, Limits: limits, Sheet: sheet, Garment: garment, Fabric: p.DefaultFabric(), Background: preflight.BackgroundAuto,
	}, err
}

func open(data []byte) (*raster.Picture, error) {
	doc, err := codec.Open(data, codec.Options{})
	if err != nil {
		return nil, err
	}
	defer doc.Close()
	return doc.Page(1, 0)
}

// A picture is judged for a job by the rules, and the report says what was found and where.
func ExampleJudge() {
	picture, err := open(lanternPNG())
	if err != nil {
		log.Fatal(err)
	}
	job, err := jobFor("toner-white-for-black")
	if err != nil {
		log.Fatal(err)
	}
	job.Width = 30 * preflight.Millimetre
	rep, _, err := preflight.Judge(preflight.Artwork{File: "lantern.png", Format: "png", Page: 1, PageCount: 1, Picture: picture}, job, rules.All())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(rep.Verdict)
	for _, f := range rep.Findings {
		fmt.Printf("%s %s at %.1f, %.1f mm: %s\n", f.Level, f.Rule, f.BoxMM.X, f.BoxMM.Y, f.Message)
	}
	// Output:
	// review
	// warning hairline at 14.9, 3.0 mm: A line 0.20 mm wide over 11.8 mm.
}

// Rules can be chosen, and findings counted against a level.
func ExampleJudge_rules() {
	picture, err := open(lanternPNG())
	if err != nil {
		log.Fatal(err)
	}
	job, err := jobFor("toner-white-for-black")
	if err != nil {
		log.Fatal(err)
	}
	job.PPI = 254
	var detail []*preflight.Rule
	for _, r := range rules.All() {
		if r.Group == "detail" {
			detail = append(detail, r)
		}
	}
	rep, _, err := preflight.Judge(preflight.Artwork{File: "lantern.png", Format: "png", Page: 1, PageCount: 1, Picture: picture}, job, detail)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(detail), "rules,", rep.Counts.Warning, "warning, an error:", rep.Counts.Reach("error"))
	// Output:
	// 4 rules, 1 warning, an error: false
}

// A report becomes JSON, text or a page; a scene becomes the proof that shows the findings in place.
func Example_outputs() {
	picture, err := open(lanternPNG())
	if err != nil {
		log.Fatal(err)
	}
	job, err := jobFor("toner-underbase")
	if err != nil {
		log.Fatal(err)
	}
	job.PPI = 254
	rep, scene, err := preflight.Judge(preflight.Artwork{File: "lantern.png", Format: "png", Page: 1, PageCount: 1, Picture: picture}, job, rules.All())
	if err != nil {
		log.Fatal(err)
	}
	var text bytes.Buffer
	w := report.NewText(&text, report.TextOptions{Rules: rules.All()})
	if err := w.Add(rep); err != nil {
		log.Fatal(err)
	}
	verdict, _, _ := strings.Cut(text.String(), "\n")
	fmt.Println(verdict)
	page := proof.DrawJudged(scene.Appearance(), &job, rep)
	fmt.Println("The proof is", page.Bounds().Dx(), "pixels wide.")
	planes, err := scene.PrintPlanes()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("The planes cover", planes.Box)
	// Output:
	// HOLD lantern.png: do not print it yet (1 error, 2 warnings)
	// The proof is 1272 pixels wide.
	// The planes cover (100,30)-(200,270)
}

// A shop's own settings are YAML; every fault in them has a line and a column.
func ExampleParseProcesses() {
	shop, err := preflight.ParseProcesses("peelcheck.yaml", []byte("process: film-underbase\nlimits:\n  line: 0.3mm\n"))
	if err != nil {
		log.Fatal(err)
	}
	p, err := shop.DefaultProcess()
	if err != nil {
		log.Fatal(err)
	}
	limits, err := p.ResolveLimits(shop.Limits, shop.File, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: line %.2f mm from %s\n", p.ID, limits["line"].Value, limits["line"].From)
	_, err = preflight.ParseProcesses("peelcheck.yaml", []byte("proces: film-underbase\n"))
	fmt.Println(err)
	// Output:
	// film-underbase: line 0.30 mm from the file peelcheck.yaml
	// peelcheck.yaml:1:1: unknown key "proces"; did you mean "process"?
}
