package preflight

import "slices"

// SchemaVersion is the version of the JSON report. Fields may be added under the same version; none is renamed or dropped.
const SchemaVersion = 1

// Report is everything said about one artwork, in the shape of the JSON report. Boxes are x, y, w, h from the top left.
type Report struct {
	SchemaVersion int         `json:"schema_version"`
	Tool          Tool        `json:"tool"`
	Artwork       ArtworkInfo `json:"artwork"`
	Job           JobInfo     `json:"job"`
	Verdict       Verdict     `json:"verdict"`
	Counts        Counts      `json:"counts"`
	// FailOn is the level at or above which the artwork fails a run of many, one of FailOnWords; empty where nobody asked.
	FailOn       string        `json:"fail_on,omitempty"`
	Planes       []PlaneInfo   `json:"planes"`
	WhiteRegions []WhiteRegion `json:"white_regions"`
	// WhiteRegionsTotal counts all regions; WhiteRegions lists the largest of them.
	WhiteRegionsTotal int        `json:"white_regions_total"`
	Background        Background `json:"background"`
	Placement         Placement  `json:"placement"`
	// Sizes are those that suit sheet, place, pixels and detail together; nil where nothing prints or no size does.
	Sizes        *SuitableSizes `json:"suitable_sizes,omitempty"`
	Mirror       Mirror         `json:"mirror"`
	Skipped      []Skipped      `json:"skipped"`
	Findings     []Finding      `json:"findings"`
	Instructions Ticket         `json:"instructions"`
}

// Tool names the program that judged.
type Tool struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// ArtworkInfo says what was judged and at which size. Notes are plain sentences about what was assumed while reading.
type ArtworkInfo struct {
	File         string   `json:"file"`
	SHA256       string   `json:"sha256"`
	Format       string   `json:"format"`
	Page         int      `json:"page"`
	PageCount    int      `json:"page_count"`
	WidthPx      int      `json:"width_px"`
	HeightPx     int      `json:"height_px"`
	PPIX         float64  `json:"ppi_x"`
	PPIY         float64  `json:"ppi_y"`
	PPIFrom      string   `json:"ppi_from"`
	WidthMM      float64  `json:"width_mm"`
	HeightMM     float64  `json:"height_mm"`
	PrintedBoxMM BoxMM    `json:"printed_box_mm"`
	Notes        []string `json:"notes,omitempty"`
}

// BoxMM is a rectangle in millimetres from the artwork's top left corner.
type BoxMM struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// BoxPx is a rectangle in pixels from the artwork's top left corner.
type BoxPx struct {
	X int `json:"x"`
	Y int `json:"y"`
	W int `json:"w"`
	H int `json:"h"`
}

// PointPx is a pixel, counted from the artwork's top left corner.
type PointPx struct {
	X int `json:"x"`
	Y int `json:"y"`
}

// JobInfo is the job as it was judged, with every limit and where it came from.
type JobInfo struct {
	Process      string           `json:"process"`
	ProcessTitle string           `json:"process_title,omitempty"` // what people call it
	WhiteDrawnAs string           `json:"white_drawn_as"`
	Sheet        SheetInfo        `json:"sheet"`
	Garment      string           `json:"garment"`
	Fabric       string           `json:"fabric"`
	Place        *PlaceInfo       `json:"place,omitempty"` // nil where none was named
	Limits       map[string]Limit `json:"limits"`
}

// SheetInfo is the transfer sheet: its full size and the margin the printer cannot reach.
type SheetInfo struct {
	Name     string  `json:"name"`
	WidthMM  float64 `json:"width_mm"`
	HeightMM float64 `json:"height_mm"`
	MarginMM float64 `json:"margin_mm"`
}

// PlaceInfo is the place on the garment that the artwork was judged for: the largest design it takes, and where it usually lies.
type PlaceInfo struct {
	Name     string  `json:"name"`
	WidthMM  float64 `json:"width_mm"`
	HeightMM float64 `json:"height_mm"`
	Where    string  `json:"where,omitempty"`
	Note     string  `json:"note,omitempty"`
	From     string  `json:"from"` // "built in", or the shop's file
}

// Limit is one number of the process with its unit ("mm", "share", "ppi") and where it came from.
type Limit struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	From  string  `json:"from"` // "built in", the shop's file, or the flag
}

// Verdict sums the findings up in a word.
type Verdict string

// The verdicts: nothing wrong, look before printing, do not print.
const (
	Ready  Verdict = "ready"
	Review Verdict = "review"
	Hold   Verdict = "hold"
)

// Counts is the number of findings at each level.
type Counts struct {
	Error   int `json:"error"`
	Warning int `json:"warning"`
	Note    int `json:"note"`
	// Accepted counts those that do not count: findings of a baseline or a waiver.
	Accepted int `json:"accepted,omitempty"`
	// Waived counts those of Accepted that a waiver holds.
	Waived int `json:"waived,omitempty"`
}

// Reach reports whether there is a finding at or above level, one of FailOnWords.
func (c Counts) Reach(level string) bool {
	switch level {
	case "error":
		return c.Error > 0
	case "warning":
		return c.Error+c.Warning > 0
	case "note":
		return c.Error+c.Warning+c.Note > 0
	}
	return false
}

// PlaneInfo is what one toner or ink lays down. EquivalentPages counts A4 pages printed at 5 % (the customary reading of
// a page behind declared yields; see ISO/IEC 19752 and 19798).
type PlaneInfo struct {
	Plane           Plane   `json:"plane"`
	AreaMM2         float64 `json:"area_mm2"`
	ShareOfArtwork  float64 `json:"share_of_artwork"`
	MeanStrength    float64 `json:"mean_strength"`
	EquivalentPages float64 `json:"equivalent_pages"`
}

// WhiteRegion is one connected piece of the white plane.
type WhiteRegion struct {
	ID           int     `json:"id"`
	BoxPx        BoxPx   `json:"box_px"`
	BoxMM        BoxMM   `json:"box_mm"`
	AreaMM2      float64 `json:"area_mm2"`
	MeanStrength float64 `json:"mean_strength"`
}

// Background says whether the picture has a flat background and what was done with it.
type Background struct {
	Found     bool    `json:"found"`
	Colour    string  `json:"colour,omitempty"` // "#rrggbb"
	AreaShare float64 `json:"area_share"`
	LeftOut   bool    `json:"left_out"` // the detail rules did not count it as printed
	Dropped   bool    `json:"dropped"`  // it was judged as if it had been taken out of the file
}

// Placement says how the printed box sits on the sheet's printable area.
type Placement struct {
	Fits           bool    `json:"fits"`
	TurnDeg        int     `json:"turn_deg"`
	CopiesPerSheet int     `json:"copies_per_sheet"`
	SheetShare     float64 `json:"sheet_share"` // of the printable area that one copy takes up
	SpareMM        SizeMM  `json:"spare_mm"`
	PrintableMM    SizeMM  `json:"printable_mm"`
	LargestScale   float64 `json:"largest_scale"`
	// FittingSizes are the largest sizes with room to trim, upright and turned, the larger first; none where it has that room as it is.
	FittingSizes []FitSize `json:"fitting_sizes,omitempty"`
	// LargerSheets are sheets of the process that hold it at full size, Tiled how it would span this one; for what does not fit.
	LargerSheets []string `json:"larger_sheets,omitempty"`
	Tiled        *Tiling  `json:"tiled,omitempty"`
	Notes        []string `json:"notes,omitempty"`
	// Settings are what to choose in the printer's settings, so that a page is neither turned nor shrunk without a word.
	Settings []string `json:"settings,omitempty"`
}

// FitSize is a size at which a design leaves room to trim when it lies one way round. All is rounded down.
type FitSize struct {
	TurnDeg   int     `json:"turn_deg"`      // 0 or 90
	Scale     float64 `json:"scale"`         // of the size it was judged at, at most 1
	DesignMM  SizeMM  `json:"design_mm"`     // what prints, before it is turned
	PictureMM SizeMM  `json:"picture_mm"`    // the whole picture, its empty edges included
	PPI       float64 `json:"ppi,omitempty"` // of the coarsest picture; 0 where nothing has pixels, or it is not known
}

// Tiling is a design that spans sheets: so many across and down of the design as drawn, each sheet turned by TurnDeg, neighbours sharing
// OverlapMM.
type Tiling struct {
	Columns   int     `json:"columns"`
	Rows      int     `json:"rows"`
	TurnDeg   int     `json:"turn_deg"`
	OverlapMM float64 `json:"overlap_mm"`
}

// SizeMM is a width and a height in millimetres.
type SizeMM struct {
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Mirror says which way round the artwork reads and whether the print must be mirrored.
type Mirror struct {
	Reads         string  `json:"reads"`      // one of the Reads constants
	Confidence    float64 `json:"confidence"` // that it reads so, 0 to 1; 0 where it is unknown
	Evidence      string  `json:"evidence"`   // in plain words, no period
	PrintMirrored bool    `json:"print_mirrored"`
}

// Skipped names a rule that could not look, and why.
type Skipped struct {
	Rule   string `json:"rule"`
	Reason string `json:"reason"`
	Title  string `json:"title,omitempty"` // what the rule looks for
}

// Finding is one place where one rule found its fault.
type Finding struct {
	ID      int    `json:"id"`
	Rule    string `json:"rule"`
	Level   Level  `json:"level"`
	Message string `json:"message"`
	Remedy  string `json:"remedy"`
	Plane   Plane  `json:"plane,omitempty"`
	BoxPx   BoxPx  `json:"box_px"`
	BoxMM   BoxMM  `json:"box_mm"`
	// PointPx is a pixel of what was found, since the middle of its box may be none; nil where the whole box is meant.
	PointPx     *PointPx `json:"point_px,omitempty"`
	Measure     Measure  `json:"measure"`
	LengthMM    float64  `json:"length_mm,omitempty"`
	AreaMM2     float64  `json:"area_mm2,omitempty"`
	Fingerprint string   `json:"fingerprint"`
	// Accepted is nil for a finding that counts.
	Accepted *Accepted `json:"accepted,omitempty"`
}

// Accepted says why a finding does not count for the verdict.
type Accepted struct {
	By     string `json:"by"` // one of the AcceptedBy constants
	Reason string `json:"reason"`
	Until  string `json:"until,omitempty"` // the last day on which it holds, as 2026-12-31
}

// What findings may be accepted by.
const (
	AcceptedByBaseline = "baseline"
	AcceptedByWaiver   = "waiver"
)

// Count counts the findings anew, and judges and advises a size by those that count.
func (r *Report) Count() {
	r.Counts, r.Verdict = sumUp(r.Findings)
	r.settleSizes()
}

// Reason is a rule that counts against printing, in so many places.
type Reason struct {
	Rule  string `json:"rule"`
	Count int    `json:"count"`
}

// Reasons counts the errors and then the warnings that are not accepted, rule by rule.
func Reasons(reports ...*Report) (list []Reason) {
	for _, level := range []Level{LevelError, LevelWarning} {
		for _, rep := range reports {
			for i := range rep.Findings {
				if f := &rep.Findings[i]; f.Level == level && f.Accepted == nil {
					list = withOne(list, f.Rule)
				}
			}
		}
	}
	return list
}

func withOne(list []Reason, rule string) []Reason {
	if i := slices.IndexFunc(list, func(r Reason) bool { return r.Rule == rule }); i >= 0 {
		list[i].Count++
		return list
	}
	return append(list, Reason{rule, 1})
}

// Measure is what was measured, against which limit, in which unit.
type Measure struct {
	Quantity string  `json:"quantity"`
	Value    float64 `json:"value"`
	Limit    float64 `json:"limit"`
	Unit     string  `json:"unit"`
}

// Ticket is how to print and press this artwork, in plain sentences, from the process's data.
type Ticket struct {
	Print    []string    `json:"print"`
	Press    []PressStep `json:"press"`
	Cautions []string    `json:"cautions"`
}
