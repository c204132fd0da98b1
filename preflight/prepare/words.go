package prepare

import (
	"fmt"
	"slices"
	"strings"

	"peelcheck/preflight"
	"peelcheck/preflight/impose"
)

// CheckJob is the job that the written file is to be judged for: white is drawn in it as the process's printer takes it, its size is its
// own, it reads the wrong way round if it was mirrored, and no place on a garment is asked for.
func (p *Prepared) CheckJob(job preflight.Job) preflight.Job {
	job.WhiteDrawnAs = ""
	switch job.Process.WhiteSource {
	case preflight.WhiteFromBlack, preflight.WhiteOnly:
		job.WhiteDrawnAs = "black"
	}
	job.Width, job.Height, job.PPI, job.Background = 0, 0, 0, preflight.BackgroundKeep
	job.Mirrored = p.File.Mirror
	job.Place = nil // a sheet may hold many designs
	return job
}

// Lines says in plain sentences what was done and how the file is to be printed; mirroring is spoken of once only.
func (p *Prepared) Lines() []string {
	out := append([]string{p.sheets()}, p.onSheets()...)
	if p.Tight > 0 {
		out = append(out, fmt.Sprintf("It fits only without the %.0f mm that trimming should have round the design: cut with care, or print it smaller.", p.Tight))
	}
	for _, s := range p.Saved {
		if line := savingWords(s); line != "" {
			out = append(out, line)
		}
	}
	for _, c := range p.Changes {
		out = append(out, preflight.DescribeChanges(c)...)
	}
	return append(out, p.mirror(), "Print it at 100 % scale on sheets of that size: switch every fit-to-page setting off.")
}

func (p *Prepared) sheets() string {
	used := 0.0
	var shares []string
	for _, s := range p.Layout.Sheets {
		used += s.Share
		shares = append(shares, fmt.Sprintf("%.0f %%", 100*s.Share))
	}
	n := len(p.Layout.Sheets)
	line := fmt.Sprintf("%s on %s of %.0f x %.0f mm; the designs take up %s of what the printer reaches.",
		copiesWords(p.Layout.Counts), plural(n, "sheet"), p.File.SheetWidthMM, p.File.SheetHeightMM, shareWords(shares, used))
	switch {
	case n == 1:
		return line
	case n == p.Layout.Bound:
		return line + " No layout can do with fewer sheets."
	}
	return line + fmt.Sprintf(" By their area alone %s might do.", plural(p.Layout.Bound, "sheet"))
}

// copiesWords says how many copies of how many designs there are.
func copiesWords(counts []int) string {
	switch first := counts[0]; {
	case len(counts) == 1:
		return plural(first, "copy") + " of 1 design"
	case slices.ContainsFunc(counts, func(n int) bool { return n != first }):
		return fmt.Sprintf("%d copies of %d designs", sum(counts), len(counts))
	default:
		return fmt.Sprintf("%s of each of %d designs", plural(first, "copy"), len(counts))
	}
}

// onSheets says what lies on each sheet and what is turned there, once for sheets in a row that hold the same. Copies of one design, all
// upright on one sheet, need no such line.
func (p *Prepared) onSheets() []string {
	var words []string
	for _, s := range p.Layout.Sheets {
		words = append(words, p.onSheet(s.Placements))
	}
	turned := p.anyTurned()
	if len(words) == 1 && len(p.File.Artworks) == 1 && !turned {
		return nil
	}
	var out []string
	for from := 0; from < len(words); {
		until := from + 1
		for until < len(words) && words[until] == words[from] {
			until++
		}
		which := fmt.Sprintf("Sheet %d: ", from+1)
		if until > from+1 {
			which = fmt.Sprintf("Sheets %d to %d, each: ", from+1, until)
		}
		out = append(out, which+words[from]+".")
		from = until
	}
	if turned {
		out = append(out, "The turning is done in the file: turn nothing more, and leave every setting off that turns pages.")
	}
	return out
}

func (p *Prepared) anyTurned() bool {
	return slices.ContainsFunc(p.Layout.Sheets, func(s impose.Imposed) bool {
		return slices.ContainsFunc(s.Placements, func(at impose.Placement) bool { return at.TurnDeg != 0 })
	})
}

// onSheet counts the copies of each design and those that are turned.
func (p *Prepared) onSheet(placed []impose.Placement) string {
	copies, turned := make([]int, len(p.File.Artworks)), make([]int, len(p.File.Artworks))
	for _, at := range placed {
		copies[at.Design]++
		if at.TurnDeg != 0 {
			turned[at.Design]++
		}
	}
	var parts []string
	for i, a := range p.File.Artworks {
		if copies[i] > 0 {
			parts = append(parts, plural(copies[i], "copy")+" of "+a.Name+turnedWords(turned[i], copies[i]))
		}
	}
	return strings.Join(parts, "; ")
}

func turnedWords(turned, copies int) string {
	switch {
	case turned == 0:
		return ""
	case turned < copies:
		return fmt.Sprintf(" (%d turned by 90 degrees to fit)", turned)
	case copies == 1:
		return " (turned by 90 degrees to fit)"
	}
	return " (all turned by 90 degrees to fit)"
}

func shareWords(shares []string, used float64) string {
	if len(shares) <= 3 {
		return strings.Join(shares, ", ")
	}
	return fmt.Sprintf("%.0f %% on average", 100*used/float64(len(shares)))
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	if stem, ok := strings.CutSuffix(word, "y"); ok {
		return fmt.Sprintf("%d %sies", n, stem)
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func (p *Prepared) mirror() string {
	if p.File.Mirror {
		return "The file is mirrored already: print it with mirror printing OFF in the printer's settings."
	}
	return "The file is not mirrored: print it with mirror printing ON in the printer's settings."
}

func savingWords(s preflight.Saving) string {
	if s.AreaMM2 == 0 {
		return "Nothing has nearly the garment's colour, so nothing was left out."
	}
	var parts []string
	for i, share := range s.Share {
		if share >= 0.005 {
			parts = append(parts, fmt.Sprintf("%.0f %% of the %s", 100*share, preflight.AllPlanes[i]))
		}
	}
	line := fmt.Sprintf("Left unprinted, being nearly the garment's colour: %.0f mm²", s.AreaMM2)
	if parts == nil {
		return line + "."
	}
	return line + ", which saves " + strings.Join(slices.Clip(parts), ", ") + "."
}
