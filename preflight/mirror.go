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
	m, ok := s.textMirror()
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

// textMirror is what the text of a document tells; not ok where it tells nothing for sure.
func (s *Scene) textMirror() (m mirror, ok bool) {
	f := s.Facts()
	if f == nil {
		return m, false
	}
	letters, mirrored := 0, 0
	for _, t := range f.Texts {
		if t.Unseen {
			continue
		}
		letters += t.Letters
		if t.Mirrored {
			mirrored += t.Letters
			m.where = m.where.Union(s.FactPlace(t.Box))
		}
	}
	if letters < leastTextLetters {
		return mirror{}, false
	}
	share := float64(mirrored) / float64(letters)
	m.Evidence = fmt.Sprintf("of %d letters of the file's own text, %d are mirrored", letters, mirrored)
	m.Reads, m.Confidence = ReadsNormally, round3(1-share)
	if share > 0.5 {
		m.Reads, m.Confidence = ReadsMirrored, round3(share)
	}
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
