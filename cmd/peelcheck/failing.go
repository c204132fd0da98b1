package main

import (
	"fmt"
	"strings"

	"peelcheck/preflight"
)

// failing counts the artwork that makes the exit code 1, by the level that it fails at.
type failing struct {
	at  map[string]int
	odd bool // some of it is not on hold, or some on hold is not of it
}

// add reports whether an artwork fails.
func (f *failing) add(rep *preflight.Report) bool {
	fails := rep.Counts.Reach(rep.FailOn)
	f.odd = f.odd || fails != (rep.Verdict == preflight.Hold)
	if !fails {
		return false
	}
	if f.at == nil {
		f.at = map[string]int{}
	}
	f.at[rep.FailOn]++
	return true
}

// tell says what failed where it is not just what is on hold, since then nothing else on the terminal explains the exit code.
func (f *failing) tell(say *speaker) error {
	var words []string
	n := 0
	for _, level := range preflight.FailOnWords {
		if f.at[level] > 0 {
			n += f.at[level]
			words = append(words, fmt.Sprintf("%d for findings of level %s%s", f.at[level], level, map[bool]string{false: " or worse"}[level == string(preflight.LevelError)]))
		}
	}
	if n == 0 || !f.odd {
		return nil
	}
	return say.text(fmt.Sprintf("Failed, by --fail-on or fail_on: %d (%s)\n", n, strings.Join(words, ", ")))
}
