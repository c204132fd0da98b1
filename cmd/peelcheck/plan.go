package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/baseline"
	"peelcheck/cmd/internal/gitchange"
	"peelcheck/cmd/internal/globs"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/cmd/internal/setup"
	"peelcheck/cmd/internal/shard"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// pickFlags are the flags that say which files of a folder are judged.
type pickFlags struct {
	include, exclude []string
	changedSince     string
	staged           bool
	shard            shardFlag
}

// shardFlag is a part of the library, the whole if the flag is not given.
type shardFlag struct{ shard.Shard }

func (s *shardFlag) String() string { return "" }
func (s *shardFlag) Type() string   { return "N/M" }
func (s *shardFlag) Set(text string) (err error) {
	s.Shard, err = shard.Parse(text)
	return err
}

// parted reports whether less than what was named may be judged.
func (p *pickFlags) parted() bool { return p.changedSince != "" || p.staged || p.shard.Of > 0 }

// noneWords says why no file is left to be judged.
func (p *pickFlags) noneWords() string {
	var words []string
	if p.changedSince != "" {
		words = append(words, "none has changed since "+report.Printable(p.changedSince))
	}
	if p.staged {
		words = append(words, "none is staged for the next commit")
	}
	if p.shard.Of > 0 {
		words = append(words, fmt.Sprintf("none is in part %d of %d", p.shard.Part, p.shard.Of))
	}
	return strings.Join(words, ", or ")
}

func (p *pickFlags) add(fs *pflag.FlagSet) {
	fs.StringArrayVar(&p.include, "include", nil, "judge only files that `GLOB` names, as \"*.pdf\" or \"caps/**\", from the folder named on; may be given again")
	fs.StringArrayVar(&p.exclude, "exclude", nil, "leave out files and folders that `GLOB` names; one that begins with ! takes back; may be given again")
	fs.StringVar(&p.changedSince, "changed-since", "", "judge only what differs from the git commit `REV`, or whose settings do")
	fs.BoolVar(&p.staged, "staged", false, "judge only what git's next commit will change, or whose settings it will; for a hook")
	fs.Var(&p.shard, "shard", "judge part `N/M` of the files, as 3/16, told by their content; \"peelcheck merge\" joins the reports")
}

// check looks at the flags; whole says that nothing less than all will do.
func (p *pickFlags) check(whole bool) error {
	if whole && p.parted() {
		return errors.New("--write-baseline is about the whole library: leave out --changed-since, --staged and --shard")
	}
	if p.staged && p.changedSince != "" {
		return errors.New("--staged and --changed-since do not go together")
	}
	for _, pattern := range p.include {
		if err := preflight.CheckPattern(pattern, false); err != nil {
			return fmt.Errorf("--include: %w", err)
		}
	}
	for _, pattern := range p.exclude {
		if err := preflight.CheckPattern(pattern, true); err != nil {
			return fmt.Errorf("--exclude: %w", err)
		}
	}
	return nil
}

// plan is what one call of check comes down to. All settings were read without a fault.
type plan struct {
	tasks     []judging.Task
	folders   []*setup.Folder // of each task
	gathered  int             // files, of which the tasks may be a part
	leftOut   int             // by patterns
	asked     *patterns
	origins   *judging.Origins // nil without --out
	topFailOn string           // where no folder says otherwise
	folder    bool             // a folder was named
	bench     *judging.Bench
	cache     *resultcache.Cache
	writer    *baseline.Writer // nil if no baseline is asked for

	acceptance *acceptance
	copies     stagedCopies
}

func (f *checkFlags) planned(ctx context.Context, say *speaker, names []string) (p *plan, err error) {
	program := f.program()
	set, err := f.changes(ctx, names)
	if err != nil {
		return nil, err
	}
	if f.staged {
		f.Staged = func(name string) ([]byte, bool, error) { return set.Content(ctx, name) }
	}
	folders, err := f.NewFolders()
	if err != nil {
		return nil, err
	}
	asked := newPatterns()
	sources, folder, leftOut, err := f.gather(folders, names, asked)
	if err != nil {
		return nil, err
	}
	p, err = f.ready(say, program)
	if err != nil {
		return nil, err
	}
	copies := &p.copies
	defer func() {
		if err != nil {
			copies.remove()
		}
	}()
	if f.staged {
		var fault error
		sources, err = copies.apply(ctx, set, names, sources, f.meant(folders, asked, &fault))
		if err = errors.Join(fault, err); err != nil {
			return nil, err
		}
	}
	p.asked, p.leftOut = asked, leftOut
	asked.waivers(p.acceptance.named, p.acceptance.today)
	p.folder, p.topFailOn = folder, setup.First(f.failOn, folders.Top().Shop.FailOn, "error")
	targets := judging.Targets(names, sources, f.out)
	sums := map[*setup.Folder]string{} // of their jobs
	for i, s := range sources {
		in, err := folderOf(folders, s)
		if err != nil {
			return nil, err
		}
		if i == 0 || in != p.folders[i-1] {
			asked.waivers(in.Waivers, p.acceptance.today)
		}
		if sums[in] == "" {
			if sums[in], err = judging.SumOf(&in.Job); err != nil {
				return nil, err
			}
		}
		p.tasks = append(p.tasks, judging.Task{
			Source: s, Job: in.Job, JobSum: sums[in], FailOn: setup.First(f.failOn, in.Shop.FailOn, "error"), To: targets[i],
		})
		p.folders = append(p.folders, in)
	}
	p.gathered = len(p.tasks)
	if f.baseline != "" || f.shard.Of > 0 {
		p.bench.Sums(ctx, p.tasks, f.jobs)
	}
	if f.baseline != "" {
		if p.acceptance.baseline, err = f.readBaseline(present(p.tasks)); err != nil {
			return nil, err
		}
	}
	f.part(p, set)
	for i := range p.tasks {
		if p.tasks[i].Accept, err = p.acceptance.of(p.tasks[i].Source.Path, p.folders[i]); err != nil {
			return nil, err
		}
	}
	if f.out != "" {
		return p, makeOuts(f.out, p.tasks)
	}
	return p, nil
}

// noteOrigin takes down where the artwork of a task lies that was named singly, once its report is written.
func (p *plan) noteOrigin(t *judging.Task) {
	if p.origins != nil && t.Source.Root == "" {
		p.origins.Note(t.To, t.Source.Path)
	}
}

// saveOrigins keeps what was taken down for later calls.
func (p *plan) saveOrigins() error {
	if p.origins == nil {
		return nil
	}
	return p.origins.Save()
}

// makeOuts makes the folder of --out and those in it for the results of the tasks.
func makeOuts(out string, tasks []judging.Task) error {
	if err := makeOut(out); err != nil {
		return err
	}
	made := map[string]bool{filepath.Clean(out): true}
	for _, t := range tasks {
		dir := filepath.Dir(string(t.To))
		if t.Source.Err != nil || made[dir] {
			continue
		}
		if err := makeOut(dir); err != nil {
			return err
		}
		made[dir] = true
	}
	return nil
}

// part leaves the tasks of a plan that are asked for.
func (f *checkFlags) part(p *plan, set *gitchange.Set) {
	if !f.parted() {
		return
	}
	whole := *p
	changed := func(i int) bool { return set == nil || f.changed(set, &whole, i) }
	p.tasks, p.folders = nil, nil
	for i, t := range whole.tasks {
		if set != nil && t.Source.Copy == "" && set.Unlike(t.Source.Path) {
			t.Source.Err = problem.New(t.Source.Path, "it is staged as a link or in a conflict, and not as it lies here", "stage it again with git add")
		}
		if f.shard.Has(t.Sum, filepath.ToSlash(t.Source.Path)) && changed(i) {
			p.tasks, p.folders = append(p.tasks, t), append(p.folders, whole.folders[i])
		} else {
			p.bench.Protect(t.Source.Path)
		}
	}
}

// changes are what git tells, nil if it is not asked.
func (f *checkFlags) changes(ctx context.Context, names []string) (*gitchange.Set, error) {
	switch {
	case f.staged:
		return gitchange.Staged(ctx, names)
	case f.changedSince != "":
		return gitchange.Since(ctx, f.changedSince, names)
	}
	return nil, nil
}

// changed reports whether the artwork of a task, or anything else that its result depends on, has changed.
func (f *checkFlags) changed(set *gitchange.Set, p *plan, i int) bool {
	path := p.tasks[i].Source.Path
	if p.tasks[i].Source.Root == path {
		return true // a folder without artwork is a mistake every time
	}
	for _, name := range append([]string{f.baseline, f.waivers}, p.folders[i].Files...) {
		if name != "" && set.Has(name) {
			return true
		}
	}
	return set.Has(path) || set.AnyAbove(path, setup.DefaultConfig)
}

// ready is a plan without files.
func (f *checkFlags) ready(say *speaker, program func() (string, error)) (*plan, error) {
	cache, err := f.cache(program)
	if err != nil {
		return nil, err
	}
	p := &plan{cache: cache}
	if p.acceptance, err = f.acceptance(f.Staged); err != nil {
		return nil, err
	}
	if f.writeBaseline != "" {
		if p.writer, err = baseline.NewWriter(f.writeBaseline); err != nil {
			return nil, err
		}
	}
	opt := f.options(say)
	opt.Write, opt.Outputs = true, f.outputs
	opt.Cache, opt.OnCacheFail = p.cache, cacheFailure(say)
	if f.out != "" {
		p.origins = judging.ReadOrigins(f.out)
	}
	opt.Origins = p.origins
	p.bench = judging.New(opt)
	return p, nil
}

func (f *checkFlags) readBaseline(library []baseline.Present) (*baseline.Baseline, error) {
	if f.Staged != nil {
		if data, ok, err := f.Staged(f.baseline); err != nil {
			return nil, err
		} else if ok {
			return baseline.Parse(f.baseline, data, library)
		}
	}
	return baseline.Read(f.baseline, library)
}

// gather lists the files to be judged. The first fault in a folder's settings is an error.
func (f *checkFlags) gather(folders *setup.Folders, names []string, asked *patterns) (list []artfile.Source, folder bool, leftOut int, err error) {
	list, folder, leftOut = artfile.Gather(names, f.meant(folders, asked, &err))
	return list, folder, leftOut, err
}

// meant says which files and folders are asked for. The first fault in a folder's settings is put into err.
func (f *checkFlags) meant(folders *setup.Folders, asked *patterns, err *error) artfile.Filter {
	return func(root, path string, dir bool) bool {
		in, fault := folders.In(root, filepath.Dir(path))
		if fault != nil {
			*err = fault
		}
		if *err != nil {
			return false
		}
		lists := f.lists(root, in)
		asked.folder(root, in, lists)
		if lists == nil {
			return true
		}
		abs, fault := filepath.Abs(path)
		if fault != nil {
			return true // opening the file will tell
		}
		return !lists.Excluded(abs, dir) && (dir || lists.Included(abs))
	}
}

func (f *checkFlags) lists(root string, in *setup.Folder) globs.Lists {
	if f.include == nil && f.exclude == nil {
		return in.Lists
	}
	base, err := filepath.Abs(root)
	if err != nil {
		return in.Lists
	}
	return append(slices.Clip(in.Lists), globs.List{Base: base, Include: f.include, Exclude: f.exclude})
}

func folderOf(folders *setup.Folders, s artfile.Source) (*setup.Folder, error) {
	dir := filepath.Dir(s.Path)
	if s.Root == s.Path {
		return folders.Top(), nil // a folder in which nothing was found
	}
	return folders.In(setup.First(s.Root, dir), dir)
}
