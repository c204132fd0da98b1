package proof

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"peelcheck/preflight"
)

// nouns name many findings of a rule, and its worst one, in a line that gathers them.
var nouns = map[string]struct{ many, worst string }{
	"hairline":            {"thin lines", "thinnest"},
	"thin-gap":            {"narrow gaps", "narrowest"},
	"speck":               {"small dots", "smallest"},
	"pinhole":             {"small holes", "smallest"},
	"faint-tint":          {"faint tints", "faintest"},
	"soft-edge":           {"soft edges", "worst"},
	"stray-pixels":        {"groups of stray pixels", "worst"},
	"lost-white":          {"white areas that will not print", "largest"},
	"stray-white":         {"dark colours that print with white in them", "most"},
	"bare-colour":         {"colours with no white under them", "worst"},
	"blends-with-garment": {"colours too near the garment's", "worst"},
	"small-text":          {"pieces of small text", "smallest"},
	"heavy-area":          {"large heavy areas", "largest"},
	"low-ppi":             {"coarse pictures", "coarsest"},
}

// message is a cluster's plain sentence: the finding's own where there is but one, else which of all findings they are, and which of them
// but the one whose number the line has are shown close up.
func (c *cluster) message(all []preflight.Finding, closeUp []int) string {
	if len(c.members) == 1 {
		return c.worst.Message
	}
	ids := c.ids(all)
	if shown := closeUpWords(closeUp, func(i int) bool { return slices.Contains(c.members, i) && &all[i] != c.worst }, all); shown != "" {
		ids += "; " + shown
	}
	n, ok := nouns[c.rule]
	worst := c.worst.Measure.Words()
	if worst == "" && slices.ContainsFunc(c.members, func(m int) bool { return all[m].Message != c.worst.Message }) {
		return fmt.Sprintf("%d places (%s), among them: %s", len(c.members), ids, c.worst.Message)
	}
	if worst == "" {
		return fmt.Sprintf("%d places (%s): %s", len(c.members), ids, c.worst.Message)
	}
	if !ok {
		return fmt.Sprintf("%d places alike (%s). The worst: %s", len(c.members), ids, c.worst.Message)
	}
	if c.worst.Measure.Widthless() {
		worst = "without a width of its own"
	}
	return fmt.Sprintf("%d %s (%s), %s %s.", len(c.members), n.many, ids, n.worst, worst)
}

// ids lists the numbers of a cluster's findings, the first few of many.
func (c *cluster) ids(all []preflight.Finding) string {
	const most = 4
	ids := make([]int, len(c.members))
	for i, m := range c.members {
		ids[i] = all[m].ID
	}
	slices.Sort(ids)
	var words []string
	for i, id := range ids {
		if len(ids) > most && i == most-1 {
			return fmt.Sprintf("%s and %d more", strings.Join(words, ", "), len(ids)-i)
		}
		words = append(words, strconv.Itoa(id))
	}
	return strings.Join(words, ", ")
}

// closeUpWords says which of the findings shown close up, by their indexes, are among some; empty if none is.
func closeUpWords(closeUp []int, among func(i int) bool, all []preflight.Finding) string {
	var ids []int
	for _, i := range closeUp {
		if among(i) {
			ids = append(ids, all[i].ID)
		}
	}
	if len(ids) == 0 {
		return ""
	}
	slices.Sort(ids)
	var words []string
	for _, id := range ids {
		words = append(words, strconv.Itoa(id))
	}
	return "close up: " + strings.Join(words, ", ")
}

// word is what the list calls a cluster: its level, or that it is accepted or waived.
func (c *cluster) word() string {
	switch c.accepted {
	case preflight.AcceptedByWaiver:
		return "Waived"
	case preflight.AcceptedByBaseline:
		return "Accepted"
	}
	return levelWord(c.level)
}

func levelWord(l preflight.Level) string {
	switch l {
	case preflight.LevelError:
		return "Error"
	case preflight.LevelWarning:
		return "Warning"
	}
	return "Note"
}

// verdictWords are the verdict in capitals and what it asks of the person.
func verdictWords(v preflight.Verdict, c preflight.Counts) (word, asks string) {
	switch v {
	case preflight.Ready:
		if c.Accepted > 0 {
			return "READY", "Nothing counts against printing: what is marked has been accepted or waived."
		}
		return "READY", "Nothing was found that speaks against printing."
	case preflight.Review:
		return "REVIEW", "Look at the marked places before printing."
	}
	return "HOLD", "Do not print yet: mend the errors first."
}

// tally counts the findings in words, "3 errors, 1 warning".
func tally(c preflight.Counts) string {
	var parts []string
	for _, p := range []struct {
		n    int
		word string
	}{{c.Error, "error"}, {c.Warning, "warning"}, {c.Note, "note"}} {
		switch {
		case p.n == 1:
			parts = append(parts, "1 "+p.word)
		case p.n > 1:
			parts = append(parts, fmt.Sprintf("%d %ss", p.n, p.word))
		}
	}
	if n := c.Accepted - c.Waived; n > 0 {
		parts = append(parts, fmt.Sprintf("%d accepted", n))
	}
	if c.Waived > 0 {
		parts = append(parts, fmt.Sprintf("%d waived", c.Waived))
	}
	if len(parts) == 0 {
		return "no findings"
	}
	return strings.Join(parts, ", ")
}
