package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"sync"

	"golang.org/x/sync/semaphore"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/preflight"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// bench judges many files at once: at most a given number of them, and at most one largest picture's worth of pixels.
type bench struct {
	job    preflight.Job
	page   pageFlag
	open   artfile.Options
	opener func(string, artfile.Options) (*artfile.File, error) // artfile.Open
	budget *semaphore.Weighted                                  // of pixels held in memory
	proofs bool
	write  bool
	inputs []os.FileInfo
	saving sync.RWMutex // read-locked while files are written
}

func newBench(job preflight.Job, flags *jobFlags, say *speaker) *bench {
	return &bench{
		job:    job,
		page:   flags.page,
		opener: artfile.Open,
		budget: semaphore.NewWeighted(flags.maxPixels),
		open: artfile.Options{
			MaxPixels: flags.maxPixels,
			CacheDir:  cacheDir(),
			Inks:      artfile.Inks{White: job.IsWhite, BG: job.Process.BlackGeneration.At, UCR: job.Process.UndercolourRemoval.At},
			OnSlowStart: func() {
				say.status("getting ready to read PDF: some seconds, the first time only")
			},
		},
	}
}

// cacheDir is where the PDF renderer keeps its compiled code; without one it starts slowly but works.
func cacheDir() string {
	dir, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(dir, "peelcheck")
}

// outcome is what became of one file.
type outcome struct {
	source   artfile.Source
	pages    int // of the document, 0 if it could not be opened
	reports  []*preflight.Report
	problems []error
	written  int // reports saved
}

// shorten keeps a file of thousands of broken pages from filling the screen with them.
func (o *outcome) shorten() {
	const most = 5
	if more := len(o.problems) - most; more > 1 {
		o.problems = append(o.problems[:most:most], &problem{o.source.Path, fmt.Sprintf("%d more problems like these", more), "mend the file, or ask for one page with --page"})
	}
}

// judgeAll judges every source, jobs at a time, and hands the outcomes to each in the order of the sources. It returns
// early, with ctx's error, when ctx is done.
func (b *bench) judgeAll(ctx context.Context, sources []artfile.Source, to []target, jobs int, each func(outcome) error) error {
	if jobs = min(jobs, len(sources)); jobs < 1 {
		return nil
	}
	ctx, cancel := context.WithCancel(ctx)
	defer func() { // files half written are taken away before the program ends; no other is begun once ctx is done
		cancel()
		b.saving.Lock()
		defer b.saving.Unlock()
	}()
	for _, s := range sources {
		if info, err := os.Stat(s.Path); err == nil {
			b.inputs = append(b.inputs, info)
		}
	}
	done := make([]chan outcome, len(sources))
	for i := range done {
		done[i] = make(chan outcome, 1)
	}
	next := make(chan int, len(sources))
	for i := range sources {
		next <- i
	}
	close(next)
	for range jobs {
		go func() {
			for i := range next {
				done[i] <- b.judgeFile(ctx, sources[i], to[i])
			}
		}()
	}
	for i := range sources {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case o := <-done[i]:
			if err := ctx.Err(); err != nil { // o may have been cut short
				return err
			}
			if err := each(o); err != nil {
				return err
			}
		}
	}
	return nil
}

// judgeFile judges the pages asked for of one file. What goes wrong, a fault in the program too, stays with the file.
func (b *bench) judgeFile(ctx context.Context, s artfile.Source, to target) (o outcome) {
	o.source = s
	defer func() {
		if r := recover(); r != nil {
			o.problems = append(o.problems, &problem{s.Path, fmt.Sprintf("internal error: %v", r), "please report it together with the file"})
		}
	}()
	if ctx.Err() != nil {
		return o
	}
	if s.Err != nil {
		o.problems = append(o.problems, about(s.Path, s.Err))
		return o
	}
	file, err := b.opener(s.Path, b.open)
	if err != nil {
		o.problems = append(o.problems, about(s.Path, err))
		return o
	}
	defer file.Close()
	o.pages = file.Pages()
	from, until := 1, file.Pages()
	if b.page > 0 {
		from, until = int(b.page), int(b.page)
	}
	if from > file.Pages() {
		o.problems = append(o.problems, &problem{s.Path, fmt.Sprintf("there is no page %d, the document has %d", from, file.Pages()), "ask for another with --page"})
		return o
	}
	for n := from; n <= until && ctx.Err() == nil; n++ {
		b.judgePage(ctx, file, n, n == until, to.page(n, o.pages), &o)
	}
	o.shorten()
	return o
}

func (b *bench) judgePage(ctx context.Context, file *artfile.File, n int, last bool, to target, o *outcome) {
	ppi, err := file.RenderPPI(n, b.job.PPI, b.job.Width.MM(), b.job.Height.MM())
	if err != nil {
		o.problems = append(o.problems, about(o.source.Path, err))
		return
	}
	weight := b.weight(file, n, ppi)
	if b.budget.Acquire(ctx, weight) != nil {
		return
	}
	defer b.budget.Release(weight)
	if weight >= largePixels {
		boundGarbage(gcPercentLarge)
	}
	rep, seen, err := b.judge(file, n, last, ppi, o.source.Path)
	if err != nil {
		o.problems = append(o.problems, err)
		return
	}
	o.reports = append(o.reports, rep)
	if !b.write {
		return
	}
	if err := b.save(ctx, to, rep, seen); err != nil {
		if ctx.Err() == nil {
			o.problems = append(o.problems, err)
		}
		return
	}
	o.written++
}

// weight is the number of pixels of a page, or the whole budget where it cannot be told before the page is read.
func (b *bench) weight(file *artfile.File, n int, ppi float64) int64 {
	px, ok := file.Pixels(n, ppi)
	if !ok || px > b.open.MaxPixels {
		return b.open.MaxPixels
	}
	return max(1, px)
}

// judge judges a page. After the last one the file's bytes are let go, once they are decoded.
func (b *bench) judge(file *artfile.File, n int, last bool, ppi float64, path string) (*preflight.Report, *preflight.Appearance, error) {
	art := preflight.Artwork{File: filepath.ToSlash(path), SHA256: file.SHA256, Format: file.Format(), Page: n, PageCount: file.Pages()}
	var err error
	if art.Picture, err = file.Page(n, ppi); err != nil {
		return nil, nil, about(path, err) // which names the page
	}
	if last {
		file.Close()
	}
	rep, scene, err := preflight.Judge(art, b.job, rules.All())
	if err != nil {
		if art.PageCount > 1 {
			path = fmt.Sprintf("%s: page %d", path, n)
		}
		return nil, nil, about(path, err)
	}
	return rep, scene.Appearance(), nil
}

// save writes the report and then the proof, so that a proof never lies beside an older report. The proof is laid out while the disk
// takes the report.
func (b *bench) save(ctx context.Context, to target, rep *preflight.Report, seen *preflight.Appearance) error {
	b.saving.RLock()
	defer b.saving.RUnlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	if !b.proofs {
		return b.saveReport(ctx, to.report(), rep)
	}
	drawn := make(chan *proof.Proof, 1)
	go func() {
		defer close(drawn)
		defer func() { _ = recover() }() // drawn again below, where the fault is told
		drawn <- proof.DrawJudged(seen, &b.job, rep)
	}()
	err := b.saveReport(ctx, to.report(), rep)
	page, ok := <-drawn
	boundGarbage(gcPercent) // the pixels are let go
	if err != nil {
		return err
	}
	if !ok {
		page = proof.DrawJudged(seen, &b.job, rep)
	}
	return b.saveProof(ctx, to.proof(), page)
}

func (b *bench) saveReport(ctx context.Context, path string, rep *preflight.Report) error {
	return b.saveFile(ctx, path, func(w io.Writer) error {
		out := report.NewJSON(w, false)
		return errors.Join(out.Add(rep), out.Close())
	})
}

func (b *bench) saveProof(ctx context.Context, path string, m image.Image) error {
	if _, err := artfile.Kind(path); err == nil {
		return &problem{path, "this picture was not drawn by peelcheck, so it is not overwritten", "move it away or name another folder with --out"}
	}
	return b.saveFile(ctx, path, func(w io.Writer) error { return outfile.EncodePNG(w, m) })
}

func (b *bench) saveFile(ctx context.Context, path string, fill func(io.Writer) error) error {
	if info, err := os.Stat(path); err == nil {
		if info.IsDir() {
			return &problem{path, "a folder of this name is in the way", "name another folder with --out"}
		}
		for _, in := range b.inputs {
			if os.SameFile(in, info) {
				return &problem{path, "the result would overwrite this file, which is to be judged itself", "name another folder with --out"}
			}
		}
	}
	if err := outfile.Write(ctx, path, fill); err != nil {
		p := about(filepath.Dir(path), err)
		return p.unwritable("the result cannot be written here")
	}
	return nil
}
