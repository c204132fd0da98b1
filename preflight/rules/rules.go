// Package rules is the list of all rules. The list itself, all.go, is made from the folders beside it.
package rules

import (
	"cmp"
	"slices"

	"peelcheck/preflight"
)

//go:generate go run ./internal/generate

// groups is the order in which rules are reported and listed.
var groups = []string{"detail", "hold", "white", "size and orientation", "look and feel", "documents"}

// All returns every rule, by group and then by id. Callers must not modify the rules.
func All() []*preflight.Rule {
	out := slices.Clone(all)
	slices.SortStableFunc(out, func(a, b *preflight.Rule) int {
		return cmp.Or(cmp.Compare(slices.Index(groups, a.Group), slices.Index(groups, b.Group)), cmp.Compare(a.ID, b.ID))
	})
	return out
}
