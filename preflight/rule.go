package preflight

import (
	"image"
)

// Level says how serious a finding is; the words are SARIF 2.1.0's (3.27.10).
type Level string

// The levels, worst first.
const (
	LevelError   Level = "error"
	LevelWarning Level = "warning"
	LevelNote    Level = "note"
)

// Rank orders levels: 3 for error, 2 for warning, 1 for note, 0 for anything else.
func (l Level) Rank() int {
	switch l {
	case LevelError:
		return 3
	case LevelWarning:
		return 2
	case LevelNote:
		return 1
	}
	return 0
}

// Sense tells on which side of a limit artwork is safe.
type Sense string

// AtLeast means values under the limit are findings; AtMost means values over it are.
const (
	AtLeast Sense = "at least"
	AtMost  Sense = "at most"
)

// LimitSpec ties a rule to one limit of the process.
type LimitSpec struct {
	Name     string // a key of Limits; empty for a rule that has no limit
	Quantity string // what is measured: "width", "diameter", "strength"
	Sense    Sense
	Unit     string // of the measure, for a rule without a limit
}

// Need is something that must be known before a rule can look.
type Need string

// NeedSize means the printed size of the artwork is known; NeedPixels that the rule's limit is at least leastLimitPx pixels; NeedFacts that
// what a document says of its objects could be read. A picture has none, which is not a lack. NeedPlace means that a place on the garment was
// named; where nobody asked for one, a rule about it has nothing to say, and is not listed as skipped.
const (
	NeedSize   Need = "size"
	NeedPixels Need = "pixels"
	NeedFacts  Need = "facts"
	NeedPlace  Need = "place"
	// NeedLettering means it is known which way round the artwork reads.
	NeedLettering Need = "lettering"
)

// leastLimitPx is the limit, in pixels, under which edges cannot be told from pixels: at 0.35 mm about 110 pixels an inch.
const leastLimitPx = 1.5

// Source says where a rule's limit or method comes from.
type Source struct {
	Title string // the standard, book or paper, or "common practice, no source"
	Says  string // what is taken from it
}

// Rule looks for one fault and measures one thing against at most one limit. Rules are values; they hold no state.
type Rule struct {
	ID      string // kebab-case, never renamed once released
	Title   string // lower-case phrase saying what is wrong, no period, at most 60 letters
	Group   string // "detail", "hold", "white", "size and orientation", "look and feel", "documents"
	Doc     string // Markdown with the fixed headings of DocHeadings, embedded from doc.md
	Sources []Source
	Level   Level
	Limit   LimitSpec
	Needs   []Need
	Remedy  string // what to do next, a plain sentence with its period
	// Run looks at the scene and returns what it found. limit is in the limit's own unit, 0 for a rule without one.
	// It must not modify the scene and may be called from many goroutines.
	Run func(s *Scene, limit float64) []Hit
}

// groupTitles are headings that say more than a group's own name. A group called hold beside the verdict of that name misleads.
var groupTitles = map[string]string{"detail": "fine detail", "hold": "faint and fading parts"}

// GroupTitle is what the rule's group is called where people read it.
func (r *Rule) GroupTitle() string {
	if title, ok := groupTitles[r.Group]; ok {
		return title
	}
	return r.Group
}

// Hit is what a rule returns for one place. Judge turns it into a Finding.
type Hit struct {
	Where   image.Rectangle // half-open, in pixels of the scene
	At      image.Point     // a pixel of what was found, near the middle of Where; the zero point where that is all of Where
	Plane   Plane           // the plane judged, empty where all that prints counts
	Value   float64         // in the limit's unit
	Message string          // a plain sentence without the rule's limit; Judge adds nothing to it
	Level   Level           // empty for the rule's own level
	Remedy  string          // empty for the rule's own remedy

	LengthMM, AreaMM2 float64 // 0 where they mean nothing
}

// DocHeadings are the headings that every rule's doc.md has, in this order.
var DocHeadings = []string{"What it sees", "Why it matters", "How it is measured", "How to mend it", "When to ignore it"}
