package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/preflight"
	"peelcheck/preflight/impose"
	"peelcheck/preflight/prepare"
	"peelcheck/preflight/printfile"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

type prepareFlags struct {
	jobFlags
	out, failOn, turn       string
	copies                  copiesFlag
	spacing                 lengthFlag
	dropBackground, thicken bool
	knockOut, planes, force bool
}

func newPrepare(say *speaker) *cobra.Command {
	f := prepareFlags{copies: 1}
	cmd := &cobra.Command{
		Use:   "prepare FILE...",
		Short: "Writes what goes to the printer: white made, mirrored once, placed on the sheet",
		Long: `Writes a PDF for the printer, at exact size, to be printed at 100 %: white made as the process wants it, mirrored
exactly once, and placed on the sheet with room to trim. Several files share sheets.

For lantern.png it writes lantern.print.pdf beside it, or into the folder of --out; several files go into one PDF that is named
after the first. With --planes each plane is written as a picture too, black where it prints. Then it judges what it wrote, as
"peelcheck check" would, and says what is new. Artwork is never changed, and no file is overwritten without --force.

Exit codes: 0 nothing at or above --fail-on was found; 1 something was; 2 nothing could be written, or the call
was wrong.`,
		Example: `  peelcheck prepare lantern.png --width 240
  peelcheck prepare badge.pdf --copies fill --thicken
  peelcheck prepare moth.png reed.png hill.png --copies 2 --sheet a3`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem{reason: "no file named", remedy: "write: " + cmd.UseLine()}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			r := &prepareRun{prepareFlags: &f, say: say}
			err := r.run(cmd.Context(), args)
			say.status("")
			if err != nil && cmd.Context().Err() != nil {
				return r.stopped()
			}
			return err
		},
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	fs.Var(&f.copies, "copies", "copies of each design, `N`, or fill for as many as one sheet takes")
	fs.Var(&f.spacing, "spacing", "room between designs, `L` (default: twice the trim clearance)")
	fs.StringVar(&f.turn, "turn", "each", "which designs may be turned by 90 degrees: `HOW` is each copy, alike (all copies of a design) or none")
	fs.BoolVar(&f.dropBackground, "drop-background", false, "take out a flat background that fills the border; the same as --background drop")
	fs.BoolVar(&f.thicken, "thicken", false, "grow strokes that are too thin, and open gaps that are too narrow, to the limits")
	fs.BoolVar(&f.knockOut, "knock-out", false, "leave areas of nearly the garment's colour unprinted")
	fs.BoolVar(&f.planes, "planes", false, "write each plane as a picture too")
	fs.StringVar(&f.out, "out", "", "folder `DIR` for what is written, made if missing (default: beside the artwork)")
	fs.BoolVar(&f.force, "force", false, "overwrite files of the same name")
	fs.StringVar(&f.failOn, "fail-on", "", "`LEVEL` that makes the exit code 1: error, warning, note or never (default error)")
	f.add(fs)
	return cmd
}

// copiesFlag is a number of copies; 0 stands for a full sheet.
type copiesFlag int

func (c *copiesFlag) String() string { return "1" }
func (c *copiesFlag) Type() string   { return "N|fill" }
func (c *copiesFlag) Set(s string) error {
	n, err := strconv.Atoi(s)
	switch {
	case s == "fill":
		n = 0
	case err != nil || n < 1:
		return fmt.Errorf("%q is neither a number of copies from 1 nor fill", s)
	}
	*c = copiesFlag(n)
	return nil
}

var turnings = map[string]impose.Turning{"each": impose.TurnEach, "alike": impose.TurnAlike, "none": impose.TurnNone}

// prepareRun is one call of prepare on its way.
type prepareRun struct {
	*prepareFlags
	say     *speaker
	bench   *bench
	stem    target
	designs []prepare.Design
	reports []*preflight.Report
	written []string
	against []error // what stands against writing
}

func (r *prepareRun) run(ctx context.Context, names []string) error {
	if err := r.begin(names); err != nil {
		return err
	}
	if err := r.readAll(ctx, names); err != nil {
		return err
	}
	made, err := prepare.Make(ctx, r.designs, prepare.Options{
		Fill: r.copies == 0, Turn: turnings[r.turn], SpacingMM: r.spacingMM(), Thicken: r.thicken, KnockOut: r.knockOut, OnStep: r.say.status,
	})
	if err != nil {
		return &problem{reason: strings.TrimPrefix(err.Error(), "impose: ")}
	}
	if err := r.write(ctx, made); err != nil {
		return err
	}
	sheets, err := r.judgeWritten(ctx, made)
	if err != nil {
		return err
	}
	return r.tell(made, sheets)
}

// stopped says what an interrupt has left: whole files or none.
func (r *prepareRun) stopped() error {
	if len(r.written) == 0 {
		return &problem{reason: "stopped; nothing was written"}
	}
	return &problem{reason: "stopped; written in full before that: " + strings.Join(r.written, ", ")}
}

// readAll reads every file and tells all that stands against writing, not only the first. Once something does, the rest is read
// but no longer judged.
func (r *prepareRun) readAll(ctx context.Context, names []string) error {
	if err := r.mayWrite(r.stem.print()); err != nil {
		r.against = append(r.against, err)
	}
	for i, name := range names {
		r.say.status(fmt.Sprintf("reading %d of %d: %s", i+1, len(names), name))
		if err := r.read(ctx, name); ctx.Err() != nil {
			return ctx.Err()
		} else if err != nil {
			r.against = append(r.against, err)
		}
	}
	if len(r.against) > 0 {
		last := len(r.against) - 1
		for _, err := range r.against[:last] {
			r.say.problem(err)
		}
		return r.against[last]
	}
	r.tellApart()
	return nil
}

// tellApart names designs by their whole path where the files' names are alike.
func (r *prepareRun) tellApart() {
	count := map[string]int{}
	for _, d := range r.designs {
		count[d.Name]++
	}
	for i := range r.designs {
		if d := &r.designs[i]; count[d.Name] > 1 {
			d.Name = report.Title(r.reports[i])
		}
	}
}

// begin checks the whole call before any artwork is read.
func (r *prepareRun) begin(names []string) error {
	if r.dropBackground {
		if r.background != "" && r.background != preflight.BackgroundDrop {
			return fmt.Errorf("--drop-background and --background %s contradict each other: give one of them", r.background)
		}
		r.background = preflight.BackgroundDrop
	}
	shop, err := r.settings()
	if err != nil {
		return err
	}
	job, err := r.job(shop)
	if err != nil {
		return err
	}
	if r.failOn, err = oneOf("fail-on", first(r.failOn, shop.FailOn, "error"), preflight.FailOnWords...); err != nil {
		return err
	}
	if _, err := oneOf("turn", r.turn, "each", "alike", "none"); err != nil {
		return err
	}
	r.bench = newBench(job, &r.jobFlags, r.say)
	r.stem = targets([]artfile.Source{{Path: names[0]}}, r.out)[0]
	for _, name := range names {
		if info, err := os.Stat(name); err == nil {
			r.bench.inputs = append(r.bench.inputs, info)
		}
	}
	if r.out == "" {
		return nil
	}
	return makeOut(r.out)
}

// mayWrite refuses to overwrite a file unless that was asked for.
func (r *prepareRun) mayWrite(path string) error {
	if _, err := os.Lstat(path); err == nil && !r.force {
		return &problem{path, "there is such a file already, and it is not overwritten", "move it away, name another folder with --out, or give --force"}
	}
	return nil
}

func (r *prepareRun) spacingMM() float64 {
	if r.spacing > 0 {
		return preflight.Length(r.spacing).MM()
	}
	return 2 * r.bench.job.Limits["clearance"].Value
}

// read judges every page asked for of one file and keeps it as a design.
func (r *prepareRun) read(ctx context.Context, name string) error {
	if info, err := os.Stat(name); err == nil && info.IsDir() {
		return aFolder(name)
	}
	file, err := artfile.Open(name, r.bench.open)
	if err != nil {
		return about(name, err)
	}
	defer file.Close()
	from, until := 1, file.Pages()
	if r.page > 0 {
		from, until = int(r.page), int(r.page)
	}
	if from > file.Pages() {
		return &problem{name, fmt.Sprintf("there is no page %d, the document has %d", from, file.Pages()), "ask for another with --page"}
	}
	for n := from; n <= until && ctx.Err() == nil; n++ {
		if err := r.readPage(file, n, name); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// aFolder says how to name the artwork in a folder.
func aFolder(name string) error {
	sources, _ := artfile.Gather([]string{name})
	sources = slices.DeleteFunc(sources, func(s artfile.Source) bool { return s.Err != nil })
	if len(sources) == 0 {
		return &problem{name, "this is a folder without artwork in it, and prepare takes files", "name the files to be printed"}
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
	return &problem{name, "this is a folder, and prepare takes files", "name those to be printed: peelcheck prepare " + strings.Join(words, " ")}
}

func (r *prepareRun) readPage(file *artfile.File, n int, name string) error {
	job := r.bench.job
	ppi, err := file.RenderPPI(n, job.PPI, job.Width.MM(), job.Height.MM())
	if err != nil {
		return about(name, err)
	}
	picture, err := file.Page(n, ppi)
	if err != nil {
		return about(name, err)
	}
	if len(r.against) > 0 {
		return nil
	}
	rep, scene, err := preflight.Judge(preflight.Artwork{
		File: filepath.ToSlash(name), SHA256: file.SHA256, Format: file.Format(), Page: n, PageCount: file.Pages(), Picture: picture,
	}, job, rules.All())
	if err != nil {
		return about(name, err)
	}
	r.reports = append(r.reports, rep)
	d := prepare.Design{Name: filepath.Base(report.Title(rep)), Scene: scene, Copies: int(r.copies)}
	if file.Format() == "pdf" && job.Process.WhiteSource == preflight.WhiteUnderbase {
		d.Page, err = vectorPage(name, n)
		if err != nil {
			r.say.problem(&problem{name, fmt.Sprintf("page %d cannot be copied as it is (%v), so it is printed as pixels", n, err), "nothing needs to be done"})
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

func (r *prepareRun) write(ctx context.Context, made *prepare.Prepared) error {
	r.bench.saving.RLock()
	defer r.bench.saving.RUnlock()
	if r.planes {
		if err := r.writePlanes(ctx, made); err != nil {
			return err
		}
	}
	r.say.status(fmt.Sprintf("writing sheets: %d", len(made.File.Sheets)))
	return r.save(ctx, r.stem.print(), func(w io.Writer) error { return printfile.Write(w, made.File) })
}

// save writes a file, whole or not at all.
func (r *prepareRun) save(ctx context.Context, path string, fill func(io.Writer) error) error {
	if err := r.bench.saveFile(ctx, path, fill); err != nil {
		return err
	}
	r.written = append(r.written, path)
	return nil
}

// writePlanes writes each plane of each design, black where it prints, or none if one may not be written.
func (r *prepareRun) writePlanes(ctx context.Context, made *prepare.Prepared) error {
	if err := r.eachPlane(made, func(path string, _ *raster.Plane, _ float64) error { return r.mayWrite(path) }); err != nil {
		return err
	}
	return r.eachPlane(made, func(path string, p *raster.Plane, ppi float64) error {
		return r.save(ctx, path, func(w io.Writer) error { return outfile.EncodePNGAt(w, inkPicture(p), ppi) })
	})
}

// eachPlane calls do with every plane, where it is to be written and its pixels per inch, until an error.
func (r *prepareRun) eachPlane(made *prepare.Prepared, do func(path string, p *raster.Plane, ppi float64) error) error {
	for i, planes := range made.Planes {
		for _, name := range preflight.AllPlanes {
			p := planes.Plane(name)
			if p == nil {
				continue
			}
			if err := do(r.stem.plane(i, len(made.Planes), string(name)), p, r.designs[i].Scene.PPI); err != nil {
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
func (r *prepareRun) judgeWritten(ctx context.Context, made *prepare.Prepared) ([]*preflight.Report, error) {
	path := r.stem.print()
	file, err := artfile.Open(path, r.bench.open)
	if err != nil {
		return nil, about(path, err)
	}
	defer file.Close()
	job := made.CheckJob(r.bench.job)
	var out []*preflight.Report
	for n := 1; n <= file.Pages() && ctx.Err() == nil; n++ {
		alike := func(other []printfile.Placement) bool { return slices.Equal(other, made.File.Sheets[n-1]) }
		if slices.ContainsFunc(made.File.Sheets[:n-1], alike) {
			continue
		}
		r.say.status(fmt.Sprintf("judging sheet %d of %d", n, file.Pages()))
		picture, err := file.Page(n, r.designs[0].Scene.PPI)
		if err != nil {
			return nil, about(path, err)
		}
		rep, _, err := preflight.Judge(preflight.Artwork{
			File: filepath.ToSlash(path), SHA256: file.SHA256, Format: file.Format(), Page: n, PageCount: file.Pages(), Picture: picture,
		}, job, rules.All())
		if err != nil {
			return nil, about(path, err)
		}
		out = append(out, rep)
	}
	return out, ctx.Err()
}

// tell prints what was done, how to print it, and what was found.
func (r *prepareRun) tell(made *prepare.Prepared, sheets []*preflight.Report) error {
	var text bytes.Buffer
	line := func(format string, args ...any) { text.WriteString(report.Wrap(fmt.Sprintf(format+"\n", args...))) }
	opt := report.TextOptions{Colour: r.say.outIsTerminal && r.say.colour, Rules: rules.All()}
	for i, rep := range r.reports {
		a := made.File.Artworks[i]
		line("%s: %s (%s); it prints %.1f x %.1f mm.", report.Printable(report.Title(rep)), strings.ToUpper(string(rep.Verdict)), countWords(rep.Counts), a.WidthMM, a.HeightMM)
		if err := report.Findings(&text, rep, opt); err != nil {
			return err
		}
		if fails(rep.Counts, r.failOn) {
			r.say.raise(exitFindings)
		}
	}
	for _, s := range made.Lines() {
		line("%s", s)
	}
	line("Written: %s", report.Printable(strings.Join(r.written, ", ")))
	if r.planes {
		line("The pictures of the planes are cut to what prints and not mirrored.")
	}
	news := prepare.NewFindings(sheets, r.reports)
	for _, f := range news {
		r.say.raise(exitFindings)
		line("New in the file, not in the artwork: %.1f mm from left, %.1f from top: %s (%s)", f.BoxMM.X, f.BoxMM.Y, f.Message, f.Rule)
	}
	if len(news) == 0 {
		line("Judged again: nothing was found in the file that the artwork does not have.")
	}
	if worst := worstOf(sheets); worst != preflight.Ready {
		line("The file itself is %s: for what was found write peelcheck check %s", strings.ToUpper(string(worst)), report.Printable(r.stem.print()))
	}
	return r.say.text(text.String())
}

// worstOf is the worst verdict of some sheets.
func worstOf(sheets []*preflight.Report) preflight.Verdict {
	worst := preflight.Ready
	for _, rep := range sheets {
		if rep.Verdict == preflight.Hold || worst == preflight.Ready {
			worst = rep.Verdict
		}
	}
	return worst
}

func countWords(c preflight.Counts) string {
	var parts []string
	for _, k := range []struct {
		n    int
		word string
	}{{c.Error, "error"}, {c.Warning, "warning"}, {c.Note, "note"}} {
		if k.n == 1 {
			parts = append(parts, "1 "+k.word)
		} else if k.n > 1 {
			parts = append(parts, fmt.Sprintf("%d %ss", k.n, k.word))
		}
	}
	if parts == nil {
		return "nothing found"
	}
	return strings.Join(parts, ", ")
}
