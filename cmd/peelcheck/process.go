package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func newProcess(say *speaker) *cobra.Command {
	f := jobFlags{Asked: setup.Asked{Tell: say.problem}}
	var format string
	cmd := &cobra.Command{
		Use:   "process [ID]",
		Short: "Lists the processes, or shows one in full",
		Long: `Lists the ways of printing white and colour that are known, built in or the shop's own. With an ID it shows one in
full: where white comes from, its limits, its sheets, and how to print and press.`,
		Args: atMostOne("process"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := setup.OneOf("format", format, "text", "yaml"); err != nil {
				return err
			}
			shop, err := f.Settings()
			if err != nil {
				return err
			}
			if len(args) == 0 {
				return listProcesses(say, shop)
			}
			p, err := shop.ProcessByID(args[0])
			if err != nil {
				return err
			}
			return showProcess(say, shop, p, format)
		},
	}
	cmd.Flags().StringVar(&f.Config, "config", "", "the shop's settings `FILE` (default "+setup.DefaultConfig+" in the current folder, if present)")
	cmd.Flags().StringVar(&format, "format", "text", "how one process is written: `FORMAT` is text or yaml")
	return cmd
}

func listProcesses(say *speaker, shop *preflight.ShopConfig) error {
	standard, err := shop.DefaultProcess()
	if err != nil {
		return err
	}
	var out strings.Builder
	for _, p := range slices.Concat(shop.Processes, preflight.Processes()) {
		mark := ""
		if p.ID == standard.ID {
			mark = " (used unless --process says otherwise)"
		}
		fmt.Fprintf(&out, "%-24s %s%s\n", p.ID, p.Title, mark)
	}
	out.WriteString("\nOne process in full: peelcheck process ID\n")
	return say.text(out.String())
}

func showProcess(say *speaker, shop *preflight.ShopConfig, p *preflight.Process, format string) error {
	if format == "yaml" {
		text, err := yaml.Marshal(p)
		if err != nil {
			return err
		}
		return say.text(string(text))
	}
	limits, err := shop.ResolveLimits(p, nil)
	if err != nil {
		return err
	}
	return say.text(report.Wrap(processText(p, limits)))
}

// limitWords says in plain words what each limit is.
var limitWords = map[string]string{
	"line":      "thinnest line that holds",
	"gap":       "narrowest gap that stays open",
	"dot":       "smallest separate dot that holds",
	"hole":      "smallest hole that stays open",
	"tint":      "lightest tint that holds",
	"stray":     "most white that may mix into a colour",
	"ppi":       "fewest pixels an inch",
	"text":      "smallest height of small letters",
	"clearance": "least room round the design for trimming",
	"solid":     "widest disc of unbroken print",
	"contrast":  "least colour difference from the garment",
}

func processText(p *preflight.Process, limits map[string]preflight.Limit) string {
	var out strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&out, format+"\n", args...) }
	line("%s: %s", p.ID, p.Title)
	line("%s", p.About)
	line("\nWhite")
	line("- White is drawn %s in the artwork; %s.", p.WhiteDrawnAs, whiteWords(p))
	line("- What is printed: %s.", strings.Join(planeWords(p.Planes), ", "))
	line("- Mirroring: %s.", mirrorWords(p.Mirror))
	line("\nLimits")
	for _, name := range preflight.LimitNames {
		line("- %s: %s; %s, %s", name, limitWords[name], report.Quantity(limits[name]), limits[name].From)
	}
	line("\nSheets")
	line("- %s; the printer leaves %.1f mm at each edge", strings.Join(p.Sheets, ", "), p.MarginMM)
	line("\nPrint")
	for _, n := range p.PrintNotes {
		line("- %s", n)
	}
	for _, f := range p.Fabrics {
		line("\nPress on %s", f.Name)
		for i, s := range f.Steps {
			line("%d. %s", i+1, report.Step(s))
		}
	}
	line("\nCautions")
	for _, c := range p.Cautions {
		line("- %s", c)
	}
	return out.String()
}

func whiteWords(p *preflight.Process) string {
	switch p.WhiteSource {
	case preflight.WhiteFromBlack:
		return "it comes from the printer's black station, so no true black can print"
	case preflight.WhiteUnderbase:
		return fmt.Sprintf("white also lies under all colour, pulled in by %.2f mm at the edge", p.ChokeMM)
	case preflight.WhiteBeside:
		return "it prints next to colour, never under it, and colour is left out where it prints"
	}
	return "white is all that prints"
}

func planeWords(planes []preflight.Plane) []string {
	var out []string
	for _, p := range planes {
		out = append(out, string(p))
	}
	return out
}

func mirrorWords(who string) string {
	if who == "file" {
		return "in the file that goes to the printer"
	}
	return "in the printer's settings"
}
