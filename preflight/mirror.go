package preflight

import (
	"fmt"
	"image"
	"math"

	"peelcheck/raster/lettering"
)

// The words of Mirror.Reads.
const (
	ReadsNormally = string(lettering.Normally)
	ReadsMirrored = string(lettering.Mirrored)
	ReadsUnknown  = string(lettering.Unknown)
)

// TextFacts are what a document's own text objects say about which way round its letters stand on the page.
type TextFacts struct {
	Letters  int             // that are shown
	Mirrored int             // those of them that are mirrored
	Where    image.Rectangle // round the mirrored ones, in pixels of the page as drawn
}

// leastTextLetters is from how many letters on the text of a document counts, and textShare how many of them must agree.
const (
	leastTextLetters = 4
	textShare        = 0.9
)

// mirror is which way round the artwork reads and where that was seen.
type mirror struct {
	Mirror
	where image.Rectangle
}

// Mirror says which way round the artwork reads, by the text of its document or else by the shapes of its lettering.
func (s *Scene) Mirror() Mirror { return s.reading().Mirror }

// LetteringBox is the smallest box that holds the lettering by which Mirror was told, empty where there is none.
func (s *Scene) LetteringBox() image.Rectangle { return s.reading().where }

func (s *Scene) findMirror() mirror {
	m, ok := s.Art.Text.mirror()
	if !ok {
		r := lettering.ReadMask(s.survey.ink)
		if !r.Clear() { // letters of a colour that does not print, or on one that does
			r = lettering.Read(s.pic.Pix, s.pic.Drawn)
		}
		m = readMirror(r)
	}
	// Every process mirrors once, in the file or at the printer, so artwork must read normally, unless it is that file.
	m.PrintMirrored = !s.Job.Mirrored
	return m
}

// mirror is what the text of a document tells; not ok where it tells nothing for sure.
func (t *TextFacts) mirror() (m mirror, ok bool) {
	if t == nil || t.Letters < leastTextLetters {
		return m, false
	}
	share := float64(t.Mirrored) / float64(t.Letters)
	m.Evidence = fmt.Sprintf("of %d letters of the file's own text, %d are mirrored", t.Letters, t.Mirrored)
	m.Reads, m.Confidence = ReadsNormally, 1-share
	if t.Mirrored > 0 {
		m.where = t.Where
	}
	if share > 0.5 {
		m.Reads, m.Confidence = ReadsMirrored, share
	}
	m.Confidence = round3(m.Confidence)
	return m, m.Confidence >= textShare
}

// mostSure is the most that shapes alone are taken to say.
const mostSure = 0.999

func readMirror(r lettering.Reading) mirror {
	m := mirror{Mirror: Mirror{Reads: string(r.Reads()), Evidence: evidence(r)}, where: r.Where}
	if m.Reads != ReadsUnknown {
		m.Confidence = round3(min(mostSure, 1/(1+math.Exp(-math.Abs(r.LogOdds)))))
	}
	return m
}

// evidence says in plain words what was seen.
func evidence(r lettering.Reading) string {
	if r.Letters == 0 {
		return "no lettering was found in the picture"
	}
	seen := fmt.Sprintf("%d shapes like letters, ", r.Letters)
	if r.Letters == 1 {
		seen = "1 shape like a letter, "
	}
	switch plain := r.Tell - r.TellMirrored; {
	case r.Tell == 0:
		seen += "none of which differs clearly from its mirror image"
	case r.TellMirrored == 0:
		seen += fmt.Sprintf("%d of which read normally and none mirrored", plain)
	case plain == 0:
		seen += fmt.Sprintf("%d of which read mirrored and none normally", r.TellMirrored)
	default:
		seen += fmt.Sprintf("%d of which read mirrored and %d normally", r.TellMirrored, plain)
	}
	if r.Reads() == lettering.Unknown {
		seen = "too little lettering to tell: " + seen
	}
	return seen
}
