package raster

// Facts are what the objects of a document's page say of themselves, however they are drawn. Places and lengths are in millimetres of the page
// at its own size, places from the top left corner of what shows of it, turned as it asks.
type Facts struct {
	WidthMM, HeightMM float64
	Texts             []FactText
	Strokes           []FactStroke
	Images            []FactImage
	Fonts             []FactFont
	Layers            []FactLayer
	Annotations       []FactAnnotation
	Overprints        []FactOverprint
	// Outside is what would be painted beyond the page's edge and nowhere on it.
	Outside []FactBox
	// OtherSizes counts the pages of the document that have another size than this one; Encrypted is set where the file is, and opens
	// without a password.
	OtherSizes int
	Encrypted  bool
	// Prepared is set where the file is a print file of our own.
	Prepared *FactPrepared
	// Incomplete says in plain words why not all of the page was looked at; empty if it was.
	Incomplete string
}

// PreparedKey and MirroredKey are the entries of our own in the document information (ISO 32000-1, 14.3.3) of print files: the process, as a
// text string, and whether the pages are mirrored already.
const (
	PreparedKey = "PeelcheckPreparedFor"
	MirroredKey = "PeelcheckMirrored"
)

// FactPrepared is what a print file of our own says of itself.
type FactPrepared struct {
	Process  string // its id
	Mirrored bool   // the pages are mirrored already
}

// FactBox is a place.
type FactBox struct{ X, Y, W, H float64 }

// FactText is text in a row, or several rows of one font and size.
type FactText struct {
	Box  FactBox
	Font int // index in Facts.Fonts
	Text string
	// Letters counts the letters and digits; those whose meaning the file does not say count too.
	Letters int
	// SizeMM is the font size as drawn; XHeightMM and StemMM are those of its letters, CapHeightMM that of its capitals, 0 if unknown.
	SizeMM, XHeightMM, CapHeightMM, StemMM float64
	TurnDeg                                float64 // how far the row is turned clockwise, -180 to 180
	Lower                                  bool    // it has small letters, or may have
	Mirrored                               bool    // its letters are drawn back to front
	Unseen                                 bool    // it is drawn as nothing: invisible, or only to clip
}

// FactStroke is a path that is stroked. Its width, as drawn, runs from LeastMM to MostMM by direction; 0 is the thinnest line that a device
// can draw (ISO 32000-1, 8.4.3.2).
type FactStroke struct {
	Box             FactBox
	LeastMM, MostMM float64
}

// FactImage is a picture where it is placed.
type FactImage struct {
	Name             string // of the resource; empty for an inline image
	Box              FactBox
	WidthPx          int
	HeightPx         int
	PPIX, PPIY       float64 // along its own rows and columns
	Mask             bool    // it has one bit a pixel and paints with the current colour
	Mirrored, Inline bool
	Flat             bool // it has fewer than DrawingPx pixels on a side, and no visible step between any two of them
}

// DrawingPx is from how many pixels on each side on a placed picture is a drawing, whatever is in it; one of fewer may be a flat area or a blend.
const DrawingPx = 16

// FactFont is a font that the page names.
type FactFont struct {
	Name     string // as the file has it, without the tag of a subset
	Kind     string // "Type 1", "TrueType", "CID Type 0", "CID TrueType", "Type 3" ...
	Embedded bool
	Subset   bool
}

// FactLayer is a layer (optional content group) that the page uses, or what shows by the state of several, with the place of all that is in it.
type FactLayer struct {
	Name           string // with Formula the condition under which it shows: `"sketch" is on and "lamp" is off`
	Formula        bool
	Prints, Screen bool // it shows in print, and on the screen
	Box            FactBox
	Painted        bool // something is in it
}

// FactAnnotation is a note, a stamp or a form field that shows, or says something. Its place may lie beyond the page if it says something.
type FactAnnotation struct {
	Kind           string // as the file has it: "Stamp", "FreeText", "Widget" ...
	Box            FactBox
	Text           string // what it says, in one line; of a form field only where it is bare
	Bare           bool   // it has no appearance of its own, so that programs draw it as they like, or not at all
	Prints, Screen bool
}

// FactOverprint is an object that leaves planes alone which it does not paint. Vanishes says that it paints none, so that nothing of it prints.
type FactOverprint struct {
	Box      FactBox
	Vanishes bool
}
