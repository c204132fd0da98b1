package main

import (
	"slices"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/rules"
)

// readableKinds are extensions of files that can be judged; what is inside counts, but a shell sees only names.
var readableKinds = []string{"png", "jpg", "jpeg", "tif", "tiff", "webp", "bmp", "gif", "pdf"}

// words answers a shell that asks how an argument or a flag's value goes on.
type words = func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective)

// fixed are the same words always.
func fixed(list ...string) words {
	return cobra.FixedCompletions(list, cobra.ShellCompDirectiveNoFileComp)
}

// completeWords tells shells what may stand for arguments and for the values of flags.
func completeWords(root *cobra.Command) {
	values := map[string]words{
		"process":        completeProcess,
		"fabric":         completeFabric,
		"sheet":          completeSheet,
		"place":          completePlace,
		"garment":        fixed(preflight.GarmentNames()...),
		"white-drawn-as": fixed("black", "white"),
		"background":     fixed(preflight.BackgroundKeep, preflight.BackgroundDrop, preflight.BackgroundAuto),
		"fail-on":        fixed(preflight.FailOnWords...),
		"page":           fixed("all"),
		"copies":         fixed("fill"),
		"log-format":     fixed(logFormats...),
		"turn":           fixed("each", "alike", "none"),
		"out":            completeFolder,
		"config":         fileKinds("yaml", "yml"),
		"summary":        fileKinds("md"),
		"cache":          completeFolder,
		"baseline":       fileKinds("json"),
		"write-baseline": fileKinds("json"),
		"waivers":        fileKinds("yaml", "yml"),
	}
	formatsOf := map[string]words{"check": fixed(formats...), "merge": fixed(formats...), "process": fixed("text", "yaml"), "places": fixed("text", "yaml")}
	for _, c := range root.Commands() {
		for name, answer := range values {
			completeFlag(c, name, answer)
		}
		if answer := formatsOf[c.Name()]; answer != nil {
			completeFlag(c, "format", answer)
		}
		switch c.Name() {
		case "check", "prepare", "ticket":
			c.ValidArgsFunction = fileKinds(readableKinds...)
		case "merge":
			c.ValidArgsFunction = fileKinds("json")
		case "rules":
			c.ValidArgsFunction = onlyFirst(completeRule)
		case "process":
			c.ValidArgsFunction = onlyFirst(completeProcess)
		case "places":
			c.ValidArgsFunction = onlyFirst(completePlace)
		case "man":
			c.ValidArgsFunction = completeFolder
		case "watch":
			c.ValidArgsFunction = onlyFirst(completeFolder)
		default:
			c.ValidArgsFunction = fixed()
		}
	}
}

func completeFlag(c *cobra.Command, name string, answer words) {
	if c.Flags().Lookup(name) == nil {
		return
	}
	if err := c.RegisterFlagCompletionFunc(name, answer); err != nil {
		panic("peelcheck: completion of --" + name + " (bug): " + err.Error())
	}
}

func fileKinds(extensions ...string) words {
	return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return extensions, cobra.ShellCompDirectiveFilterFileExt
	}
}

func completeFolder(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

// onlyFirst answers for the first argument; there is no second.
func onlyFirst(answer words) words {
	return func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return answer(cmd, args, begun)
	}
}

// shopOf is what the shop's file says, nothing if it cannot be read: the command itself will say why.
func shopOf(cmd *cobra.Command) (*preflight.ShopConfig, *setup.Asked) {
	asked := &setup.Asked{Config: valueOf(cmd, "config"), Process: valueOf(cmd, "process")}
	if cmd.Name() == "init" {
		asked.Config = ""
	}
	shop, err := asked.Settings()
	if err != nil {
		shop = &preflight.ShopConfig{}
	}
	return shop, asked
}

func valueOf(cmd *cobra.Command, name string) string {
	if f := cmd.Flags().Lookup(name); f != nil {
		return f.Value.String()
	}
	return ""
}

func completeProcess(cmd *cobra.Command, _ []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	shop, _ := shopOf(cmd)
	var list []cobra.Completion
	for _, p := range slices.Concat(shop.Processes, preflight.Processes()) {
		list = append(list, cobra.CompletionWithDesc(p.ID, p.Title))
	}
	return list, cobra.ShellCompDirectiveNoFileComp
}

func completeFabric(cmd *cobra.Command, _ []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	shop, asked := shopOf(cmd)
	p, err := asked.ChosenProcess(shop)
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var list []cobra.Completion
	for _, f := range p.Fabrics {
		list = append(list, f.Name)
	}
	return list, cobra.ShellCompDirectiveNoFileComp
}

func completeSheet(cmd *cobra.Command, _ []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	shop, _ := shopOf(cmd)
	var list []cobra.Completion
	for _, s := range shop.Sheets {
		list = append(list, s.Name)
	}
	return append(list, preflight.SheetNames()...), cobra.ShellCompDirectiveNoFileComp
}

func completePlace(cmd *cobra.Command, _ []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	shop, _ := shopOf(cmd)
	var list []cobra.Completion
	for _, p := range preflight.PrintPlaces(shop.Places) {
		list = append(list, cobra.CompletionWithDesc(p.Name, p.Title))
	}
	if cmd.Name() != "places" {
		list = append(list, preflight.NoPlace)
	}
	return list, cobra.ShellCompDirectiveNoFileComp
}

func completeRule(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
	var list []cobra.Completion
	for _, r := range rules.All() {
		list = append(list, cobra.CompletionWithDesc(r.ID, r.Title))
	}
	return list, cobra.ShellCompDirectiveNoFileComp
}
