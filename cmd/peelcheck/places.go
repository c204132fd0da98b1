package main

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func newPlaces(say *speaker) *cobra.Command {
	f := jobFlags{Asked: setup.Asked{Tell: say.problem}}
	var format string
	cmd := &cobra.Command{
		Use:   "places [NAME]",
		Short: "Lists the places on a garment, or shows one in full",
		Long: `Lists the places on a garment that --place may name, the shop's own and those built in, each with the largest design it
takes. With a NAME it shows one in full: where it usually lies, and what to mind there. The sizes built in are common
practice, no source: set your own under places: in peelcheck.yaml.`,
		Args: atMostOne("place"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := setup.OneOf("format", format, "text", "yaml"); err != nil {
				return err
			}
			shop, err := f.Settings()
			if err != nil {
				return err
			}
			if len(args) == 0 {
				return listPlaces(say, shop)
			}
			p, err := preflight.PlaceByName(args[0], shop.Places)
			if err != nil {
				return err
			}
			if p == nil {
				return fmt.Errorf("%q asks for no place, so there is nothing to show", args[0])
			}
			return showPlace(say, p, format)
		},
	}
	cmd.Flags().StringVar(&f.Config, "config", "", "the shop's settings `FILE` (default "+setup.DefaultConfig+" in the current folder, if present)")
	cmd.Flags().StringVar(&format, "format", "text", "how one place is written: `FORMAT` is text or yaml")
	return cmd
}

func listPlaces(say *speaker, shop *preflight.ShopConfig) error {
	var out strings.Builder
	for _, p := range preflight.PrintPlaces(shop.Places) {
		mark := ""
		if p.Name == shop.Place {
			mark = " (used unless --place says otherwise)"
		}
		line := fmt.Sprintf("%-14s %-14s %s%s", p.Name, placeSize(&p), p.Title, mark)
		out.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	out.WriteString("\nOne place in full: peelcheck places NAME\n")
	return say.text(out.String())
}

func placeSize(p *preflight.PrintPlace) string {
	return fmt.Sprintf("%g x %g mm", p.Width.MM(), p.Height.MM())
}

func showPlace(say *speaker, p *preflight.PrintPlace, format string) error {
	if format == "yaml" {
		text, err := yaml.Marshal([]*preflight.PrintPlace{p})
		if err != nil {
			return err
		}
		return say.text(string(text))
	}
	var out strings.Builder
	fmt.Fprintf(&out, "%s: %s\n", p.Name, setup.First(p.Title, "a place of this shop"))
	fmt.Fprintf(&out, "Largest design: %s, %s.\n", placeSize(p), p.Origin())
	for _, text := range []string{p.Where, p.Note} {
		if text != "" {
			fmt.Fprintf(&out, "%s\n", text)
		}
	}
	return say.text(report.Wrap(out.String()))
}
