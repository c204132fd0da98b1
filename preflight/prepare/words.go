package prepare

import (
	"fmt"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// CheckJob is the job that the written file is to be judged for: white is drawn in it as the process's printer takes it, and its size is
// its own.
func (p *Prepared) CheckJob(job preflight.Job) preflight.Job {
	job.WhiteDrawnAs = ""
	if job.Process.WhiteSource != preflight.WhiteUnderbase {
		job.WhiteDrawnAs = "black"
	}
	job.Width, job.Height, job.PPI, job.Background = 0, 0, 0, preflight.BackgroundKeep
	return job
}

// Lines says in plain sentences what was done and how the file is to be printed; mirroring is spoken of once only.
func (p *Prepared) Lines() []string {
	out := []string{p.sheets()}
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
	copies, used := sum(p.Layout.Counts), 0.0
	var shares []string
	for _, s := range p.Layout.Sheets {
		used += s.Share
		shares = append(shares, fmt.Sprintf("%.0f %%", 100*s.Share))
	}
	n := len(p.Layout.Sheets)
	line := fmt.Sprintf("%s on %s of %.0f x %.0f mm; the designs take up %s of what the printer reaches.",
		plural(copies, "design"), plural(n, "sheet"), p.File.SheetWidthMM, p.File.SheetHeightMM, shareWords(shares, used))
	switch {
	case n == 1:
		return line
	case n == p.Layout.Bound:
		return line + " No layout can do with fewer sheets."
	}
	return line + fmt.Sprintf(" By their area alone %s might do.", plural(p.Layout.Bound, "sheet"))
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
