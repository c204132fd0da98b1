package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

func newRules(say *speaker) *cobra.Command {
	f := jobFlags{Asked: setup.Asked{Tell: say.problem}}
	cmd := &cobra.Command{
		Use:   "rules [RULE]",
		Short: "Lists the rules, or explains one in full",
		Long: `Lists what is looked for, with the limits of the process. With the name of a rule it explains that rule: what it
sees, why it matters, how it is measured, how to mend it, and where its limit comes from.`,
		Args: atMostOne("rule"),
		RunE: func(cmd *cobra.Command, args []string) error {
			limits, err := f.limitsInForce()
			if err != nil {
				return err
			}
			if len(args) == 0 {
				return listRules(say, limits)
			}
			return explainRule(say, args[0], limits)
		},
	}
	cmd.Flags().StringVar(&f.Config, "config", "", "the shop's settings `FILE` (default "+setup.DefaultConfig+" in the current folder, if present)")
	cmd.Flags().StringVar(&f.Process, "process", "", "whose limits are shown: an `ID` that \"peelcheck process\" lists")
	return cmd
}

func (j *jobFlags) limitsInForce() (map[string]preflight.Limit, error) {
	shop, err := j.Settings()
	if err != nil {
		return nil, err
	}
	p, err := j.ChosenProcess(shop)
	if err != nil {
		return nil, err
	}
	return shop.ResolveLimits(p, nil)
}

func listRules(say *speaker, limits map[string]preflight.Limit) error {
	var out strings.Builder
	group := ""
	for _, r := range rules.All() { // which come by group
		if r.Group != group {
			group = r.Group
			fmt.Fprintf(&out, "%s\n", r.GroupTitle())
		}
		fmt.Fprintf(&out, "  %-20s %-8s %s%s\n", r.ID, r.Level, r.Title, limitTail(r, limits))
	}
	out.WriteString("\nOne rule in full: peelcheck rules RULE\n")
	return say.text(out.String())
}

func limitTail(r *preflight.Rule, limits map[string]preflight.Limit) string {
	if r.Limit.Name == "" {
		return ""
	}
	return fmt.Sprintf(" (%s)", report.Bound(r, limits[r.Limit.Name]))
}

func explainRule(say *speaker, id string, limits map[string]preflight.Limit) error {
	var ids []string
	for _, r := range rules.All() {
		ids = append(ids, r.ID)
		if r.ID == id {
			return say.text(ruleText(r, limits))
		}
	}
	remedy := "\"peelcheck rules\" lists them"
	if near := preflight.Nearest(id, ids); near != "" {
		remedy = fmt.Sprintf("did you mean %q?", near)
	}
	return &problem.Problem{Reason: fmt.Sprintf("there is no rule %q", id), Remedy: remedy}
}

func ruleText(r *preflight.Rule, limits map[string]preflight.Limit) string {
	var out strings.Builder
	fmt.Fprintf(&out, "%s: %s\n", r.ID, r.Title)
	fmt.Fprintf(&out, "Level: %s. Group: %s.\n", r.Level, r.GroupTitle())
	if r.Limit.Name != "" {
		l := limits[r.Limit.Name]
		fmt.Fprintf(&out, "Limit %q: %s %s %s, %s.\n", r.Limit.Name, r.Limit.Quantity, r.Limit.Sense, report.Quantity(l), l.From)
	}
	if slices.Contains(r.Needs, preflight.NeedSize) {
		out.WriteString("It looks only if the printed size is known.\n")
	}
	fmt.Fprintf(&out, "\n%s\n", docText(r.Doc))
	out.WriteString("\nWhat to do\n")
	fmt.Fprintf(&out, "%s\n\nSources\n", r.Remedy)
	for _, s := range r.Sources {
		fmt.Fprintf(&out, "- %s: %s\n", s.Title, s.Says)
	}
	return report.Wrap(out.String())
}

// docText takes the marks of Markdown headings off and joins the lines of a paragraph or list item.
func docText(doc string) string {
	var out strings.Builder
	open := false // a paragraph to which the next line belongs
	for line := range strings.Lines(strings.TrimSpace(doc)) {
		line = strings.TrimSpace(line)
		heading := strings.HasPrefix(line, "#")
		if open && (heading || line == "" || strings.HasPrefix(line, "- ")) {
			out.WriteString("\n")
		} else if open {
			out.WriteString(" ")
		}
		out.WriteString(strings.TrimLeft(line, "# "))
		if heading || line == "" {
			out.WriteString("\n")
		}
		open = !heading && line != ""
	}
	return out.String()
}
