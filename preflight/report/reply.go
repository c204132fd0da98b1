package report

import (
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// What the customer is told, rule by rule: what is wrong, and what to do. The words are for somebody who drew a picture and prints nothing.

// wording is what the customer is told of one rule's findings.
type wording struct {
	wrong func(r *replied) string
	do    func(r *replied) string
}

// replied is a group of findings on its way into the reply.
type replied struct {
	*Group
	rep   *preflight.Report
	worst *preflight.Finding
}

// sizes words findings of a measure in millimetres: many things that are too small by their name, and what becomes of them.
func sizes(one, many, adjective, dimension, becomes, do string) wording {
	return wording{
		wrong: func(r *replied) string {
			m := r.worst.Measure
			what := fmt.Sprintf("One %s is too %s: it is", one, adjective)
			if r.Count > 1 {
				what = fmt.Sprintf("%d %s are too %s: the worst is", r.Count, many, adjective)
			}
			is := hundredths(m.Value) + " mm " + dimension
			switch {
			case m.Widthless():
				is = "one without a width of its own, which every printer draws as thin as it can"
			case m.Value < 0.005:
				is = preflight.Amount(m.Value, m.Unit) + " " + dimension
			}
			return fmt.Sprintf("%s %s. Under %s mm a %s %s.", what, is, hundredths(m.Limit), one, becomes)
		},
		do: func(r *replied) string { return fmt.Sprintf(do, hundredths(r.worst.Measure.Limit)) },
	}
}

// always words findings alike, whatever was measured.
func always(wrong, do string) wording {
	return wording{func(*replied) string { return wrong }, func(*replied) string { return do }}
}

// wordings has the customer's words for each rule. Rules with empty words are the shop's own business.
var wordings = map[string]wording{
	"hairline": sizes("line", "lines", "thin", "wide", "does not stay on the cloth",
		"Please make every line at least %s mm wide, or take out what is thinner."),
	"thin-gap": sizes("gap between two shapes", "gaps between shapes", "narrow", "wide", "closes when it is pressed",
		"Please open every gap to at least %s mm, or close it for good."),
	"speck": sizes("separate dot", "separate dots", "small", "across", "falls off",
		"Please make every dot at least %s mm across, or take it out."),
	"pinhole": sizes("hole", "holes", "small", "across", "fills in",
		"Please open every hole to at least %s mm across, or fill it."),
	"faint-tint": {
		func(r *replied) string {
			m := r.worst.Measure
			return fmt.Sprintf("A pale area is too pale to hold: it has %.0f %% of full strength, and it needs %.0f %%.", 100*m.Value, math.Ceil(100*m.Limit-1e-9))
		},
		func(*replied) string { return "Please make it stronger, or take it out." },
	},
	"soft-edge": always("A shadow, glow or soft edge fades to nothing, and its pale end does not hold.",
		"Please take it out, or give it a hard edge."),
	"stray-pixels": always("Round the design there are left-over marks so pale that a screen hardly shows them. They would print.",
		"Please erase them: a strong colour put behind the design shows where they are."),
	"lost-white": always("Places that are drawn white would stay unprinted, and the garment would show there.",
		"Please draw black what should come out white, or tell us that the garment may show there."),
	"stray-white": always("Dark colours would pick up white when printed, and come out pale.",
		"Please use a lighter or purer colour there, or tell us if these places should come out white."),
	"white-box": {
		func(r *replied) string {
			return fmt.Sprintf("The design stands on a flat background, which would print as a box of %.0f x %.0f mm.", r.rep.Artwork.WidthMM, r.rep.Artwork.HeightMM)
		},
		func(*replied) string {
			return "Please send it with a transparent background, or tell us that the box is meant."
		},
	},
	"bare-colour": always("Parts drawn in colour are too fine for the white that goes under them, and would come out dull.",
		"Please make them thicker, or draw them white."),
	"fringe": always("A thin rim of the old background runs along the edge of the design and would show on the garment.",
		"Please cut the design out a little closer, so that the rim is gone."),
	"blank": always("Nothing in the file would print.",
		"Please look whether the design is hidden, all white, or on another page, and send the file again."),
	"no-size": always("The file does not say how large it is to be printed.",
		"Please tell us how many millimetres wide the whole picture is to be, its empty edges included."),
	"low-ppi": {
		func(r *replied) string {
			a := r.rep.Artwork
			if a.Format == "pdf" { // the pictures on a page, each with its place
				return fmt.Sprintf("A picture in the file is too coarse for the size at which it stands there: it has %.0f pixels an inch, and its edges would look stepped.", r.worst.Measure.Value)
			}
			return fmt.Sprintf("The picture is too coarse for its size: printed %.0f mm wide it has %d pixels across, and its edges would look stepped.", a.WidthMM, a.WidthPx)
		},
		func(r *replied) string {
			a := r.rep.Artwork
			if a.Format == "pdf" {
				return fmt.Sprintf("Please put in one with %.1f times as many pixels each way%s.", math.Ceil(10*r.worst.Measure.Limit/max(r.worst.Measure.Value, 1))/10, orSmaller(r.rep))
			}
			return fmt.Sprintf("Please send it with at least %.0f pixels across, or as the drawing itself in a PDF%s.",
				math.Ceil(float64(a.WidthPx)*r.worst.Measure.Limit/max(a.PPIX, 1)), orSmaller(r.rep))
		},
	},
	"off-sheet": {
		func(r *replied) string {
			a, p := r.rep.Artwork, r.rep.Placement.PrintableMM
			return fmt.Sprintf("The whole picture is %.1f x %.1f mm, and what is drawn in it is larger than we can print on one sheet, %.0f x %.0f mm.", a.WidthMM, a.HeightMM, p.W, p.H)
		},
		func(r *replied) string {
			return "Please tell us whether we may print it smaller" + sizeThatFits(r.rep) + "."
		},
	},
	"off-place": {
		func(r *replied) string {
			a, p := r.rep.Artwork, r.rep.Job.Place
			if p == nil { // the report is not whole
				return "The design is larger than its place on the garment takes."
			}
			return fmt.Sprintf("The whole picture is %.1f x %.1f mm, and what is drawn in it is larger than its place on the garment (%s) takes, %.0f x %.0f mm.", a.WidthMM, a.HeightMM, p.Name, p.WidthMM, p.HeightMM)
		},
		func(r *replied) string {
			return "Please tell us whether we may print it smaller" + sizeThatFits(r.rep) + "; or where else it should go."
		},
	},
	"edge-clearance": {
		func(*replied) string { return "The design comes too close to the edge of the sheet that we print on." },
		func(r *replied) string {
			if size := sizeThatFits(r.rep); size != "" {
				return "Please tell us whether we may print it a little smaller" + size + "."
			}
			return "Please tell us whether we may move it inwards, or print it a little smaller."
		},
	},
	"heavy-area": always("A large area without a break will feel stiff on the garment, and may crack where the cloth folds.",
		"Please tell us that this is all right, or break the area up with gaps or a pattern."),
	"blends-with-garment": {
		func(r *replied) string {
			return fmt.Sprintf("A colour of the design is so near the garment's own (%s) that it would hardly show.", Printable(r.rep.Job.Garment))
		},
		func(*replied) string {
			return "Please choose another colour or another garment, or give it an outline."
		},
	},
	"font-missing": always("The file uses a font that is not in it, so the text would come out in another one.",
		"Please save it with all fonts embedded, or turn the text into outlines."),
	"small-text": {
		func(r *replied) string {
			return fmt.Sprintf("Some text is too small to stay readable: its letters are %.1f mm high, and they need %.1f mm.", r.worst.Measure.Value, r.worst.Measure.Limit)
		},
		func(*replied) string { return "Please set it larger, or leave it out." },
	},
	"hidden-layer": always("The file has a layer that shows on a screen and does not print, or the other way round.",
		"Please tell us which is right, or send the file with only what is meant."),
	"page-note": always("A note, stamp or form field lies on the page and is no part of the drawing.",
		"Please take it out, or flatten it into the drawing if it belongs there."),
	"overprint": always("White that is set to overprint would vanish, and what lies under it would print instead.",
		"Please switch overprint off and save the file again."),
	"outside-page": {},
	"spot-unknown": always("The file uses a special ink that we do not have. It would be mixed from ordinary colours and may look different.",
		"Please send the design in ordinary colours, or tell us what the ink should look like."),
	"mirrored": always("The lettering of the design reads the wrong way round, as in a mirror.",
		"Please send it the way round that it is to be worn: we mirror it ourselves when we print. Or tell us that it is meant so."),
	"turned":     {},
	"unprepared": {},
}

// orSmaller offers to print a coarse picture smaller, where that would be of use.
func orSmaller(rep *preflight.Report) string {
	if rep.Sizes != nil && rep.Sizes.OfNoUse() {
		return ": as it is, we cannot use it at this size"
	}
	return ", or tell us that we may print it smaller"
}

// sizeThatFits goes on with the largest size of the whole picture that suits the sheet, the place and the pixels and needs no turning, if there is
// one; empty where none is smaller.
func sizeThatFits(rep *preflight.Report) string {
	z := rep.Sizes
	if z == nil || z.Most.Scale >= 1 || z.OfNoUse() {
		return ""
	}
	size := z.MostAsItLies().PictureMM
	return fmt.Sprintf(": the whole picture at %.1f x %.1f mm would fit", size.W, size.H)
}

// aboutSize tells of the size once more, all wishes taken together. As everywhere in the letter it is that of the whole picture, so that an answer
// can be asked for as it is.
func aboutSize(rep *preflight.Report) string {
	z := rep.Sizes
	size := z.MostAsItLies()
	text := fmt.Sprintf("About the size, all taken together: with the whole picture, its empty edges included, printed at %.1f x %.1f mm or less, the design suits %s.",
		size.PictureMM.W, size.PictureMM.H, preflight.Listed(z.Suited(rep)))
	if larger := z.Most.PictureMM; larger != size.PictureMM {
		text += fmt.Sprintf(" If we turn it by a quarter on our sheet, it may be up to %.1f x %.1f mm.", larger.W, larger.H)
	}
	switch {
	case !z.SuitsAll:
		text += " Its finest detail is too fine for that size, so please make it stronger."
	case z.Least != nil:
		text += fmt.Sprintf(" From %.1f x %.1f mm on its finest detail holds, too.", z.Least.PictureMM.W, z.Least.PictureMM.H)
	case size.Scale < 1:
		text += " Fine detail shrinks with it, so we shall look at it again."
	}
	return text
}

const fromLeft = " from left"

// mostPlaces is how many places of a kind the customer is shown.
const mostPlaces = 3

// replies writes letters under one another.
type replies struct {
	w     io.Writer
	begun bool
}

// NewReplies returns a Writer of Reply for each report; from the second on a line stands before each.
func NewReplies(w io.Writer) Writer { return &replies{w: w} }

func (r *replies) Add(rep *preflight.Report) error {
	text := Reply(rep)
	if r.begun {
		text = "\n" + strings.Repeat("-", 72) + "\n\n" + text
	}
	r.begun = true
	if _, err := io.WriteString(r.w, text); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

func (*replies) Fail(Trouble) error { return nil }

func (*replies) Close() error { return nil }

// Reply is a short letter to the customer about one judged artwork: what is wrong, and what to do, in plain words and millimetres. Notes
// and what the shop settles by itself are left out.
func Reply(rep *preflight.Report) string {
	var points []string
	must := false
	for _, g := range Groups(forCustomer(rep.Findings), mostPlaces) {
		if point := replyTo(rep, g); point != "" {
			points = append(points, fmt.Sprintf("%d. %s", len(points)+1, point))
			must = must || g.Level == preflight.LevelError || g.Rule == "no-size"
		}
	}
	lines := []string{"Hello,", "", fmt.Sprintf("thank you for %s. %s", calledByCustomer(rep), lookedAt(rep))}
	switch {
	case len(points) == 0:
		lines = append(lines, "", "We found nothing that speaks against printing it as it is.")
	case must:
		lines = append(lines, "", "Before we can print it, we need your help:")
	default:
		lines = append(lines, "", "We can print it, but please look at this first:")
	}
	for _, p := range points {
		lines = append(lines, "", p)
	}
	if strings.Contains(strings.Join(points, ""), fromLeft) {
		lines = append(lines, "", "Places are measured to the upper left corner of what is meant, from the left and the upper edge of the whole picture, at the size printed.")
	}
	if len(points) > 0 && rep.SizeAdvised() && !rep.Sizes.OfNoUse() {
		lines = append(lines, "", aboutSize(rep))
	}
	if len(points) > 0 {
		lines = append(lines, "", "Please answer this message, or send the changed file. If anything is unclear, just ask: we are glad to help.")
	}
	return strings.Join(append(lines, "", "Kind regards", ""), "\n")
}

// forCustomer leaves notes and what is accepted out, and gives all findings of a rule its worst level: whoever drew the picture mends them
// alike, so they are told once.
func forCustomer(findings []preflight.Finding) []preflight.Finding {
	worst := map[string]preflight.Level{}
	var list []preflight.Finding
	for _, f := range findings {
		if f.Level == preflight.LevelNote || f.Accepted != nil {
			continue
		}
		if l, ok := worst[f.Rule]; !ok || f.Level.Rank() > l.Rank() {
			worst[f.Rule] = f.Level
		}
		list = append(list, f)
	}
	for i := range list {
		list[i].Level = worst[list[i].Rule]
	}
	return list
}

// calledByCustomer names the artwork without the folder that it lies in here.
func calledByCustomer(rep *preflight.Report) string {
	name := fmt.Sprintf("“%s”", Printable(path.Base(rep.Artwork.File)))
	if rep.Artwork.PageCount > 1 {
		return fmt.Sprintf("page %d of %s", rep.Artwork.Page, name)
	}
	return name
}

func lookedAt(rep *preflight.Report) string {
	a := rep.Artwork
	if a.PPIFrom == "assumed" {
		return fmt.Sprintf("We looked at it for printing on a garment (%s).", Printable(rep.Job.Garment))
	}
	return fmt.Sprintf("We looked at it for printing %.0f x %.0f mm large on a garment (%s).", a.WidthMM, a.HeightMM, Printable(rep.Job.Garment))
}

// replyTo words a group of findings, or nothing where the customer need not know.
func replyTo(rep *preflight.Report, g *Group) string {
	r := &replied{Group: g, rep: rep, worst: g.Worst[0]}
	w, known := wordings[g.Rule]
	switch {
	case !known:
		return r.worst.Message + r.where() + " " + r.worst.Remedy
	case w.wrong == nil:
		return ""
	}
	return w.wrong(r) + r.where() + " " + w.do(r)
}

// where says where to look, or nothing where it is the whole picture or design. A place is told by its upper left corner, as in the report.
func (r *replied) where() string {
	if r.Rule == "off-sheet" || r.Rule == "off-place" {
		return ""
	}
	var places []string
	for _, f := range r.Worst[:min(len(r.Worst), mostPlaces)] {
		if place(r.rep, f) == "" || r.rep.Artwork.PPIFrom == "assumed" {
			continue
		}
		at := fmt.Sprintf("%.0f mm"+fromLeft+" and %.0f mm from top", f.BoxMM.X, f.BoxMM.Y)
		if !slices.Contains(places, at) {
			places = append(places, at)
		}
	}
	switch {
	case len(places) == 0:
		return ""
	case r.Count > mostPlaces:
		return fmt.Sprintf(" The worst are: %s.", strings.Join(places, "; "))
	}
	return fmt.Sprintf(" To be found: %s.", strings.Join(places, "; "))
}

// hundredths writes millimetres to a hundredth, without zeros that say nothing.
func hundredths(mm float64) string {
	text := fmt.Sprintf("%.2f", mm)
	return strings.TrimSuffix(strings.TrimSuffix(text, "0"), ".0")
}
