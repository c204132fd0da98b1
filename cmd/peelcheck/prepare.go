package main

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/preparing"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/impose"
	"peelcheck/preflight/prepare"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

type prepareFlags struct {
	jobFlags
	out, failOn, turn       string
	copies                  copiesFlag
	spacing                 preflight.Length
	dropBackground, thicken bool
	knockOut, planes, force bool
}

func newPrepare(say *speaker) *cobra.Command {
	f := prepareFlags{copies: 1}
	cmd := &cobra.Command{
		Use:   "prepare FILE...",
		Short: "Writes what goes to the printer: white made, placed on the sheet",
		Long: `Writes a PDF for the printer, at exact size, to be printed at 100 %: white made as the process wants it, and
placed on the sheet with room to trim. The print must be mirrored exactly once: the program says whether the printer's
mirror setting must be on or off. Several files share sheets.

For lantern.png it writes lantern.print.pdf beside it, or into the folder of --out; for page 2 alone of a document of several pages
banner.p2.print.pdf. Several files go into one PDF that is named after the first. With --planes each plane is written as a picture too, black where it prints. Then it judges what it wrote, as
"peelcheck check" would, and says what is new. Artwork is never changed, and no file is overwritten without --force.

Exit codes: 0 nothing at or above --fail-on was found in the artwork, or with --thicken in what was written; 1 something
was, or something is new in the file; 2 nothing could be written, or the call was wrong.`,
		Example: `  peelcheck prepare lantern.png --width 240
  peelcheck prepare badge.pdf --copies fill --thicken
  peelcheck prepare moth.png reed.png hill.png --copies 2 --sheet a3`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &problem.Problem{Reason: "no file named", Remedy: "write: " + cmd.UseLine()}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return (&prepareRun{&f, say}).run(cmd.Context(), args)
		},
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	fs.Var(&f.copies, "copies", "copies of each design, `N`, or fill for as many as one sheet takes")
	fs.Var((*lengthFlag)(&f.spacing), "spacing", "room between designs, `L` (default: twice the trim clearance)")
	fs.StringVar(&f.turn, "turn", "each", "which designs may be turned by 90 degrees: `HOW` is each copy, alike (all copies of a design) or none")
	fs.BoolVar(&f.dropBackground, "drop-background", false, "take out a flat background that fills the border; the same as --background drop")
	fs.BoolVar(&f.thicken, "thicken", false, "grow strokes that are too thin, and open gaps that are too narrow, to the limits")
	fs.BoolVar(&f.knockOut, "knock-out", false, "leave areas of nearly the garment's colour unprinted")
	fs.BoolVar(&f.planes, "planes", false, "write each plane as a picture too")
	fs.StringVar(&f.out, "out", "", "folder `DIR` for what is written, made if missing (default: beside the artwork)")
	fs.BoolVar(&f.force, "force", false, "overwrite files of the same name")
	fs.StringVar(&f.failOn, "fail-on", "", "`LEVEL` that makes the exit code 1: error, warning, note or never (default error)")
	f.add(fs, say)
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
	say *speaker
}

func (r *prepareRun) run(ctx context.Context, names []string) error {
	call, err := r.begin(names)
	if err != nil {
		return err
	}
	done, err := call.Run(ctx)
	r.say.status("")
	switch {
	case err != nil && ctx.Err() != nil:
		return stopped(done.Written)
	case err != nil:
		return err
	}
	return r.tell(done)
}

// stopped says what an interrupt has left: whole files or none.
func stopped(written []string) error {
	if len(written) == 0 {
		return &problem.Problem{Reason: "stopped; nothing was written"}
	}
	return &problem.Problem{Reason: "stopped; written in full before that: " + strings.Join(written, ", ")}
}

// begin checks the whole call before any artwork is read.
func (r *prepareRun) begin(names []string) (*preparing.Call, error) {
	if r.dropBackground {
		if r.Background != "" && r.Background != preflight.BackgroundDrop {
			return nil, fmt.Errorf("--drop-background and --background %s contradict each other: give one of them", r.Background)
		}
		r.Background = preflight.BackgroundDrop
	}
	job, shop, err := r.job()
	if err != nil {
		return nil, err
	}
	if r.failOn, err = setup.OneOf("fail-on", setup.First(r.failOn, shop.FailOn, "error"), preflight.FailOnWords...); err != nil {
		return nil, err
	}
	if _, err := setup.OneOf("turn", r.turn, "each", "alike", "none"); err != nil {
		return nil, err
	}
	if r.out != "" {
		if err := makeOut(r.out); err != nil {
			return nil, err
		}
	}
	spacing := r.spacing.MM()
	if spacing == 0 {
		spacing = 2 * job.Limits["clearance"].Value
	}
	return &preparing.Call{
		Bench: r.bench(r.say), Job: job, Names: names, Page: int(r.page), Copies: int(r.copies),
		Layout: prepare.Options{Turn: turnings[r.turn], SpacingMM: spacing, Thicken: r.thicken, KnockOut: r.knockOut},
		Planes: r.planes, Force: r.force, To: judging.TargetOf(names[0], r.out),
		OnStep: r.say.status, OnNote: r.say.problem,
	}, nil
}

// tell prints what was done, how to print it, and what was found.
func (r *prepareRun) tell(done *preparing.Result) error {
	var text bytes.Buffer
	line := func(format string, args ...any) { text.WriteString(report.Wrap(fmt.Sprintf(format+"\n", args...))) }
	opt := report.TextOptions{Colour: r.say.outIsTerminal && r.say.colour, Rules: rules.All()}
	for i, rep := range done.Designs {
		a := done.Made.File.Artworks[i]
		line("%s: %s (%s); it prints %.1f x %.1f mm.", report.Printable(report.Title(rep)), strings.ToUpper(string(rep.Verdict)), report.Tally(rep.Counts), a.WidthMM, a.HeightMM)
		if err := report.Findings(&text, rep, opt); err != nil {
			return err
		}
	}
	counted := done.Designs
	if r.thicken { // what was wrong with the artwork may be mended in the file
		counted = done.Sheets
	}
	if slices.ContainsFunc(counted, func(rep *preflight.Report) bool { return rep.Counts.Reach(r.failOn) }) {
		r.say.raise(exitFindings)
	}
	for _, s := range done.Made.Lines() {
		line("%s", s)
	}
	line("Written: %s", report.Printable(strings.Join(done.Written, ", ")))
	if r.planes {
		line("The pictures of the planes are cut to what prints and not mirrored.")
	}
	news := done.News()
	for _, rep := range news {
		r.say.raise(exitFindings)
		line("New in the file, not in the artwork%s (%s):", whichSheet(rep), report.Tally(rep.Counts))
		if err := report.Findings(&text, rep, opt); err != nil {
			return err
		}
	}
	if len(news) == 0 {
		line("Judged again: nothing was found in the file that the artwork does not have.")
	}
	for _, s := range fileWords(done) {
		line("%s", s)
	}
	return r.say.text(text.String())
}

// whichSheet names the sheet of a report where there are several.
func whichSheet(rep *preflight.Report) string {
	if rep.Artwork.PageCount > 1 {
		return fmt.Sprintf(", sheet %d", rep.Artwork.Page)
	}
	return ""
}

// fileWords say how the written file was judged, and of what no check of the file can find: what is missing from it, and that its size is assumed.
func fileWords(done *preparing.Result) (lines []string) {
	worst := worstOf(done.Sheets)
	if worst == preflight.Ready {
		return []string{"The file itself is READY."}
	}
	missing, assumed, others := 0, false, 0
	for _, rep := range done.Sheets {
		for _, f := range rep.Findings {
			switch {
			case f.Level == preflight.LevelNote || f.Accepted != nil:
			case f.Rule == prepare.LostWhite:
				missing++
			case f.Rule == prepare.NoSize:
				assumed = true
			default:
				others++
			}
		}
	}
	lines = append(lines, fmt.Sprintf("The file itself is %s.", strings.ToUpper(string(worst))))
	if missing > 0 {
		places := "1 place"
		if missing > 1 {
			places = fmt.Sprintf("%d places", missing)
		}
		lines = append(lines, fmt.Sprintf("White is missing from it in %s, since the artwork draws it as white that does not print: mend the artwork as said above.", places))
	}
	if assumed {
		lines = append(lines, "Its size is assumed: ask how wide the whole picture is to be before you print it, then prepare it again with --width.")
	}
	if others > 0 {
		lines = append(lines, "For what was found in the file write: peelcheck check "+report.Printable(done.Written[len(done.Written)-1]))
	}
	return lines
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
