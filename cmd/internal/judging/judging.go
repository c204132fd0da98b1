// Package judging judges artwork files and writes their reports and proofs: whole files or none. Start at New.
package judging

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"
	"golang.org/x/sync/semaphore"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/preflight"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/report"
	"peelcheck/raster"
)

// Options are alike for all files that a bench judges.
type Options struct {
	Rules     []*preflight.Rule
	Page      int   // of each document, from 1; 0 for all of one with at most MostPages, AllPages for all of any
	MaxPixels int64 // of one page, and held in memory at once; 0 means raster.DefaultMaxPixels
	Write     bool  // reports, and what Outputs says
	Outputs
	Words        func(string) string          // says otherwise what is worded for the command line; nil for as it is
	PassPrepared bool                         // print files of our own are not judged
	OnSlowStart  func()                       // called when the PDF renderer must be compiled first; may be nil
	OnPage       func(name string, n, of int) // called before a page of a document of several is judged, from several goroutines; may be nil
	Cache        *resultcache.Cache           // of what earlier runs found; may be nil
	OnCacheFail  func(error)                  // called when a result cannot be kept, which changes nothing else; may be nil
	Origins      *Origins                     // of the reports in --out, which are not overwritten with those of other artwork; may be nil
}

// MostPages is how many pages of a document are judged where none is named: a thousand take minutes, more are seldom meant.
const MostPages = 1000

// AllPages asks for all pages of a document, however many they are.
const AllPages = -1

// Task is one file to be judged.
type Task struct {
	Source artfile.Source
	Job    preflight.Job
	To     Target // of what is written
	Sum    string // SHA-256 of the file in hex if it is known already
	JobSum string // of Job, by SumOf, if it is known already
	FailOn string // the level that fails the artwork, for its report; may be empty
	Accept Accept // may be nil
}

// Accept returns the report with those of its findings marked that are accepted. It leaves the one it is given as it is.
type Accept func(*preflight.Report) *preflight.Report

// Bench judges files: at most one largest picture's worth of pixels at once. It is safe for concurrent use, but for Protect.
type Bench struct {
	opt    Options
	opener func(string, artfile.Options) (*artfile.File, error) // artfile.Open
	budget *semaphore.Weighted                                  // of pixels held in memory
	inputs []os.FileInfo
	saving sync.RWMutex // read-locked while files are written
}

// New returns a bench.
func New(opt Options) *Bench {
	if opt.MaxPixels == 0 {
		opt.MaxPixels = raster.DefaultMaxPixels
	}
	return &Bench{opt: opt, opener: artfile.Open, budget: semaphore.NewWeighted(opt.MaxPixels)}
}

// Open opens a file as the job sees it.
func (b *Bench) Open(path string, job *preflight.Job) (*artfile.File, error) {
	return b.opener(path, artfile.Options{
		MaxPixels:   b.opt.MaxPixels,
		CacheDir:    cacheDir(),
		Inks:        artfile.Inks{White: job.IsWhite, BG: job.Process.BlackGeneration.At, UCR: job.Process.UndercolourRemoval.At},
		OnSlowStart: b.opt.OnSlowStart,
	})
}

// Protect keeps files from being overwritten by results. It must not be called while files are judged.
func (b *Bench) Protect(paths ...string) {
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil {
			b.inputs = append(b.inputs, info)
		}
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

// Outcome is what became of one file.
type Outcome struct {
	Source   artfile.Source
	Pages    int // of the document, 0 if it could not be opened
	Reports  []*preflight.Report
	Problems []error // each a *problem.Problem that names the file
	Written  int     // reports saved
	Prepared bool    // it is a print file of our own, and was passed over

	sums [][]byte // SHA-256 of the reports saved, as long as each stands as it was judged
}

// shorten keeps a file of thousands of broken pages from filling the screen with them.
func (o *Outcome) shorten() {
	const most = 5
	if more := len(o.Problems) - most; more > 1 {
		o.Problems = append(o.Problems[:most:most], problem.New(o.Source.Path, fmt.Sprintf("%d more problems like these", more), "mend the file, or ask for one page with --page"))
	}
}

// All judges every task, jobs at a time, and hands the outcomes to each in the order of the tasks. onDone, unless it is nil, is called as
// soon as any is done, from several goroutines. It returns early, with ctx's error, when ctx is done.
func (b *Bench) All(ctx context.Context, tasks []Task, jobs int, onDone func(), each func(Outcome) error) error {
	if jobs = min(jobs, len(tasks)); jobs < 1 {
		return nil
	}
	ctx, cancel := context.WithCancel(ctx)
	defer func() { // files half written are taken away before the program ends; no other is begun once ctx is done
		cancel()
		b.saving.Lock()
		defer b.saving.Unlock()
	}()
	for _, t := range tasks {
		b.Protect(t.Source.Path)
	}
	done := make([]chan Outcome, len(tasks))
	for i := range done {
		done[i] = make(chan Outcome, 1)
	}
	next := make(chan int, len(tasks))
	for i := range tasks {
		next <- i
	}
	close(next)
	for range jobs {
		go func() {
			for i := range next {
				done[i] <- b.File(ctx, tasks[i])
				if onDone != nil {
					onDone()
				}
			}
		}()
	}
	for i := range tasks {
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

// Sums works out the hash of every task's file that can be read, jobs at a time.
func (b *Bench) Sums(ctx context.Context, tasks []Task, jobs int) {
	var group errgroup.Group
	group.SetLimit(jobs)
	for i := range tasks {
		t := &tasks[i]
		if t.Source.Err != nil || ctx.Err() != nil {
			continue
		}
		group.Go(func() error {
			t.Sum, _ = artfile.Sum(t.Source.At(), b.opt.MaxPixels) // judging the file will tell
			return nil
		})
	}
	_ = group.Wait() // nothing fails
}

// PrintFile reports whether a file is a print file of our own.
func (b *Bench) PrintFile(path string, job *preflight.Job) (is bool) {
	if kind, err := artfile.Kind(path); err != nil || kind != "pdf" {
		return false
	}
	defer func() {
		if recover() != nil {
			is = false // what is wrong with it is told where it is judged
		}
	}()
	file, err := b.Open(path, job)
	if err != nil {
		return false
	}
	defer file.Close()
	return file.Prepared()
}

// File judges the pages asked for of one file. What goes wrong, a fault in the program too, stays with the file.
func (b *Bench) File(ctx context.Context, t Task) (o Outcome) {
	s := t.Source
	o.Source = s
	defer func() {
		if r := recover(); r != nil {
			o.Problems = append(o.Problems, internal(s.Path, r))
		}
	}()
	if ctx.Err() != nil {
		return o
	}
	if s.Err != nil {
		o.Problems = append(o.Problems, problem.About(s.Path, s.Err))
		return o
	}
	start := time.Now()
	if b.known(ctx, &t, &o) {
		return o
	}
	if err := b.spare(&t); err != nil {
		o.Problems = append(o.Problems, err)
		return o
	}
	file, err := b.Open(s.At(), &t.Job)
	if err != nil {
		o.Problems = append(o.Problems, problem.About(s.Path, err))
		return o
	}
	defer file.Close()
	if o.Prepared = b.opt.PassPrepared && file.Prepared(); o.Prepared {
		return o
	}
	o.Pages = file.Pages()
	from, until, err := PagesOf(s.Path, file.Pages(), b.opt.Page)
	if err != nil {
		o.Problems = append(o.Problems, err)
		return o
	}
	var plain []*preflight.Report // before anything was accepted
	for n := from; n <= until && ctx.Err() == nil; n++ {
		if b.opt.OnPage != nil && until > from {
			b.opt.OnPage(s.Path, n, until)
		}
		if rep := b.judgePage(ctx, file, n, n == until, &t, &o); rep != nil {
			plain = append(plain, rep)
		}
	}
	if len(plain) == until-from+1 && (file.TimeLimit == 0 || time.Since(start) < file.TimeLimit) {
		b.keep(file.SHA256, &t, results{Pages: o.Pages, Reports: plain, Texts: t.texts(o.sums)})
	}
	o.shorten()
	return o
}

// PagesOf returns the first and the last page that asked, as in Options, means of a document that has so many. A document that has not got
// it, or more than are judged unasked, is a *problem.Problem.
func PagesOf(name string, pages, asked int) (first, last int, err error) {
	switch {
	case asked > pages:
		return 0, 0, problem.New(name, fmt.Sprintf("there is no page %d, the document has %d", asked, pages), "ask for another with --page")
	case asked > 0:
		return asked, asked, nil
	case asked == 0 && pages > MostPages:
		return 0, 0, problem.New(name, fmt.Sprintf("the document has %d pages, and more than %d are not judged unasked", pages, MostPages),
			"ask for one with --page N, or for all with --page all, which takes long; or split the file")
	}
	return 1, pages, nil
}

// judgePage returns the report of a page before anything in it was accepted, nil if it could not be judged.
func (b *Bench) judgePage(ctx context.Context, file *artfile.File, n int, last bool, t *Task, o *Outcome) (plain *preflight.Report) {
	err := b.withPage(ctx, file, n, last, o.Source.Path, &t.Job, func(rep *preflight.Report, seen *preflight.Appearance, letGo func()) error {
		plain = rep
		b.reword(rep)
		rep, whole := t.accepted(rep)
		o.Reports = append(o.Reports, rep)
		if !b.opt.Write {
			return nil
		}
		sum, err := b.save(ctx, t, n, o.Pages, rep, seen, letGo)
		if err != nil {
			return err
		}
		o.Written++
		if whole {
			o.sums = append(o.sums, sum)
		}
		return nil
	})
	if err != nil && ctx.Err() == nil {
		o.Problems = append(o.Problems, err)
	}
	return plain
}

// reword says what a new report tells in the words asked for.
func (b *Bench) reword(rep *preflight.Report) {
	if b.opt.Words == nil {
		return
	}
	for i := range rep.Findings {
		f := &rep.Findings[i]
		f.Message, f.Remedy = b.opt.Words(f.Message), b.opt.Words(f.Remedy)
	}
	for i := range rep.Skipped {
		rep.Skipped[i].Reason = b.opt.Words(rep.Skipped[i].Reason)
	}
}

// withPage decodes and judges one page, once its pixels are within the bound, and hands it to use, with what is to be called once the
// pixels are let go. last says that no other page of the file is asked for; name is the file's in what is told.
func (b *Bench) withPage(ctx context.Context, file *artfile.File, n int, last bool, name string, job *preflight.Job, use func(*preflight.Report, *preflight.Appearance, func()) error) error {
	ppi, err := RenderPPI(file, n, job)
	if err != nil {
		return problem.About(name, err)
	}
	weight := b.weight(file, n, ppi)
	if err := b.budget.Acquire(ctx, weight); err != nil {
		return err
	}
	defer b.budget.Release(weight)
	letGo := boundGarbage(weight)
	defer letGo()
	picture, err := file.Page(n, ppi)
	if err != nil {
		return problem.About(name, err) // which names the page
	}
	if last {
		file.Close() // its bytes are let go, once they are decoded
	}
	rep, scene, err := b.Judge(file, n, picture, name, job)
	if err != nil {
		return err
	}
	seen := scene.Appearance()
	scene, picture = nil, nil // most of what they hold is let go before the proof is drawn
	return use(rep, seen, letGo)
}

// Seen is one page that was judged to be looked at.
type Seen struct {
	Report *preflight.Report
	Look   *preflight.Appearance
}

// Look judges one page of a file, which is called name in all that is told, and writes nothing. What goes wrong, a fault in the program
// too, is an error.
func (b *Bench) Look(ctx context.Context, path, name string, n int, job *preflight.Job) (seen *Seen, err error) {
	defer func() {
		if r := recover(); r != nil {
			seen, err = nil, internal(name, r)
		}
	}()
	file, err := b.Open(path, job)
	if err != nil {
		return nil, problem.About(name, err)
	}
	defer file.Close()
	if n > file.Pages() {
		return nil, problem.New(name, fmt.Sprintf("there is no page %d, the document has %d", n, file.Pages()), "ask for another page")
	}
	err = b.withPage(ctx, file, n, true, name, job, func(rep *preflight.Report, look *preflight.Appearance, _ func()) error {
		seen = &Seen{rep, look}
		return nil
	})
	return seen, err
}

// internal is a fault in the program that a file brought out.
func internal(name string, fault any) error {
	return problem.New(name, fmt.Sprintf("internal error: %v", fault), "please report it together with the file")
}

// weight is the number of pixels of a page, or the whole budget where it cannot be told before the page is read.
func (b *Bench) weight(file *artfile.File, n int, ppi float64) int64 {
	px, ok := file.Pixels(n, ppi)
	if !ok || px > b.opt.MaxPixels {
		return b.opt.MaxPixels
	}
	return max(1, px)
}

// RenderPPI is the resolution at which page n is to be drawn so that it has what the job asks for once it is printed.
func RenderPPI(file *artfile.File, n int, job *preflight.Job) (float64, error) {
	return file.RenderPPI(n, job.PPI, job.Width.MM(), job.Height.MM())
}

// Judge judges page n of a file, which was drawn as picture. path is the file's name in the report.
func (b *Bench) Judge(file *artfile.File, n int, picture *raster.Picture, path string, job *preflight.Job) (*preflight.Report, *preflight.Scene, error) {
	art := preflight.Artwork{
		File: filepath.ToSlash(path), SHA256: file.SHA256, Format: file.Format(), Page: n, PageCount: file.Pages(), Picture: picture,
	}
	rep, scene, err := preflight.Judge(art, *job, b.opt.Rules)
	if err != nil {
		if art.PageCount > 1 {
			path = fmt.Sprintf("%s: page %d", path, n)
		}
		return nil, nil, problem.About(path, err)
	}
	return rep, scene, nil
}

// save writes the report and then the proof, so that a proof never lies beside an older report. The proof is laid out while the disk
// takes the report. letGo is called when the pixels are let go. It returns the SHA-256 of the report.
func (b *Bench) save(ctx context.Context, t *Task, n, pages int, rep *preflight.Report, seen *preflight.Appearance, letGo func()) ([]byte, error) {
	to := t.To.Page(n, pages)
	b.saving.RLock()
	defer b.saving.RUnlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if b.opt.none() {
		return b.saveReport(ctx, to.Report(), rep)
	}
	drawn := make(chan *proof.Proof, 1)
	go func() {
		defer close(drawn)
		defer func() { _ = recover() }() // drawn again below, where the fault is told
		drawn <- proof.DrawJudged(seen, &t.Job, rep)
	}()
	sum, err := b.saveReport(ctx, to.Report(), rep)
	page, ok := <-drawn
	letGo()
	if err != nil {
		return nil, err
	}
	if !ok {
		page = proof.DrawJudged(seen, &t.Job, rep)
	}
	s := &saver{Bench: b}
	err = s.savePictures(ctx, t, to, page, seen, rep)
	if err == nil {
		b.keepPictures(sum, t, s.sums)
	}
	return sum, err
}

// saver is a bench that remembers the SHA-256 of each file it wrote.
type saver struct {
	*Bench
	sums []byte
}

func (s *saver) SaveFile(ctx context.Context, path string, fill func(io.Writer) error) error {
	sum := sha256.New()
	err := s.Bench.SaveFile(ctx, path, func(w io.Writer) error { return fill(io.MultiWriter(w, sum)) })
	s.sums = sum.Sum(s.sums)
	return err
}

// saveReport returns the SHA-256 of what it wrote.
func (b *Bench) saveReport(ctx context.Context, path string, rep *preflight.Report) ([]byte, error) {
	s := &saver{Bench: b}
	err := s.SaveFile(ctx, path, func(w io.Writer) error { return writeReport(w, rep) })
	return s.sums, err
}

func writeReport(w io.Writer, rep *preflight.Report) error {
	out := report.NewJSON(w, false)
	return errors.Join(out.Add(rep), out.Close())
}

// SaveFile writes a result, whole or not at all, but not over a file that is protected or a folder.
func (b *Bench) SaveFile(ctx context.Context, path string, fill func(io.Writer) error) error {
	if info, err := os.Stat(path); err == nil {
		if info.IsDir() {
			return problem.New(path, "a folder of this name is in the way", "name another folder with --out")
		}
		for _, in := range b.inputs {
			if os.SameFile(in, info) {
				return problem.New(path, "the result would overwrite this file, which is to be judged itself", "name another folder with --out")
			}
		}
	}
	if err := outfile.Write(ctx, path, fill); err != nil {
		p := problem.About(filepath.Dir(path), err)
		return p.Unwritable("the result cannot be written here")
	}
	return nil
}
