// Package preparing reads artwork files, writes what goes to the printer, and judges what it wrote. Start at Call.
package preparing

import (
	"context"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
	"peelcheck/preflight/prepare"
	"peelcheck/preflight/printfile"
	"peelcheck/preflight/report"
	"peelcheck/raster"
)

// Call is what is asked for: the files, the job, and how the sheets are to be filled.
type Call struct {
	Bench  *judging.Bench
	Job    preflight.Job
	Names  []string // of the files
	As     []string // what each is called in all that is told; nil for its name
	Page   int      // of each document, from 1; 0 for all
	Copies int      // of each design; 0 fills a sheet
	Layout prepare.Options
	Planes bool           // write each plane as a picture too
	Force  bool           // overwrite files of the same name
	To     judging.Target // of what is written; the number of Page is added where the first file has several pages
	OnStep func(string)   // is told what is being done
	// OnSheet is handed each sheet as it was judged, nil if nobody asks.
	OnSheet func(*preflight.Report, *preflight.Scene)
	OnNote  func(error) // is told what stands against writing, but for the last, which is Run's error; and what was done otherwise than asked
}

// Result is what was done.
type Result struct {
	Made    *prepare.Prepared
	Designs []*preflight.Report // of the artwork
	Sheets  []*preflight.Report // of what was written and what is missing from it; of sheets that are alike, the first
	Print   string              // path of the print file, empty until the first file was read
	Written []string            // files, complete

	known []*preflight.Report // of the artwork, and where a background was left out also with it
}

// News are the reports of the sheets cut down to what the artwork does not have; sheets without any are left out.
func (r *Result) News() (list []*preflight.Report) {
	for _, rep := range r.Sheets {
		news := *rep
		if news.Findings = prepare.NewFindings([]*preflight.Report{rep}, r.known); len(news.Findings) > 0 {
			news.Skipped = nil
			news.Count()
			list = append(list, &news)
		}
	}
	return list
}

// run is one call on its way.
type run struct {
	Call
	designs []prepare.Design
	against []error // what stands against writing
	result  Result
}

// Run prepares. Together with an error it says what was written in full before that.
func (c Call) Run(ctx context.Context) (*Result, error) {
	r := &run{Call: c}
	return &r.result, r.run(ctx)
}

func (r *run) run(ctx context.Context) (err error) {
	r.Bench.Protect(r.Names...)
	if err := r.readAll(ctx, r.Names); err != nil {
		return err
	}
	r.Layout.Fill, r.Layout.OnStep = r.Copies == 0, r.OnStep
	if r.result.Made, err = prepare.Make(ctx, r.designs, r.Layout); err != nil {
		return &problem.Problem{Reason: strings.TrimPrefix(err.Error(), "impose: ")}
	}
	if err := r.write(ctx, r.result.Made); err != nil {
		return err
	}
	r.result.Sheets, err = r.judgeWritten(ctx, r.result.Made)
	return err
}

// readAll reads every file and tells all that stands against writing, not only the first. Once something does, the rest is read
// but no longer judged.
func (r *run) readAll(ctx context.Context, names []string) error {
	for i, name := range names {
		as := name
		if r.As != nil {
			as = r.As[i]
		}
		r.OnStep(fmt.Sprintf("reading %d of %d: %s", i+1, len(names), as))
		if err := r.read(ctx, name, as); ctx.Err() != nil {
			return ctx.Err()
		} else if err != nil {
			r.against = append(r.against, err)
		}
	}
	if len(r.against) > 0 {
		last := len(r.against) - 1
		for _, err := range r.against[:last] {
			r.OnNote(err)
		}
		return r.against[last]
	}
	r.tellApart()
	return nil
}

// tellApart names designs by their whole path where the files' names are alike.
func (r *run) tellApart() {
	count := map[string]int{}
	for _, d := range r.designs {
		count[d.Name]++
	}
	for i := range r.designs {
		if d := &r.designs[i]; count[d.Name] > 1 {
			d.Name = report.Title(r.result.Designs[i])
		}
	}
}

// mayWrite refuses to overwrite a file unless that was asked for.
func (r *run) mayWrite(path string) error {
	if _, err := os.Lstat(path); err == nil && !r.Force {
		return problem.New(path, "there is such a file already, and it is not overwritten", "move it away, name another folder with --out, or give --force")
	}
	return nil
}

// read judges every page asked for of one file and keeps it as a design; name is what the file is called.
func (r *run) read(ctx context.Context, path, name string) error {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return aFolder(path)
	}
	file, err := r.Bench.Open(path, &r.Job)
	if err != nil {
		return problem.About(name, err)
	}
	defer file.Close()
	from, until, err := judging.PagesOf(name, file.Pages(), r.Page)
	if err != nil {
		return err
	}
	r.nameFile(file.Pages())
	for n := from; n <= until && ctx.Err() == nil; n++ {
		if err := r.readPage(file, n, path, name); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// nameFile names the print file after the first file that can be read and, as its report is named, after its page.
func (r *run) nameFile(pages int) {
	if r.result.Print != "" {
		return
	}
	if r.Page > 0 {
		r.To = r.To.Page(r.Page, pages)
	}
	r.result.Print = r.To.Print()
	if err := r.mayWrite(r.result.Print); err != nil {
		r.against = append(r.against, err)
	}
}

// aFolder says how to name the artwork in a folder.
func aFolder(name string) error {
	sources, _, _ := artfile.Gather([]string{name}, nil)
	sources = slices.DeleteFunc(sources, func(s artfile.Source) bool { return s.Err != nil })
	if len(sources) == 0 {
		return problem.New(name, "this is a folder without artwork in it, and prepare takes files", "name the files to be printed")
	}
	const most = 3
	var words []string
	for _, s := range sources[:min(most, len(sources))] {
		word := filepath.ToSlash(s.Path)
		if strings.ContainsAny(word, " '()&;") {
			word = strconv.Quote(word)
		}
		words = append(words, word)
	}
	if len(sources) > most {
		words = append(words, "and so on")
	}
	return problem.New(name, "this is a folder, and prepare takes files", "name those to be printed: peelcheck prepare "+strings.Join(words, " "))
}

func (r *run) readPage(file *artfile.File, n int, path, name string) error {
	ppi, err := judging.RenderPPI(file, n, &r.Job)
	if err != nil {
		return problem.About(name, err)
	}
	picture, err := file.Page(n, ppi)
	if err != nil {
		return problem.About(name, err)
	}
	if f := picture.Facts; f != nil && f.Prepared != nil {
		return problem.New(name, "this is a print file that peelcheck prepared, and preparing it again would mirror it or make its white twice", "prepare the artwork that it was made from")
	}
	if len(r.against) > 0 {
		return nil
	}
	rep, scene, err := r.Bench.Judge(file, n, picture, name, &r.Job)
	if err != nil {
		return err
	}
	r.result.Designs = append(r.result.Designs, rep)
	r.result.known = append(r.result.known, rep)
	if rep.Background.LeftOut {
		kept := r.Job
		kept.Background = preflight.BackgroundKeep
		with, _, err := r.Bench.Judge(file, n, picture, name, &kept)
		if err != nil {
			return err
		}
		r.result.known = append(r.result.known, with)
	}
	d := prepare.Design{Name: filepath.Base(report.Title(rep)), Scene: scene, Copies: r.Copies}
	if file.Format() == "pdf" && r.Job.Process.WhiteSource == preflight.WhiteUnderbase {
		d.Page, err = vectorPage(path, n)
		if err != nil {
			r.OnNote(problem.New(name, fmt.Sprintf("page %d cannot be copied as it is (%v), so it is printed as pixels", n, err), "nothing needs to be done"))
		}
	}
	r.designs = append(r.designs, d)
	return nil
}

// vectorPage reads a page to be printed as it is.
func vectorPage(name string, n int) (*printfile.Page, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return printfile.OpenPage(data, n)
}

func (r *run) write(ctx context.Context, made *prepare.Prepared) error {
	if r.Planes {
		if err := r.writePlanes(ctx, made); err != nil {
			return err
		}
	}
	r.OnStep(fmt.Sprintf("writing sheets: %d", len(made.File.Sheets)))
	return r.save(ctx, r.result.Print, func(w io.Writer) error { return printfile.Write(w, made.File) })
}

// save writes a file, whole or not at all.
func (r *run) save(ctx context.Context, path string, fill func(io.Writer) error) error {
	if err := r.Bench.SaveFile(ctx, path, fill); err != nil {
		return err
	}
	r.result.Written = append(r.result.Written, path)
	return nil
}

// writePlanes writes each plane of each design, black where it prints, or none if one may not be written.
func (r *run) writePlanes(ctx context.Context, made *prepare.Prepared) error {
	if err := r.eachPlane(made, func(path string, _ *raster.Plane, _ float64) error { return r.mayWrite(path) }); err != nil {
		return err
	}
	return r.eachPlane(made, func(path string, p *raster.Plane, ppi float64) error {
		return r.save(ctx, path, func(w io.Writer) error { return outfile.EncodePNGAt(w, inkPicture(p), ppi) })
	})
}

// eachPlane calls do with every plane, where it is to be written and its pixels per inch, until an error.
func (r *run) eachPlane(made *prepare.Prepared, do func(path string, p *raster.Plane, ppi float64) error) error {
	for i, planes := range made.Planes {
		for _, name := range preflight.AllPlanes {
			p := planes.Plane(name)
			if p == nil {
				continue
			}
			if err := do(r.To.Plane(i, len(made.Planes), string(name)), p, r.designs[i].Scene.PPI); err != nil {
				return err
			}
		}
	}
	return nil
}

// inkPicture shows ink as black on white.
func inkPicture(p *raster.Plane) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, p.W, p.H))
	p.Read(m.Pix, m.Rect)
	for i, v := range m.Pix {
		m.Pix[i] = 255 - v
	}
	return m
}

// judgeWritten judges the sheets of the written file, of sheets that are alike the first, as a customer's file of the same job would be.
func (r *run) judgeWritten(ctx context.Context, made *prepare.Prepared) ([]*preflight.Report, error) {
	path := r.result.Print
	file, err := r.Bench.Open(path, &r.Job)
	if err != nil {
		return nil, problem.About(path, err)
	}
	defer file.Close()
	job := made.CheckJob(r.Job)
	var out []*preflight.Report
	for n := 1; n <= file.Pages() && ctx.Err() == nil; n++ {
		alike := func(other []printfile.Placement) bool { return slices.Equal(other, made.File.Sheets[n-1]) }
		if slices.ContainsFunc(made.File.Sheets[:n-1], alike) {
			continue
		}
		r.OnStep(fmt.Sprintf("judging sheet %d of %d", n, file.Pages()))
		picture, err := file.Page(n, r.designs[0].Scene.PPI)
		if err != nil {
			return nil, problem.About(path, err)
		}
		rep, scene, err := r.Bench.Judge(file, n, picture, path, &job)
		if err != nil {
			return nil, err
		}
		made.CarryOver(n-1, rep, r.result.Designs)
		if r.OnSheet != nil {
			r.OnSheet(rep, scene)
		}
		out = append(out, rep)
	}
	return out, ctx.Err()
}
