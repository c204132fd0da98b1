package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/cmd/internal/watching"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// logFormats are what --log-format may be.
var logFormats = []string{"text", "json"}

// defaultSettle outlasts the pauses of programs that write a file in several goes; common practice, no source.
const defaultSettle = 2 * time.Second

type watchFlags struct {
	jobFlags
	out, failOn, logFormat string
	sort, poll, once       bool
	outputs                judging.Outputs
	jobs                   int
	settle                 time.Duration
}

func newWatch(say *speaker) *cobra.Command {
	var f watchFlags
	cmd := &cobra.Command{
		Use:   "watch DIR",
		Short: "Judges whatever is put into a folder",
		Long: `Judges each artwork that is put into the folder DIR or a folder in it, once it has stopped changing, and prints
one line for it. Reports and proofs go to DIR/checked, in folders like those of the artwork, or to --out. Ctrl-C
finishes the files in hand and ends.

With --sort, judged artwork is moved into DIR/ready, DIR/review or DIR/hold. Nothing is ever overwritten: where a
name is taken there, a number is added. Artwork that is changed in these folders is taken back into DIR, judged again
and sorted anew; other files there are left alone, and artwork among them is told once. The folders checked, ready, review and hold and hidden ones are not watched.

What has been judged is kept in a small file among the results, so a file is judged again only if its content, its
name or the job has changed, or if its results are gone. A file that cannot be judged gets one line, and one at each
start, and stays where it is; it is tried again when it changes. Print files that prepare wrote are not judged.

Settings come from --config, else from DIR/peelcheck.yaml, else from peelcheck.yaml in the current folder. They are
read once, at the start.

Exit codes: 0 it was stopped as asked; 2 the call was wrong, or it could not go on. With --once, as for check: 1 if
something at or above --fail-on was found in what was judged now, 2 if something new or changed could not be judged.`,
		Example: `  peelcheck watch inbox
  peelcheck watch inbox --sort --garment navy
  peelcheck watch //server/share/inbox --poll --settle 10s
  peelcheck watch inbox --once --log-format json`,
		Args: exactlyOneFolder,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd.Context(), say, args[0]) },
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	f.add(fs, say)
	fs.Lookup("config").Usage = "the shop's settings `FILE` (default " + setup.DefaultConfig + " in the folder watched, else in the current one)"
	fs.StringVar(&f.out, "out", "", "folder `DIR` for reports and proofs, made if missing (default: checked in the folder watched)")
	fs.BoolVar(&f.sort, "sort", false, "move judged artwork into the folders ready, review and hold in the folder watched")
	f.settle = defaultSettle
	fs.Var((*timeFlag)(&f.settle), "settle", "`TIME` that a file must stay as it is before it is judged, as 2s or 1m")
	fs.BoolVar(&f.poll, "poll", false, "look every few seconds instead of waiting to be told of changes: for network shares")
	fs.BoolVar(&f.once, "once", false, "judge what is there, then end")
	fs.StringVar(&f.failOn, "fail-on", "", "with --once, `LEVEL` that makes the exit code 1: error, warning, note or never (default error)")
	fs.StringVar(&f.logFormat, "log-format", "text", "`FORMAT` of the lines: text, or json for a log of one object a line")
	fs.IntVar(&f.jobs, "jobs", runtime.GOMAXPROCS(0), "files judged at once, at most `N`")
	addOutputs(fs, &f.outputs)
	return cmd
}

// timeFlag is a length of time.
type timeFlag time.Duration

func (d *timeFlag) String() string { return time.Duration(*d).String() }
func (d *timeFlag) Type() string   { return "TIME" }
func (d *timeFlag) Set(s string) error {
	v, err := time.ParseDuration(s)
	if err != nil || v < 0 {
		return fmt.Errorf("%q is not a time; write 2s or 1m", s)
	}
	*d = timeFlag(v)
	return nil
}

func exactlyOneFolder(cmd *cobra.Command, args []string) error {
	switch {
	case len(args) == 0:
		return &problem.Problem{Reason: "no folder named", Remedy: fmt.Sprintf("write: %s", cmd.UseLine())}
	case len(args) > 1:
		return &problem.Problem{Reason: fmt.Sprintf("%d folders named, and one is watched", len(args)), Remedy: "start the program once for each"}
	}
	return nil
}

func (f *watchFlags) run(ctx context.Context, say *speaker, dir string) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	opt, teller, err := f.prepare(say, dir)
	if err != nil {
		return err
	}
	teller.stop = stop
	err = watching.Run(ctx, opt)
	if err == nil {
		err = teller.err
	}
	return err
}

// prepare checks the whole call before anything is judged.
func (f *watchFlags) prepare(say *speaker, dir string) (opt watching.Options, t *watchTeller, err error) {
	if info, err := os.Stat(dir); err != nil {
		return opt, nil, problem.About(dir, err)
	} else if !info.IsDir() {
		return opt, nil, problem.New(dir, "this is a file, and a folder is watched", "name the folder that it lies in")
	}
	if own := filepath.Join(dir, setup.DefaultConfig); f.Config == "" && exists(own) {
		f.Config = own
	}
	job, shop, err := f.job()
	if err != nil {
		return opt, nil, err
	}
	t = &watchTeller{say: say, watchFlags: f, dir: dir, counts: map[preflight.Verdict]int{}}
	if t.failOn, err = setup.OneOf("fail-on", setup.First(f.failOn, shop.FailOn, "error"), preflight.FailOnWords...); err != nil {
		return opt, nil, err
	}
	if _, err := setup.OneOf("log-format", f.logFormat, logFormats...); err != nil {
		return opt, nil, err
	}
	switch {
	case f.failOn != "" && !f.once:
		return opt, nil, fmt.Errorf("--fail-on: it sets the exit code, which only --once has use for")
	case f.jobs < 1:
		return opt, nil, fmt.Errorf("--jobs: %d is less than 1", f.jobs)
	}
	if f.out == "" {
		f.out = filepath.Join(dir, watching.Checked)
	}
	if err := makeOut(f.out); err != nil {
		return opt, nil, err
	}
	key, err := f.key(&job)
	if err != nil {
		return opt, nil, err
	}
	judge, printFile := f.judge(say, job)
	if f.logFormat == "json" {
		t.log = slog.New(slog.NewJSONHandler(t, nil))
	}
	return watching.Options{
		Dir: dir, Out: f.out, Sort: f.sort, Poll: f.poll, Once: f.once, Settle: f.settle, Jobs: f.jobs, Job: key, Outputs: f.outputs,
		Judge: judge, PrintFile: printFile, Tell: t.tell,
	}, t, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// judge returns what judges a file, and what tells print files of our own.
func (f *watchFlags) judge(say *speaker, job preflight.Job) (func(context.Context, string, judging.Target) judging.Outcome, func(string) bool) {
	o := f.options(say)
	o.Write, o.Outputs, o.PassPrepared, o.Words = true, f.outputs, true, inFolder
	bench := judging.New(o)
	judge := func(ctx context.Context, path string, to judging.Target) judging.Outcome {
		return bench.File(ctx, judging.Task{Source: artfile.Source{Path: path}, Job: job, To: to})
	}
	return judge, func(path string) bool { return bench.PrintFile(path, &job) }
}

// key tells jobs apart: by all that decides what is found and what is written.
func (f *watchFlags) key(job *preflight.Job) (string, error) {
	data, err := json.Marshal(struct {
		Version   string
		Job       *preflight.Job
		Page      int
		MaxPixels int64
		Outputs   judging.Outputs
	}{preflight.Version, job, int(f.page), f.maxPixels, f.outputs})
	if err != nil {
		return "", fmt.Errorf("internal error: %w", err)
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:8]), nil
}

// watchTeller prints what happens, in lines for people or as a log.
type watchTeller struct {
	*watchFlags
	say    *speaker
	dir    string
	failOn string
	log    *slog.Logger // nil for lines
	counts map[preflight.Verdict]int
	stop   func() // ends the watching
	err    error  // why nothing can be printed any more
}

// Write is where the log goes.
func (t *watchTeller) Write(p []byte) (int, error) {
	n, err := t.say.Write(p)
	t.failed(err)
	return n, err
}

// timeOfDay is how lines for people begin: when, in local time.
const timeOfDay = "15:04:05 "

func (t *watchTeller) line(text string) {
	t.failed(t.say.text(time.Now().Format(timeOfDay) + text + "\n"))
}

// failed ends the watching when there is nobody to tell: nobody would know that it runs.
func (t *watchTeller) failed(err error) {
	if err != nil && t.err == nil {
		t.err = problem.About("standard output", err)
		t.stop()
	}
}

func (t *watchTeller) tell(n watching.Note) {
	if n.Kind == watching.Judged {
		t.counts[n.Verdict]++
	}
	if t.once {
		t.raise(n)
	}
	if t.log != nil {
		t.record(n)
		return
	}
	switch n.Kind {
	case watching.Started:
		t.line(t.opening())
	case watching.Judged:
		t.line(t.judgedLine(n))
	case watching.Skipped:
		t.line(fmt.Sprintf("Not judged: %s, %s", t.place(n.Path), printFile))
	case watching.Apart:
		t.line(t.apartLine(n))
	case watching.Renamed:
		t.line(t.renamedLine(n))
	case watching.Changed:
		t.line(fmt.Sprintf("Changed: %s; it is taken back as %s and judged again", t.place(n.Path), t.place(n.MovedTo)))
	case watching.Stopped:
		t.line("Stopped. " + t.closing())
	}
	for _, p := range n.Problems {
		t.say.timed(time.Now().Format(timeOfDay), problemInFolder(p))
	}
}

// problemInFolder words a problem for whoever puts files into a folder.
func problemInFolder(err error) error { return errors.New(inFolder(err.Error())) }

// forFolder turns what the command says of its flags into what can be done in a folder.
var forFolder = strings.NewReplacer(
	"Say --width, --height or --ppi", "Save it with its resolution (pixels an inch), or, if all artwork in the folder is to be one width, write that into the folder's "+setup.DefaultConfig+" (width: 120mm)",
	"say --width, --height or --ppi", "save it with its resolution (pixels an inch), or, if all artwork in the folder is to be one width, write that into the folder's "+setup.DefaultConfig+" (width: 120mm)",
	"is to be printed and say it with --width, or export the artwork with its resolution", "is to be printed, and save it with the resolution (pixels an inch) that gives this width; or, if all artwork in the folder is to be one width, write that into the folder's "+setup.DefaultConfig+" (width: 120mm)",
	"or say --background drop", "or, if that holds for all artwork in the folder, write background: drop into its "+setup.DefaultConfig,
	"or say --white-drawn-as white", "or, if all artwork in the folder is drawn so, write white_drawn_as: white into its "+setup.DefaultConfig,
	"ask for one with --page N, or for all with --page all, which takes long; or split the file", "split the file into documents of fewer pages",
	"mend the file, or ask for one page with --page", "mend the file",
	"export it at a lower resolution or raise --max-pixels", "export it at a lower resolution",
	"ask for another with --page", "start the program anew without asking for a page",
	"check --width and --height", "check the width in the folder's "+setup.DefaultConfig,
)

// typedProcess is how a process is named on the command line.
var typedProcess = regexp.MustCompile(` \(--process [^ )]*\)`)

func inFolder(text string) string { return typedProcess.ReplaceAllString(forFolder.Replace(text), "") }

// printFile is why a print file of our own is not judged.
const printFile = "a print file that peelcheck prepared; the artwork that it was made from is what is judged"

// raise sets the exit code of --once.
func (t *watchTeller) raise(n watching.Note) {
	if n.Kind == watching.Judged && n.Counts.Reach(t.failOn) {
		t.say.raise(exitFindings)
	}
	if len(n.Problems) > 0 && n.Kind != watching.Resumed && !(n.Kind == watching.Refused && n.Before) {
		t.say.raise(exitTrouble)
	}
}

func (t *watchTeller) opening() string {
	text := fmt.Sprintf("Watching %s; reports go to %s.", report.Printable(filepath.ToSlash(t.dir)), report.Printable(filepath.ToSlash(t.out)))
	if !t.once {
		text += " Ctrl-C stops it."
	}
	return text
}

func (t *watchTeller) closing() string {
	judged := t.counts[preflight.Hold] + t.counts[preflight.Review] + t.counts[preflight.Ready]
	return fmt.Sprintf("Artwork judged: %d (%s)", judged, report.TotalWords(t.counts))
}

// judgedLine is what is printed for one file: its verdict, where it lies now, why, and the proof to open.
func (t *watchTeller) judgedLine(n watching.Note) string {
	name := t.place(n.Path)
	why := report.ReasonWords(n.Reasons, n.Counts, rules.All())
	if len(n.Because) > 0 {
		why += "; the verdict is that of " + pageWords(n.Because)
	}
	if n.MovedTo != "" {
		name = t.place(n.MovedTo)
		if filepath.Base(n.MovedTo) != filepath.Base(n.Path) {
			why += "; came as " + t.place(n.Path)
		}
	}
	if n.Before {
		why += "; judged before"
	}
	if n.Proof != "" {
		why += "; see " + shown(n.Proof)
	}
	if n.Proof != "" && n.Pages > 1 && len(n.Because) == 0 {
		why += fmt.Sprintf(" to .p%d", n.Last)
	}
	return report.Line(n.Verdict, name, why)
}

// apartLine tells of files that somebody put among the sorted artwork.
func (t *watchTeller) apartLine(n watching.Note) string {
	if n.Files == 1 {
		return fmt.Sprintf("Not looked at: %s; if it is new or mended artwork, put it into %s itself to have it judged", t.place(n.Path), shown(t.dir))
	}
	return fmt.Sprintf("Not looked at: %d files that were put among the sorted ones, %s the first of them; put new or mended artwork into %s itself to have it judged", n.Files, t.place(n.Path), shown(t.dir))
}

// renamedLine tells of sorted artwork that somebody gave another name, and that it was judged otherwise if it lies among what was.
func (t *watchTeller) renamedLine(n watching.Note) string {
	line := fmt.Sprintf("Renamed: %s is now %s", t.place(n.Path), t.place(n.MovedTo))
	if folder, _, _ := strings.Cut(filepath.ToSlash(n.MovedTo), "/"); n.Verdict != "" && folder != string(n.Verdict) {
		line += "; it was judged " + strings.ToUpper(string(n.Verdict))
	}
	if n.Proof != "" {
		line += "; see " + shown(n.Proof)
	}
	return line
}

// pageWords names pages by their numbers, the first few of many: "page 2", "pages 1, 3, 4 and 8 more".
func pageWords(pages []int) string {
	if len(pages) == 1 {
		return fmt.Sprintf("page %d", pages[0])
	}
	var words []string
	for _, n := range pages {
		words = append(words, strconv.Itoa(n))
	}
	return "pages " + report.Named(words, 3)
}

// place names a file below the folder watched as its results and the commands name theirs: from the current folder.
func (t *watchTeller) place(rel string) string { return shown(filepath.Join(t.dir, rel)) }

func shown(path string) string { return report.Printable(filepath.ToSlash(path)) }

// record writes one object of the log for what happened, and one for each problem.
func (t *watchTeller) record(n watching.Note) {
	what := string(n.Kind)
	switch n.Kind {
	case watching.Started:
		t.log.Info(what, "folder", filepath.ToSlash(t.dir), "out", filepath.ToSlash(t.out), "sort", t.sort)
	case watching.Stopped:
		t.log.Info(what, "ready", t.counts[preflight.Ready], "review", t.counts[preflight.Review], "hold", t.counts[preflight.Hold])
	case watching.Skipped:
		t.log.Info(what, "file", filepath.ToSlash(n.Path), "reason", printFile)
	case watching.Apart:
		t.log.Info(what, "file", filepath.ToSlash(n.Path), "files", n.Files)
	case watching.Renamed:
		t.log.Info(what, "file", filepath.ToSlash(n.Path), "moved_to", filepath.ToSlash(n.MovedTo), "report", filepath.ToSlash(n.Report), "proof", filepath.ToSlash(n.Proof))
	case watching.Changed:
		t.log.Info(what, "file", filepath.ToSlash(n.Path), "moved_to", filepath.ToSlash(n.MovedTo))
	case watching.Judged:
		t.log.Info(what, "file", filepath.ToSlash(n.Path), "page", n.Page, "page_count", n.Of, "pages_judged", n.Pages, "verdict_from_pages", n.Because, "verdict", n.Verdict, "errors", n.Counts.Error, "warnings", n.Counts.Warning,
			"notes", n.Counts.Note, "report", filepath.ToSlash(n.Report), "proof", filepath.ToSlash(n.Proof), "reasons", n.Reasons, "moved_to", filepath.ToSlash(n.MovedTo), "judged_before", n.Before)
	}
	for _, p := range n.Problems {
		reason := inFolder(p.Error())
		if n.Kind == watching.Resumed {
			t.log.Info(what, "reason", reason)
			continue
		}
		t.log.Error(what, "file", filepath.ToSlash(n.Path), "reason", reason)
	}
}
