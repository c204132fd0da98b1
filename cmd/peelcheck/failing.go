package main

import (
	"fmt"
	"strings"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// failing names the artwork that makes the exit code 1, by the level that it fails at.
type failing struct {
	at  map[string][]string
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
		f.at = map[string][]string{}
	}
	f.at[rep.FailOn] = append(f.at[rep.FailOn], report.Title(rep))
	return true
}

// tell says what failed where it is not just what is on hold, since then nothing else on the terminal explains the exit code.
func (f *failing) tell(say *speaker) error {
	const most = 3 // they are all in the list above
	var words []string
	for _, l := range []struct{ level, words string }{{"error", "an error"}, {"warning", "a warning or worse"}, {"note", "a note or worse"}} {
		if names := f.at[l.level]; len(names) > 0 {
			words = append(words, fmt.Sprintf("%d with %s (%s)", len(names), l.words, report.NamedPages(names, most)))
		}
	}
	if len(words) == 0 || !f.odd {
		return nil
	}
	return say.text(fmt.Sprintf("Failed, by --fail-on or fail_on: %s\n", strings.Join(words, ", ")))
}
