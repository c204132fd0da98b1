package preflight

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"
	"strings"

	"peelcheck/raster"
)

// ToolName and Version name the program in its reports.
const (
	ToolName = "peelcheck"
	Version  = "0.1.0"
)

// fivePercentA4 is the toner of one standard page, in square millimetres of full strength: 5 % of an A4 page, the customary
// reading behind declared yields (ISO/IEC 19752 and 19798 define the tests).
const fivePercentA4 = 0.05 * 210 * 297

// Judge prepares an artwork and runs the rules over it. The same artwork, job and rules always give the same report. Errors
// say what is wrong with the job; what is wrong with the artwork is findings.
func Judge(art Artwork, job Job, rules []*Rule) (*Report, *Scene, error) {
	if err := Validate(rules); err != nil {
		return nil, nil, err
	}
	s, err := NewScene(art, job)
	if err != nil {
		return nil, nil, err
	}
	found, skipped, err := s.run(rules)
	if err != nil {
		return nil, nil, err
	}
	rep := &Report{
		SchemaVersion: SchemaVersion,
		Tool:          Tool{ToolName, Version},
		Artwork:       s.artworkInfo(),
		Job:           s.jobInfo(),
		Planes:        s.planes(),
		Background:    s.ground,
		Placement:     s.Placement(),
		Sizes:         s.suits(),
		Skipped:       skipped,
		Findings:      found,
	}
	rep.WhiteRegions, rep.WhiteRegionsTotal = s.WhiteRegions()
	rep.Count()
	rep.Mirror = s.Mirror()
	rep.Instructions, err = Instructions(job.Process, job.Fabric, job.Sheet, rep.Placement, rep.Mirror.PrintMirrored)
	if err != nil {
		return nil, nil, err
	}
	return rep, s, nil
}

// run calls every rule that has what it needs, in parallel, and returns the findings worst first: by level, then rule, then
// place. A rule that panics is an error, not the end of the program.
func (s *Scene) run(rules []*Rule) ([]Finding, []Skipped, error) {
	hits := make([][]Hit, len(rules))
	broken := make([]error, len(rules))
	lacking := make([]string, len(rules))
	tasks := []func(){func() { // the report asks for them, and hears of a panic too
		defer func() { _ = recover() }()
		s.Mirror()
	}, func() {
		defer func() { _ = recover() }()
		s.WhiteRegions()
	}}
	for i, r := range rules {
		if slices.Contains(r.Needs, NeedPlace) && s.Job.Place == nil {
			continue
		}
		if lacking[i] = s.lacks(r); lacking[i] != "" {
			continue
		}
		tasks = append(tasks, func() {
			defer func() {
				if fault := recover(); fault != nil {
					broken[i] = fmt.Errorf("internal error in rule %s: %v", r.ID, fault)
				}
			}()
			if slices.Contains(r.Needs, NeedLettering) && s.Mirror().Reads == ReadsUnknown {
				lacking[i] = "which way round the artwork reads is unknown: " + s.Mirror().Evidence
				return
			}
			hits[i] = r.Run(s, s.Limit(r.Limit.Name))
		})
	}
	// One at a time on each processor: all at once would hold all their masks at once.
	raster.Strips(len(tasks), 1, func(i, _ int) { tasks[i]() })
	if err := errors.Join(broken...); err != nil {
		return nil, nil, err
	}
	skipped := []Skipped{}
	for i, reason := range lacking {
		if reason != "" {
			skipped = append(skipped, Skipped{rules[i].ID, reason, rules[i].Title})
		}
	}
	return s.worstFirst(rules, hits), skipped, nil
}

// worstFirst turns what each rule hit into findings in their order.
func (s *Scene) worstFirst(rules []*Rule, hits [][]Hit) []Finding {
	type place struct {
		rank, rule, y, x int
		hit              *Hit
	}
	var order []place
	for i, r := range rules {
		order = slices.Grow(order, len(hits[i]))
		for k := range hits[i] {
			h := &hits[i][k]
			order = append(order, place{cmp.Or(h.Level, r.Level).Rank(), i, h.Where.Min.Y, h.Where.Min.X, h})
		}
	}
	slices.SortStableFunc(order, func(a, b place) int {
		return cmp.Or(b.rank-a.rank, a.rule-b.rule, a.y-b.y, a.x-b.x)
	})
	found := make([]Finding, len(order))
	raster.Bands(len(found), 1000, func(from, to int) {
		for i := from; i < to; i++ {
			found[i] = s.finding(rules[order[i].rule], order[i].hit)
			found[i].ID = i + 1
		}
	})
	return found
}

// lacks says why a rule cannot look, or nothing if it can.
func (s *Scene) lacks(r *Rule) string {
	for _, n := range r.Needs {
		if n == NeedSize && !s.SizeKnown {
			return "the printed size is not known; say --width, --height or --ppi"
		}
		if n == NeedFacts && s.Art.Format == "pdf" && s.Facts() == nil {
			return "the file is damaged inside, so only what it draws was looked at"
		}
		if limit := s.Job.Limits[r.Limit.Name]; n == NeedPixels && s.Px(limit.Value) < leastLimitPx {
			return fmt.Sprintf("the picture has only %.0f pixels an inch, too few to measure %.2f mm", s.PPI, limit.Value)
		}
	}
	return ""
}

// finding stamps a hit with its rule, so that it cannot contradict it.
func (s *Scene) finding(r *Rule, h *Hit) Finding {
	f := Finding{
		Rule: r.ID, Level: cmp.Or(h.Level, r.Level), Message: h.Message, Remedy: cmp.Or(h.Remedy, r.Remedy), Plane: h.Plane,
		BoxPx: boxPx(h.Where), BoxMM: s.BoxMM(h.Where),
		Measure:  Measure{Quantity: r.Limit.Quantity, Value: round3(h.Value), Limit: s.Limit(r.Limit.Name), Unit: cmp.Or(r.Limit.Unit, LimitUnits[r.Limit.Name])},
		LengthMM: round3(h.LengthMM), AreaMM2: round3(h.AreaMM2),
	}
	if h.At != (image.Point{}) {
		f.PointPx = &PointPx{h.At.X, h.At.Y}
	}
	f.Fingerprint = fingerprint(&f)
	return f
}

// fingerprint names a finding by what and about where it is, to the millimetre, not by its pixels.
func fingerprint(f *Finding) string {
	text := make([]byte, 0, 128)
	text = append(append(append(text, f.Rule...), '|'), f.Plane...)
	for _, mm := range [...]float64{f.BoxMM.X, f.BoxMM.Y, f.BoxMM.W, f.BoxMM.H} {
		text = strconv.AppendFloat(append(text, '|'), mm, 'f', 0, 64)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

func sumUp(found []Finding) (Counts, Verdict) {
	var c Counts
	for i := range found {
		switch f := &found[i]; {
		case f.Accepted != nil:
			c.Accepted++
			if f.Accepted.By == AcceptedByWaiver {
				c.Waived++
			}
		case f.Level == LevelError:
			c.Error++
		case f.Level == LevelWarning:
			c.Warning++
		default:
			c.Note++
		}
	}
	switch {
	case c.Error > 0:
		return c, Hold
	case c.Warning > 0:
		return c, Review
	}
	return c, Ready
}

func (s *Scene) artworkInfo() ArtworkInfo {
	return ArtworkInfo{
		File: s.Art.File, SHA256: s.Art.SHA256, Format: s.Art.Format, Page: s.Art.Page, PageCount: s.Art.PageCount,
		WidthPx: s.W, HeightPx: s.H, PPIX: round3(s.PPI), PPIY: round3(s.PPI), PPIFrom: s.PPIFrom,
		WidthMM: round3(s.MM(float64(s.W))), HeightMM: round3(s.MM(float64(s.H))), PrintedBoxMM: s.BoxMM(s.Printed), Notes: s.Notes,
	}
}

func (s *Scene) jobInfo() JobInfo {
	sh := s.Job.Sheet
	info := JobInfo{
		Process: s.Job.Process.ID, ProcessTitle: s.Job.Process.Title, WhiteDrawnAs: s.Job.WhiteDrawnAs, Garment: s.Job.Garment.Name, Fabric: s.Job.Fabric,
		Sheet:  SheetInfo{sh.Name, round3(sh.Width.MM()), round3(sh.Height.MM()), round3(sh.Margin.MM())},
		Limits: s.Job.Limits,
	}
	if p := s.Job.Place; p != nil {
		info.Place = &PlaceInfo{Name: p.Name, WidthMM: round3(p.Width.MM()), HeightMM: round3(p.Height.MM()), Where: p.Where, Note: p.Note, From: p.From}
	}
	return info
}

// planes reports what each plane of the process lays down.
func (s *Scene) planes() []PlaneInfo {
	var out []PlaneInfo
	for i, name := range AllPlanes {
		if !slices.Contains(s.Job.Process.Planes, name) {
			continue
		}
		area, sum := float64(s.survey.areaOf[i]), float64(s.survey.sumOf[i])/255
		if i == inkWhite && s.white != s.survey.printsWhite && area > 0 {
			choked := float64(s.white.Count())
			area, sum = choked, sum*choked/area
		}
		p := PlaneInfo{Plane: name, AreaMM2: round3(s.MM2(area)), ShareOfArtwork: round4(area / float64(s.W*s.H))}
		if area > 0 {
			p.MeanStrength = round3(min(1, sum/area))
		}
		p.EquivalentPages = round3(s.MM2(sum) / fivePercentA4)
		out = append(out, p)
	}
	return out
}

func round4(v float64) float64 { return math.Round(v*10000) / 10000 }

// placement lays the printed box on the sheet.
func (s *Scene) placement() Placement {
	box := s.BoxMM(s.Printed)
	design := SizeMM{box.W, box.H}
	p := Place(design, s.Job.Sheet, s.Limit("clearance"))
	s.fitJob(&p, design)
	return p
}

// Placement says how the printed box sits on the job's sheet.
func (s *Scene) Placement() Placement { return s.placed() }

// Validate rejects a list of rules with a value that is incomplete or named twice.
func Validate(rules []*Rule) error {
	seen := map[string]bool{}
	for _, r := range rules {
		switch {
		case r.ID == "" || strings.Trim(r.ID, "abcdefghijklmnopqrstuvwxyz-") != "":
			return fmt.Errorf("preflight: rule id %q is not words in kebab-case (bug)", r.ID)
		case seen[r.ID]:
			return fmt.Errorf("preflight: two rules named %q (bug)", r.ID)
		case r.Title == "" || len(r.Title) > 60 || strings.HasSuffix(r.Title, "."):
			return fmt.Errorf("preflight: rule %s: title %q is empty, over 60 letters or ends in a period (bug)", r.ID, r.Title)
		case r.Level.Rank() == 0 || r.Group == "" || r.Remedy == "" || r.Run == nil || len(r.Sources) == 0:
			return fmt.Errorf("preflight: rule %s lacks a level, group, remedy, source or run (bug)", r.ID)
		case r.Limit.Name != "" && LimitUnits[r.Limit.Name] == "":
			return fmt.Errorf("preflight: rule %s asks for the unknown limit %q (bug)", r.ID, r.Limit.Name)
		}
		if err := validateDoc(r); err != nil {
			return err
		}
		seen[r.ID] = true
	}
	return nil
}

func validateDoc(r *Rule) error {
	rest := r.Doc
	for _, h := range DocHeadings {
		_, after, ok := strings.Cut(rest, "## "+h+"\n")
		if !ok {
			return fmt.Errorf("preflight: rule %s: its doc lacks the heading %q, or has it out of order (bug)", r.ID, h)
		}
		rest = after
	}
	return nil
}
